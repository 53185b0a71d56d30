// A status of gRPC as a message, with its details.

#ifndef SCANTLING_SERVER_RPC_LIVE_STATUS_H_
#define SCANTLING_SERVER_RPC_LIVE_STATUS_H_

#include "google/rpc/status.pb.h"
#include "grpcpp/support/status.h"

namespace scantling {

inline google::rpc::Status ToRpcStatus(const grpc::Status& status) {
  google::rpc::Status out;
  if (!out.ParseFromString(status.error_details())) out.Clear();
  out.set_code(status.error_code());
  if (out.message().empty()) out.set_message(status.error_message());
  return out;
}

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_LIVE_STATUS_H_
