// What was wrong, in full, carried on an absl::Status.
//
// A status holds one sentence; faults come in numbers. Both what the daemon refuses and what this library refuses on
// its own carry the same two payloads, so that a caller reads them in one way:
//   google.rpc.BadRequest  every fault with the path of its field
//   google.rpc.ErrorInfo   a reason a program can switch on (see shot_planner.proto) and figures in its metadata
// All functions are pure and thread-safe.

#ifndef SCANTLING_CLIENT_LIBRARY_FAULTS_H_
#define SCANTLING_CLIENT_LIBRARY_FAULTS_H_

#include <optional>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "google/rpc/error_details.pb.h"
#include "grpcpp/support/status.h"

namespace scantling::client {

// `status` with the faults attached; they may be none. `status` must not be OK.
absl::Status WithFaults(absl::Status status, const google::rpc::BadRequest& faults);

// The faults a status carries; none where it carries none or they cannot be parsed.
google::rpc::BadRequest FaultsOf(const absl::Status& status);

// The machine-readable reason a status carries.
std::optional<google::rpc::ErrorInfo> ErrorInfoOf(const absl::Status& status);

// A gRPC status as an absl one: same code, same message, its details as payloads. OK becomes OK. Details that are no
// google.rpc.Status are left out: the message still says what happened.
absl::Status StatusFromGrpc(const grpc::Status& status);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_FAULTS_H_
