// The JSON part of a glTF file: where it lies in the bytes, and guards before any parser sees it.

#ifndef SCANTLING_CLIENT_IMPORT_JSON_H_
#define SCANTLING_CLIENT_IMPORT_JSON_H_

#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "nlohmann/json.hpp"

namespace scantling::import {

// Views into the file's bytes.
struct GltfParts {
  std::string_view json;
  std::string_view bin;  // the BIN chunk of a GLB; empty where there is none
  bool binary = false;   // the file is a GLB
};

// Splits a GLB by its magic; anything else is taken as JSON. INVALID_ARGUMENT for a broken or truncated GLB.
absl::StatusOr<GltfParts> SplitGltf(std::string_view bytes);

// Parses JSON of bounded size, nesting and number of values (import_gltf.h). INVALID_ARGUMENT with line and column.
// Strings of the result are valid UTF-8, numbers finite.
absl::StatusOr<nlohmann::json> ParseGuarded(std::string_view json);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_JSON_H_
