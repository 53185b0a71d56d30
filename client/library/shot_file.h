// A shot in a file: the JSON or binary form of scantling.v1.Shot.
//
// A newcomer starts at ReadShot. All functions are thread-safe; nothing is kept.

#ifndef SCANTLING_CLIENT_LIBRARY_SHOT_FILE_H_
#define SCANTLING_CLIENT_LIBRARY_SHOT_FILE_H_

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::client {

enum class ShotForm { kJson, kBinary };

// Largest files that are read. JSON is for small shots: 100,000 objects are some 20 to 60 MB and take seconds.
inline constexpr int64_t kMostJsonBytes = int64_t{512} << 20;
inline constexpr int64_t kMostBinaryBytes = int64_t{1} << 30;

// The form that a file's name tells: .json is JSON; .pb, .bin and .binpb are binary; nothing for other names.
std::optional<ShotForm> FormByName(std::string_view name);

// The form of a shot file: by its name, else by its content: JSON where the first character that is no blank is "{", or
// there is none. (The binary form cannot begin so: "{" would be a field number 15.)
ShotForm FormOf(std::string_view name, std::string_view content);

// The shot in `content`. `name` is what faults call it. INVALID_ARGUMENT with every fault that could be found, each
// with "name:line:column" (JSON) or "name, byte N" (binary) in its field; RESOURCE_EXHAUSTED above the size limits. An
// empty content is refused: it would be a shot of nothing. Whether the shot makes sense is the daemon's to say.
absl::StatusOr<v1::Shot> ParseShot(std::string_view content, ShotForm form, std::string_view name);

// All bytes of the file of that name; "-": of standard input. NOT_FOUND and PERMISSION_DENIED as they say;
// RESOURCE_EXHAUSTED above kMostBinaryBytes; INVALID_ARGUMENT for whatever else keeps it from being read.
absl::StatusOr<std::string> ReadContent(const std::string& name);

// The shot in the file of that name; "-": in standard input. Errors as ReadContent and ParseShot.
absl::StatusOr<v1::Shot> ReadShot(const std::string& name);

// The shot as text: JSON with the field names of the proto file, indented; or the binary form (the same bytes for the
// same shot). INVALID_ARGUMENT where it has no such form.
absl::StatusOr<std::string> SerializeShot(const v1::Shot& shot, ShotForm form);

// Writes all of `content` to a file, or to standard output where the name is "-". The file appears whole or not at all:
// it is written beside its place and moved there.
absl::Status WriteContent(std::string_view content, const std::string& name);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_SHOT_FILE_H_
