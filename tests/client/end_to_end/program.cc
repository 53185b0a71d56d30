// Idea: fork, put pipes (or the far side of a pseudo-terminal) in place of the streams, exec; then poll all of them, so
// that neither side waits for the other with a full pipe.
//
// A terminal's end is told by EIO instead of an end of file; both close the stream here.

#include "tests/client/end_to_end/program.h"

#include <dirent.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <iterator>

namespace scantling::client {
namespace {

constexpr int kLookEveryMs = 500;
constexpr std::chrono::seconds kPatience{60};  // many times what any step takes

struct Ends {
  int ours, theirs;
};

Ends MakePipe(bool we_read) {
  int ends[2];
  if (pipe2(ends, O_CLOEXEC) != 0) abort();
  return we_read ? Ends{ends[0], ends[1]} : Ends{ends[1], ends[0]};
}

Ends MakeTerminal() {
  int ours = -1, theirs = -1;
  termios plain = {};  // no echo, no change of line ends
  if (openpty(&ours, &theirs, nullptr, &plain, nullptr) != 0) abort();
  fcntl(ours, F_SETFD, FD_CLOEXEC);
  fcntl(theirs, F_SETFD, FD_CLOEXEC);
  return {ours, theirs};
}

// Reads once; closes the stream at its end.
void Gather(int& fd, std::string& text) {
  std::array<char, 65536> piece;
  const ssize_t got = read(fd, piece.data(), piece.size());
  if (got > 0) {
    text.append(piece.data(), static_cast<size_t>(got));
  } else if (got == 0 || errno != EINTR) {
    close(fd);
    fd = -1;
  }
}

}  // namespace

Program::Program(const std::vector<std::string>& arguments, const RunOptions& options) : input_(options.input) {
  const Ends in = MakePipe(false), out = MakePipe(true);
  const Ends err = options.terminal_for_err ? MakeTerminal() : MakePipe(true);
  std::vector<char*> words;
  for (const std::string& argument : arguments) words.push_back(const_cast<char*>(argument.c_str()));
  words.push_back(nullptr);
  pid_ = fork();
  if (pid_ == 0) {
    dup2(in.theirs, STDIN_FILENO);
    dup2(out.theirs, STDOUT_FILENO);
    dup2(err.theirs, STDERR_FILENO);
    execv(words[0], words.data());
    _exit(126);
  }
  for (const int fd : {in.theirs, out.theirs, err.theirs}) close(fd);
  in_ = in.ours;
  out_ = out.ours;
  err_ = err.ours;
  fcntl(in_, F_SETFL, O_NONBLOCK);
  signal(SIGPIPE, SIG_IGN);  // a program may end before it has read all
}

Program::~Program() {
  for (const int fd : {in_, out_, err_}) {
    if (fd >= 0) close(fd);
  }
  if (pid_ < 0) return;
  kill(pid_, SIGKILL);
  waitpid(pid_, nullptr, 0);
}

void Program::Exchange() {
  std::array<pollfd, 3> watched = {{{out_, POLLIN, 0}, {err_, POLLIN, 0}, {in_, static_cast<int16_t>(POLLOUT), 0}}};
  if (poll(watched.data(), watched.size(), kLookEveryMs) < 0) return;
  if (watched[0].revents != 0) Gather(out_, outcome_.out);
  if (watched[1].revents != 0) Gather(err_, outcome_.err);
  if (in_ < 0 || watched[2].revents == 0) return;
  const ssize_t put = write(in_, input_.data(), input_.size());
  if (put > 0) input_.erase(0, static_cast<size_t>(put));
  if (input_.empty() || (put < 0 && errno != EAGAIN && errno != EINTR)) {
    close(in_);
    in_ = -1;
  }
}

bool Program::AwaitOnErr(const std::string& text) {
  while (is_open() && outcome_.err.find(text) == std::string::npos) Exchange();
  return outcome_.err.find(text) != std::string::npos;
}

bool Program::AwaitOnOut(const std::string& text) {
  const auto give_up = std::chrono::steady_clock::now() + kPatience;
  while (is_open() && outcome_.out.find(text) == std::string::npos && std::chrono::steady_clock::now() < give_up) {
    Exchange();
  }
  return outcome_.out.find(text) != std::string::npos;
}

Outcome Program::Wait() {
  while (is_open()) Exchange();
  int status = 0;
  waitpid(pid_, &status, 0);
  pid_ = -1;
  outcome_.exit_code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  outcome_.signal = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
  return outcome_;
}

void Program::Signal(int number) const { kill(pid_, number); }

void EndToEnd::SetUp() {
  std::string pattern = "/tmp/scantling_test_XXXXXX";  // short: a socket's path has a hundred bytes
  ASSERT_NE(mkdtemp(pattern.data()), nullptr);
  folder_ = pattern;
  setenv("TMPDIR", folder_.c_str(), 1);
  setenv("XDG_RUNTIME_DIR", folder_.c_str(), 1);
}

void EndToEnd::TearDown() {
  std::error_code ignored;
  std::filesystem::remove_all(folder_, ignored);
}

Outcome EndToEnd::Scantling(std::vector<std::string> arguments, const RunOptions& options) const {
  arguments.insert(arguments.begin(), SCANTLING_PROGRAM);
  Program program(arguments, options);
  return program.Wait();
}

std::string EndToEnd::Sample(int objects, std::vector<std::string> further) const {
  std::vector<std::string> arguments = {"sample",   "--seed", "3", "--objects", std::to_string(objects),
                                        "--frames", "48"};
  arguments.insert(arguments.end(), further.begin(), further.end());
  const Outcome outcome = Scantling(arguments);
  EXPECT_EQ(outcome.exit_code, 0) << outcome.err;
  return outcome.out;
}

std::vector<pid_t> EndToEnd::Relatives() const {
  std::vector<pid_t> found;
  std::error_code ignored;
  for (const auto& entry : std::filesystem::directory_iterator("/proc", ignored)) {
    const std::string name = entry.path().filename();
    if (name.find_first_not_of("0123456789") != name.npos) continue;
    std::ifstream file(entry.path() / "cmdline", std::ios::binary);
    const std::string line((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>());
    if (line.find(folder_) != line.npos) found.push_back(std::stoi(name));
  }
  return found;
}

std::vector<std::string> EndToEnd::Leftovers() const {
  std::vector<std::string> names;
  std::error_code ignored;
  for (const auto& entry : std::filesystem::directory_iterator(folder_, ignored))
    names.push_back(entry.path().filename());
  return names;
}

}  // namespace scantling::client
