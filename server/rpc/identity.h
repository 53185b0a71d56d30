// Who calls.

#ifndef SCANTLING_SERVER_RPC_IDENTITY_H_
#define SCANTLING_SERVER_RPC_IDENTITY_H_

#include <string>

#include "grpcpp/server_context.h"

namespace scantling {

// The name of an authenticated peer; "local" for all others, who come by a socket file or loopback.
inline std::string IdentityOf(const grpc::ServerContextBase& context) {
  const auto auth = context.auth_context();
  if (auth == nullptr || !auth->IsPeerAuthenticated()) return "local";
  std::string name;
  for (const grpc::string_ref& part : auth->GetPeerIdentity()) name.append(part.data(), part.size());
  return name.empty() ? "local" : name;
}

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_IDENTITY_H_
