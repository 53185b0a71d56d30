// The gRPC server: services, health, reflection, limits, and an end in good order.

#ifndef SCANTLING_SERVER_DAEMON_SERVER_H_
#define SCANTLING_SERVER_DAEMON_SERVER_H_

#include <chrono>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "grpcpp/server.h"
#include "server/daemon/address.h"

namespace scantling {

struct NamedService {
  std::string name;        // as health checks ask for it: "package.Service"
  grpc::Service* service;  // must outlive the server
};

struct TransportSettings {
  int32_t max_message_bytes = 256 * 1024 * 1024;  // largest message taken or sent
  // A connection on which nothing came for so long is asked for a sign of life, and given up where none comes within
  // half that time: clients that vanish hold nothing for ever.
  std::chrono::seconds ping_after{20};
};

class RunningServer {
 public:
  // Binds and starts serving. All services, and "", answer SERVING. Errors: those of SocketPlace::Claim; UNAVAILABLE:
  // the address could not be bound. A socket made has mode 0600.
  static absl::StatusOr<std::unique_ptr<RunningServer>> Start(const ListenAddress& address,
                                                              const std::vector<NamedService>& services,
                                                              const TransportSettings& transport);
  // Where it listens in truth: port 0 replaced by the real one.
  const std::string& address() const { return address_; }

  // Health answers NOT_SERVING from now on; calls are still taken.
  void StopServing();

  // Takes no new calls, waits until running ones have ended, cancels what runs after `patience`. Returns when all have
  // ended. Once. gRPC removes the socket file.
  void Shutdown(std::chrono::milliseconds patience);

 private:
  RunningServer() = default;

  std::string address_;
  std::unique_ptr<grpc::Server> server_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_DAEMON_SERVER_H_
