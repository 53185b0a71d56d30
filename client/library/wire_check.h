// Checks the binary form of a message before protobuf reads it.
//
// Protobuf's own reader answers with yes or no, keeps what it does not know, and makes whatever it is told to make.
// This check tells where and what is wrong, refuses unknown fields (a file of another kind, or of a later version, must
// not be planned with half of it ignored) and refuses what would take too much memory.

#ifndef SCANTLING_CLIENT_LIBRARY_WIRE_CHECK_H_
#define SCANTLING_CLIENT_LIBRARY_WIRE_CHECK_H_

#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "google/protobuf/descriptor.h"

namespace scantling::client {

// INVALID_ARGUMENT "at byte 17, objects[0].id: ..." where `bytes` are no sound wire form of `message`: cut short, an
// unknown field, a field of another kind, a text that is no UTF-8. RESOURCE_EXHAUSTED where reading would take more
// than kMostShotMemoryBytes. The first fault only: after it nothing in a binary file has a known place. `message` must
// not contain itself. Linear; thread-safe.
absl::Status CheckWire(std::string_view bytes, const google::protobuf::Descriptor& message);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_WIRE_CHECK_H_
