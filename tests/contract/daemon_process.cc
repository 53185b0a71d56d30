// The daemon's two outputs go to files in a folder of the test's own: nothing blocks on a full pipe, and everything it
// said can be read at any time.

#include "tests/contract/daemon_process.h"

#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iterator>

#include "grpcpp/create_channel.h"
#include "grpcpp/security/credentials.h"
#include "tests/contract/wait_until.h"

namespace scantling::testing {
namespace {

constexpr char kAnnouncement[] = "scantlingd listening on ";

[[noreturn]] void Become(const std::vector<std::string>& words, const std::string& out, const std::string& err) {
  std::vector<char*> arguments;
  for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  dup2(open(out.c_str(), O_WRONLY | O_CREAT, 0600), STDOUT_FILENO);
  dup2(open(err.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600), STDERR_FILENO);
  // A test's own signal mask is not the daemon's business.
  sigset_t none;
  sigemptyset(&none);
  sigprocmask(SIG_SETMASK, &none, nullptr);
  execv(arguments[0], arguments.data());
  _exit(127);
}

}  // namespace

TemporaryFolder::TemporaryFolder() {
  std::string name = std::filesystem::temp_directory_path() / "scantling-test-XXXXXX";
  if (mkdtemp(name.data()) != nullptr) path_ = name;
}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;
  if (!path_.empty()) std::filesystem::remove_all(path_, ignored);
}

DaemonProcess::DaemonProcess(const std::vector<std::string>& arguments) {
  std::vector<std::string> words = {
      SCANTLINGD_PROGRAM,  "--config-dir", SCANTLING_SOURCE_DIR "/config", "--drain-pause-ms", "0",
      "--exit-with-parent"};  // a test that crashes leaves none behind
  words.insert(words.end(), arguments.begin(), arguments.end());
  const std::string out = folder_.path() + "/out";
  const std::string err = folder_.path() + "/err";
  pid_ = fork();
  if (pid_ == 0) Become(words, out, err);
}

DaemonProcess::~DaemonProcess() {
  if (end_) return;
  kill(pid_, SIGKILL);
  waitpid(pid_, nullptr, 0);
}

const std::string& DaemonProcess::Address() {
  WaitUntil(std::chrono::seconds(30), [this] {
    const std::string said = Output();
    const size_t begin = said.find(kAnnouncement);
    const size_t end = said.find('\n', begin);
    if (begin != std::string::npos && end != std::string::npos) {
      address_ = said.substr(begin + sizeof kAnnouncement - 1, end - begin - sizeof kAnnouncement + 1);
    }
    return !address_.empty() || WaitForEnd(std::chrono::milliseconds(0)).has_value();
  });
  return address_;
}

std::shared_ptr<grpc::Channel> DaemonProcess::Channel() { return Connect({}); }

std::shared_ptr<grpc::Channel> DaemonProcess::NarrowChannel() {
  grpc::ChannelArguments narrow;
  narrow.SetInt(GRPC_ARG_HTTP2_STREAM_LOOKAHEAD_BYTES, 65536);
  narrow.SetInt(GRPC_ARG_HTTP2_BDP_PROBE, 0);
  return Connect(narrow);
}

std::shared_ptr<grpc::Channel> DaemonProcess::Connect(const grpc::ChannelArguments& further) {
  grpc::ChannelArguments arguments = further;
  arguments.SetInt(GRPC_ARG_ENABLE_HTTP_PROXY, 0);
  arguments.SetMaxReceiveMessageSize(-1);
  arguments.SetMaxSendMessageSize(-1);
  // A connection of its own, however many a test opens to one address.
  arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
  return grpc::CreateCustomChannel(Address(), grpc::InsecureChannelCredentials(), arguments);
}

void DaemonProcess::Signal(int number) const { kill(pid_, number); }

std::optional<int> DaemonProcess::WaitForEnd(std::chrono::milliseconds patience) {
  WaitUntil(patience, [this] {
    int status = 0;
    if (!end_ && waitpid(pid_, &status, WNOHANG) == pid_) {
      end_ = WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
    }
    return end_.has_value();
  });
  return end_;
}

std::string DaemonProcess::Log() const { return Read(folder_.path() + "/err"); }

std::string DaemonProcess::Output() const { return Read(folder_.path() + "/out"); }

std::string DaemonProcess::Read(const std::string& path) const {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

}  // namespace scantling::testing
