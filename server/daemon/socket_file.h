// The file of a unix socket: its folder, its rights, and what a dead daemon left behind.

#ifndef SCANTLING_SERVER_DAEMON_SOCKET_FILE_H_
#define SCANTLING_SERVER_DAEMON_SOCKET_FILE_H_

#include <sys/types.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "server/daemon/address.h"

namespace scantling {

// Makes way for binding a socket and keeps the way free until destroyed: makes its folder (0700) where there is none,
// locks the folder against other daemons starting in it, removes a socket file nobody answers on, and lets files be
// made for this user alone. Bind while it lives. The creation mask belongs to the whole process: one at a time, before
// threads that make files.
class SocketPlace {
 public:
  // FAILED_PRECONDITION: somebody answers on it. INVALID_ARGUMENT: something that is no socket stands there, or the
  // default folder is not the user's alone. Other codes: what the system said.
  static absl::StatusOr<SocketPlace> Claim(const ListenAddress& address);

  SocketPlace(SocketPlace&& other) noexcept;
  SocketPlace& operator=(SocketPlace&&) = delete;
  ~SocketPlace();

 private:
  SocketPlace(int folder, mode_t mask) : folder_(folder), mask_(mask) {}

  int folder_;   // locked descriptor; -1: moved from
  mode_t mask_;  // what was in force before
};

// Whether anybody accepts connections on the socket file. UNAVAILABLE: nobody.
absl::Status AskSocket(const std::string& path);

}  // namespace scantling

#endif  // SCANTLING_SERVER_DAEMON_SOCKET_FILE_H_
