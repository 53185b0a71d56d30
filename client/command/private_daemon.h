// A daemon of one's own for the length of one command.
//
// It listens on a socket in a fresh folder that only this user can enter, so nobody else's shot and nobody else's
// daemon can be met there. It ends with the command, however that ends: it is told to go with its parent, the kernel is
// asked to see to it, and the usual signals clean up after themselves.

#ifndef SCANTLING_CLIENT_COMMAND_PRIVATE_DAEMON_H_
#define SCANTLING_CLIENT_COMMAND_PRIVATE_DAEMON_H_

#include <sys/types.h>

#include <memory>
#include <string>

#include "absl/status/statusor.h"

namespace scantling::client {

struct PrivateDaemonOptions {
  std::string program;  // the daemon's path; empty: `scantlingd` beside this program, else in PATH
  std::string config;   // its configuration file; empty: its own default
};

// The daemon's program as PrivateDaemonOptions says; NOT_FOUND where there is none.
absl::StatusOr<std::string> FindDaemonProgram(const std::string& wanted);

// At most one at a time in a program, started before gRPC is used (it forks). Not thread-safe.
class PrivateDaemon {
 public:
  // Starts it and waits until its socket answers, at most some twenty seconds. UNAVAILABLE with the end of what the
  // daemon said where it does not come up.
  static absl::StatusOr<std::unique_ptr<PrivateDaemon>> Start(const PrivateDaemonOptions& options);

  // Ends the daemon, waits for it, removes the folder.
  ~PrivateDaemon();
  PrivateDaemon(const PrivateDaemon&) = delete;
  PrivateDaemon& operator=(const PrivateDaemon&) = delete;

  std::string address() const;  // "unix:PATH"
  const std::string& program() const { return program_; }

 private:
  PrivateDaemon() = default;
  absl::Status Launch(const PrivateDaemonOptions& options);
  absl::Status AwaitSocket();
  std::string LastWords() const;

  std::string program_;
  std::string folder_;
  std::string socket_;
  std::string log_;
  pid_t pid_ = -1;
};

// Whether something accepts connections on this unix socket.
bool SocketAnswers(const std::string& path);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_PRIVATE_DAEMON_H_
