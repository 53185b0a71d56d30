// How a command finds its daemon: the flags, and the session that comes of them.

#ifndef SCANTLING_CLIENT_COMMAND_CONNECTION_H_
#define SCANTLING_CLIENT_COMMAND_CONNECTION_H_

#include <memory>
#include <string>

#include "CLI/CLI.hpp"
#include "absl/status/statusor.h"
#include "client/command/private_daemon.h"
#include "client/library/planner_client.h"

namespace scantling::client {

struct ConnectionFlags {
  std::string address;        // "unix:PATH" or "HOST:PORT"; empty: the default socket, else a private daemon
  std::string daemon;         // program of a private daemon; empty: looked for
  std::string daemon_config;  // configuration of a private daemon
  double time_limit_s = 0;    // for one call; 0: none
};

// Adds --address, --daemon, --daemon-config and --time-limit. `flags` must outlive the app's parsing.
void AddConnectionFlags(CLI::App& app, ConnectionFlags& flags);

// Where a daemon of this user listens unless told otherwise, "unix:PATH". The daemon follows the same rule.
std::string DefaultAddress();

// What is wrong with an address; empty: nothing.
std::string AddressFault(const std::string& address);

// A client, and the private daemon behind it if there is one. The daemon ends with the session.
class Session {
 public:
  // Connects as the flags say. Says on standard error when it starts a private daemon.
  static absl::StatusOr<std::unique_ptr<Session>> Open(const ConnectionFlags& flags);

  PlannerClient& client() { return client_; }
  const std::string& address() const { return address_; }
  // Whether the daemon is a private one, which nobody starts again.
  bool is_private() const { return daemon_ != nullptr; }

 private:
  std::unique_ptr<PrivateDaemon> daemon_;  // before the client: it must end after it
  PlannerClient client_;
  std::string address_;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_CONNECTION_H_
