// What a refusal takes of a client's trailer.

#ifndef SCANTLING_TESTS_RPC_TRAILER_H_
#define SCANTLING_TESTS_RPC_TRAILER_H_

#include <cstddef>
#include <string>

#include "grpcpp/support/status.h"

namespace scantling {

// Bytes of trailing metadata that a client takes by default (gRPC, GRPC_ARG_MAX_METADATA_SIZE).
inline constexpr size_t kClientTakes = 8192;

// In base64 details are 4/3 of their size; of a message, what is not printable ASCII, and "%", is percent-encoded (gRPC
// over HTTP2, Status-Message); every entry counts 32 bytes besides its text (RFC 7541 section 4.1).
inline size_t TrailerBytes(const grpc::Status& status) {
  size_t bytes = (status.error_details().size() + 2) / 3 * 4;
  for (const char c : status.error_message()) bytes += c < 0x20 || c > 0x7e || c == '%' ? 3 : 1;
  for (const char* name : {"grpc-status", "grpc-message", "grpc-status-details-bin"}) {
    bytes += std::string(name).size() + 32;
  }
  return bytes + 2;  // the code
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_RPC_TRAILER_H_
