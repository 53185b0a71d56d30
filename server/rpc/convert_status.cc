// Faults on their way out: grpc::Status with google.rpc details.
//
// The details travel in trailing metadata (grpc-status-details-bin), where a client takes 8 KiB in all by default and a
// larger answer arrives as an error of transport without any detail. Base64 makes 4 bytes of 3, so 5600 bytes of
// details become 7467 and leave some 700 for the message and the rest of the trailer; a message in letters other than
// ASCII's travels three times as long and leaves the details less. Violations are listed in the order found until they
// no longer fit.
//
// Source: gRPC, "Richer error model" (google.rpc.Status in grpc-status-details-bin) and "gRPC over HTTP2"
// (Status-Message is percent-encoded); AIP-193, Errors; RFC 7541 section 4.1 (32 bytes an entry).

#include <algorithm>
#include <string>

#include "absl/strings/str_cat.h"
#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "server/rpc/convert.h"

namespace scantling {
namespace {

constexpr size_t kMessageBytes = 300;   // of the message, sent twice: as the trailer's and within the details
constexpr size_t kReservedBytes = 600;  // of the details: the message again, ErrorInfo, type names
constexpr size_t kTrailerBytes = 8192;  // that a client takes
// Of them: three entries' names (grpc-status, grpc-message, grpc-status-details-bin: 46), the code's two digits, 32 for
// every entry, and the padding of base64.
constexpr size_t kEntryBytes = 46 + 2 + 3 * 32 + 4;

// As many as fit; every entry carries at most four bytes of tag and eight of length besides its text.
google::rpc::BadRequest BadRequestOf(const Violations& violations, size_t most_bytes) {
  google::rpc::BadRequest request;
  size_t bytes = 0;
  for (const Violation& violation : violations.listed()) {
    bytes += violation.field.size() + violation.description.size() + 12;
    if (bytes > most_bytes) break;
    google::rpc::BadRequest::FieldViolation& out = *request.add_field_violations();
    out.set_field(violation.field);
    out.set_description(violation.description);
  }
  return request;
}

std::string MessageOf(const Violations& violations, int listed) {
  if (violations.empty()) return "the request is invalid";
  const Violation& first = violations.listed().front();
  const size_t count = violations.count();
  const std::string tail =
      count == 1 ? std::string() : absl::StrCat(" (the first of ", count, " faults; ", listed, " listed)");
  return Shortened(absl::StrCat(first.field, ": ", first.description), kMessageBytes - tail.size()) + tail;
}

}  // namespace

std::string Shortened(const std::string& text, size_t most_bytes) {
  if (text.size() <= most_bytes) return text;
  size_t end = most_bytes - 3;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0u) == 0x80u) --end;
  return text.substr(0, end) + "...";
}

size_t DetailRoom(std::string_view message) {
  size_t encoded = 0;
  for (const char c : message) encoded += c >= 0x20 && c <= 0x7e && c != '%' ? 1 : 3;
  const size_t taken = kEntryBytes + encoded;
  return taken >= kTrailerBytes ? 0 : std::min(kDetailBytes, (kTrailerBytes - taken) * 3 / 4);
}

grpc::Status InvalidArgument(const Violations& violations, std::string_view reason) {
  // The number of those listed stands in the message: here the largest, for its length.
  const size_t room = DetailRoom(MessageOf(violations, static_cast<int>(violations.listed().size())));
  const google::rpc::BadRequest request = BadRequestOf(violations, room - std::min(room, kReservedBytes));
  google::rpc::ErrorInfo info;
  info.set_reason(std::string(reason));
  info.set_domain("scantling.v1");
  (*info.mutable_metadata())["violations"] = absl::StrCat(violations.count());
  (*info.mutable_metadata())["listed"] = absl::StrCat(request.field_violations_size());
  google::rpc::Status status;
  status.set_code(grpc::StatusCode::INVALID_ARGUMENT);
  status.set_message(MessageOf(violations, request.field_violations_size()));
  status.add_details()->PackFrom(info);
  status.add_details()->PackFrom(request);
  return {grpc::StatusCode::INVALID_ARGUMENT, status.message(), status.SerializeAsString()};
}

grpc::Status ToGrpc(const absl::Status& status) {
  if (status.ok()) return grpc::Status::OK;
  return {static_cast<grpc::StatusCode>(status.code()), std::string(status.message())};
}

}  // namespace scantling
