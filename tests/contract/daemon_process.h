// A real daemon for a test: started as a process, addressed over its socket or port, ended with the test.

#ifndef SCANTLING_TESTS_CONTRACT_DAEMON_PROCESS_H_
#define SCANTLING_TESTS_CONTRACT_DAEMON_PROCESS_H_

#include <sys/types.h>

#include <chrono>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "grpcpp/channel.h"
#include "grpcpp/support/channel_arguments.h"
#include "scantling/v1/shot_planner.grpc.pb.h"

namespace scantling::testing {

// A folder of the test's own, removed with everything in it.
class TemporaryFolder {
 public:
  TemporaryFolder();
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  const std::string& path() const { return path_; }

 private:
  std::string path_;
};

class DaemonProcess {
 public:
  // Starts scantlingd with the source tree's configuration, no drain pause, and `arguments` after that (the last of
  // equal flags wins). Does not wait.
  explicit DaemonProcess(const std::vector<std::string>& arguments);
  // SIGKILL where it still runs.
  ~DaemonProcess();
  DaemonProcess(const DaemonProcess&) = delete;
  DaemonProcess& operator=(const DaemonProcess&) = delete;

  // Waits for its announcement; empty where it ended before.
  const std::string& Address();

  std::shared_ptr<grpc::Channel> Channel();
  // A client that takes 64 KiB of a stream unread and no more.
  std::shared_ptr<grpc::Channel> NarrowChannel();
  std::unique_ptr<v1::ShotPlanner::Stub> Planner() { return v1::ShotPlanner::NewStub(Channel()); }

  void Signal(int number) const;
  // Exit code, or -number where a signal ended it; nullopt: it still runs after `patience`.
  std::optional<int> WaitForEnd(std::chrono::milliseconds patience = std::chrono::seconds(30));

  std::string Log() const;     // standard error so far
  std::string Output() const;  // standard output so far
  pid_t pid() const { return pid_; }

 private:
  std::shared_ptr<grpc::Channel> Connect(const grpc::ChannelArguments& further);
  std::string Read(const std::string& path) const;

  TemporaryFolder folder_;
  pid_t pid_ = -1;
  std::optional<int> end_;
  std::string address_;
};

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_CONTRACT_DAEMON_PROCESS_H_
