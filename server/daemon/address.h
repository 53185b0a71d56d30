// Where the daemon listens, and what may be listened on without TLS.

#ifndef SCANTLING_SERVER_DAEMON_ADDRESS_H_
#define SCANTLING_SERVER_DAEMON_ADDRESS_H_

#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

namespace scantling {

struct ListenAddress {
  std::string text;         // as gRPC takes it: "unix:PATH", "HOST:PORT", "[IPv6]:PORT"
  std::string socket_path;  // of a unix socket; empty: TCP
  bool own_folder = false;  // its folder must be the user's alone: the default below /tmp, where anybody may make one

  bool is_socket() const { return !socket_path.empty(); }
};

// $XDG_RUNTIME_DIR/scantlingd.sock, or /tmp/scantling-UID/scantlingd.sock where that is not set.
std::string DefaultSocketPath();

// `text` as in DaemonConfig::listen; empty: the default socket. INVALID_ARGUMENT: no address, or one that is neither a
// socket nor loopback. A host name counts as loopback only if all its addresses do.
absl::StatusOr<ListenAddress> ResolveListen(std::string_view text);

}  // namespace scantling

#endif  // SCANTLING_SERVER_DAEMON_ADDRESS_H_
