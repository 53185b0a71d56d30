// Idea: fork and exec, with the daemon's own words going to a file in the folder, so that standard output stays the
// command's and a start that fails can still be explained.
//
// Three things end the daemon, because each alone has a hole: the destructor (not run when killed), a handler for the
// usual signals (not run on SIGKILL), and the parent-death signal set between fork and exec, backed by the daemon's
// --exit-with-parent. After SIGKILL the folder with its socket and log stays behind; nothing listens there.
//
// Between fork and exec only async-signal-safe calls are made: other threads may hold locks.

#include "client/command/private_daemon.h"

#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <fstream>
#include <iterator>
#include <thread>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr std::chrono::seconds kStartPatience{20};
constexpr std::chrono::milliseconds kPollEvery{5};
constexpr char kProgramName[] = "scantlingd";
// Of the daemon's words, what is repeated when it does not come up.
constexpr size_t kMostLastWords = 4000;

// What the signal handler cleans up. Plain characters: a handler may not touch std::string.
struct Remains {
  volatile pid_t pid = -1;
  char socket[sizeof(sockaddr_un::sun_path)] = {};
  char log[128] = {};
  char folder[128] = {};
};
Remains remains;

constexpr std::array kEndingSignals = {SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGPIPE};

extern "C" void CleanUpAndDie(int signal_number) {
  if (remains.pid > 0) {
    kill(remains.pid, SIGKILL);
    unlink(remains.socket);
    unlink(remains.log);
    rmdir(remains.folder);
  }
  signal(signal_number, SIG_DFL);
  raise(signal_number);
}

void HandleEndingSignals(bool on) {
  for (const int number : kEndingSignals) {
    struct sigaction current = {};
    sigaction(number, nullptr, &current);
    if (current.sa_handler == SIG_IGN) continue;  // as nohup wants it
    struct sigaction wanted = {};
    wanted.sa_handler = on ? CleanUpAndDie : SIG_DFL;
    sigaction(number, &wanted, nullptr);
  }
}

bool IsProgram(const std::string& path) {
  struct stat about = {};
  return stat(path.c_str(), &about) == 0 && S_ISREG(about.st_mode) && access(path.c_str(), X_OK) == 0;
}

std::string OwnFolder() {
  char path[4096];
  const ssize_t length = readlink("/proc/self/exe", path, sizeof path);
  if (length <= 0 || length >= static_cast<ssize_t>(sizeof path)) return "";
  const std::string own(path, static_cast<size_t>(length));
  return own.substr(0, own.rfind('/'));
}

[[noreturn]] void BecomeDaemon(char* const* arguments, int log, pid_t parent) {
  prctl(PR_SET_PDEATHSIG, SIGTERM);
  if (getppid() != parent) _exit(127);  // it died before the line above
  setpgid(0, 0);                        // Ctrl-C at the terminal goes to the command, which then ends the daemon
  const int nothing = open("/dev/null", O_RDONLY);
  dup2(nothing, STDIN_FILENO);
  dup2(log, STDOUT_FILENO);
  dup2(log, STDERR_FILENO);
  execv(arguments[0], arguments);
  _exit(127);
}

bool HasEnded(pid_t pid) { return waitpid(pid, nullptr, WNOHANG) != 0; }

}  // namespace

bool SocketAnswers(const std::string& path) {
  sockaddr_un address = {};
  address.sun_family = AF_UNIX;
  if (path.size() >= sizeof address.sun_path) return false;
  std::memcpy(address.sun_path, path.c_str(), path.size() + 1);
  const int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  if (fd < 0) return false;
  const bool answers = connect(fd, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0;
  close(fd);
  return answers;
}

absl::StatusOr<std::string> FindDaemonProgram(const std::string& wanted) {
  if (!wanted.empty()) {
    if (IsProgram(wanted)) return wanted;
    return absl::NotFoundError(absl::StrCat("got no program at ", Printable(wanted), ", want the daemon"));
  }
  if (const std::string beside = absl::StrCat(OwnFolder(), "/", kProgramName); IsProgram(beside)) return beside;
  const char* path = std::getenv("PATH");
  for (const absl::string_view folder : absl::StrSplit(path == nullptr ? "" : path, ':', absl::SkipEmpty())) {
    if (const std::string found = absl::StrCat(folder, "/", kProgramName); IsProgram(found)) return found;
  }
  return absl::NotFoundError(
      absl::StrCat("got no ", kProgramName, " beside this program or in PATH, want one there or in --daemon"));
}

absl::StatusOr<std::unique_ptr<PrivateDaemon>> PrivateDaemon::Start(const PrivateDaemonOptions& options) {
  std::unique_ptr<PrivateDaemon> daemon(new PrivateDaemon());
  if (absl::Status status = daemon->Launch(options); !status.ok()) return status;
  if (absl::Status status = daemon->AwaitSocket(); !status.ok()) return status;
  return daemon;
}

absl::Status PrivateDaemon::Launch(const PrivateDaemonOptions& options) {
  const absl::StatusOr<std::string> program = FindDaemonProgram(options.program);
  if (!program.ok()) return absl::UnavailableError(program.status().message());
  program_ = *program;
  const char* temporary = std::getenv("TMPDIR");
  std::string folder =
      absl::StrCat(temporary == nullptr || *temporary == '\0' ? "/tmp" : temporary, "/scantling-XXXXXX");
  // A socket's path has some hundred bytes at most; a long TMPDIR would not leave room for it.
  if (folder.size() + sizeof "/scantlingd.sock" > sizeof(sockaddr_un::sun_path)) folder = "/tmp/scantling-XXXXXX";
  if (mkdtemp(folder.data()) == nullptr) {
    return absl::UnavailableError(absl::StrCat("cannot make a folder for a private daemon: ", std::strerror(errno)));
  }
  folder_ = folder;
  socket_ = folder_ + "/scantlingd.sock";
  log_ = folder_ + "/log";
  const int log = open(log_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_APPEND, 0600);
  if (log < 0) return absl::UnavailableError(absl::StrCat("cannot write ", log_, ": ", std::strerror(errno)));
  std::vector<std::string> words = {program_, "--listen", address(), "--exit-with-parent"};
  if (!options.config.empty()) words.insert(words.end(), {"--config", options.config});
  std::vector<char*> arguments;
  for (std::string& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  const pid_t parent = getpid();
  pid_ = fork();
  if (pid_ == 0) BecomeDaemon(arguments.data(), log, parent);
  close(log);
  if (pid_ < 0) return absl::UnavailableError(absl::StrCat("cannot start a daemon: ", std::strerror(errno)));
  std::strncpy(remains.socket, socket_.c_str(), sizeof remains.socket - 1);
  std::strncpy(remains.log, log_.c_str(), sizeof remains.log - 1);
  std::strncpy(remains.folder, folder_.c_str(), sizeof remains.folder - 1);
  remains.pid = pid_;
  HandleEndingSignals(true);
  return absl::OkStatus();
}

absl::Status PrivateDaemon::AwaitSocket() {
  const auto give_up = std::chrono::steady_clock::now() + kStartPatience;
  while (std::chrono::steady_clock::now() < give_up) {
    if (SocketAnswers(socket_)) return absl::OkStatus();
    if (HasEnded(pid_)) {
      pid_ = -1;
      return absl::UnavailableError(
          absl::StrCat("the private daemon ", program_, " did not start; it said: ", LastWords()));
    }
    std::this_thread::sleep_for(kPollEvery);
  }
  return absl::UnavailableError(
      absl::StrCat("the private daemon ", program_, " does not answer; it said: ", LastWords()));
}

std::string PrivateDaemon::LastWords() const {
  std::ifstream file(log_, std::ios::binary);
  std::string words((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>());
  if (words.size() > kMostLastWords) words.erase(0, words.size() - kMostLastWords);
  while (!words.empty() && words.back() == '\n') words.pop_back();
  return words.empty() ? "nothing" : words;
}

std::string PrivateDaemon::address() const { return "unix:" + socket_; }

PrivateDaemon::~PrivateDaemon() {
  remains.pid = -1;
  if (pid_ > 0) {
    kill(pid_, SIGKILL);  // it holds nothing that outlives it, and a drain would keep the reader waiting
    waitpid(pid_, nullptr, 0);
    HandleEndingSignals(false);
  }
  if (!socket_.empty()) unlink(socket_.c_str());
  if (!log_.empty()) unlink(log_.c_str());
  if (!folder_.empty()) rmdir(folder_.c_str());
}

}  // namespace scantling::client
