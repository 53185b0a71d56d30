// Idea: gRPC carries rich errors as a serialised google.rpc.Status whose details are Any messages; absl::Status carries
// payloads by type URL. The two are the same thing in different clothes, so details become payloads one to one.
//
// Source: google.rpc.Status and the gRPC "richer error model".

#include "client/library/faults.h"

#include "absl/strings/cord.h"
#include "absl/strings/string_view.h"
#include "google/rpc/status.pb.h"

namespace scantling::client {
namespace {

constexpr char kBadRequestUrl[] = "type.googleapis.com/google.rpc.BadRequest";
constexpr char kErrorInfoUrl[] = "type.googleapis.com/google.rpc.ErrorInfo";

template <typename Message>
std::optional<Message> PayloadOf(const absl::Status& status, absl::string_view url) {
  const absl::optional<absl::Cord> payload = status.GetPayload(url);
  Message message;
  if (!payload || !message.ParseFromString(std::string(*payload))) return std::nullopt;
  return message;
}

}  // namespace

absl::Status WithFaults(absl::Status status, const google::rpc::BadRequest& faults) {
  status.SetPayload(kBadRequestUrl, absl::Cord(faults.SerializeAsString()));
  return status;
}

google::rpc::BadRequest FaultsOf(const absl::Status& status) {
  return PayloadOf<google::rpc::BadRequest>(status, kBadRequestUrl).value_or(google::rpc::BadRequest());
}

std::optional<google::rpc::ErrorInfo> ErrorInfoOf(const absl::Status& status) {
  return PayloadOf<google::rpc::ErrorInfo>(status, kErrorInfoUrl);
}

absl::Status StatusFromGrpc(const grpc::Status& status) {
  if (status.ok()) return absl::OkStatus();
  absl::Status out(static_cast<absl::StatusCode>(status.error_code()), status.error_message());
  google::rpc::Status details;
  if (!details.ParseFromString(status.error_details())) return out;
  for (const auto& detail : details.details()) out.SetPayload(detail.type_url(), absl::Cord(detail.value()));
  return out;
}

}  // namespace scantling::client
