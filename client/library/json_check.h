// Checks the JSON form of a message before protobuf reads it: every fault at once, each with line, column and field.
//
// Protobuf's own JSON reader stops at the first fault, tells no line, takes trailing commas, repeated keys and an
// object where a list is wanted. This check is strict (RFC 8259) where that is lenient. What it passes, protobuf may
// still refuse for a value (a number out of range, a text that is no base64); that refusal names its field.

#ifndef SCANTLING_CLIENT_LIBRARY_JSON_CHECK_H_
#define SCANTLING_CLIENT_LIBRARY_JSON_CHECK_H_

#include <string>
#include <string_view>
#include <vector>

#include "google/protobuf/descriptor.h"

namespace scantling::client {

struct JsonFault {
  int line = 1;             // from 1
  int column = 1;           // from 1, in characters
  std::string field;        // "objects[3].box.min_m.x"; empty: the whole text
  std::string description;  // "got a list, want a number"
};

// The most faults that are kept; checking ends there.
inline constexpr size_t kMostJsonFaults = 100;

// Faults of `text` as the JSON form of `message`; none where it is sound. Field names may be spelt as in the proto file
// or in lowerCamelCase, each once. Linear in the text; memory bounded by kMostJsonFaults and the depth of the message.
// A text that would take more than kMostShotMemoryBytes once read is one fault. Thread-safe.
std::vector<JsonFault> CheckJson(std::string_view text, const google::protobuf::Descriptor& message);

// Where the value of `field` (a path as above) begins; false where the text has no such field.
struct JsonPlace {
  int line = 1;
  int column = 1;
};
bool FindInJson(std::string_view text, const google::protobuf::Descriptor& message, std::string_view field,
                JsonPlace& place);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_JSON_CHECK_H_
