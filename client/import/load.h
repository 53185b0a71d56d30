// From a file's bytes to tinygltf's model, checked so far that later code may index into it without asking.

#ifndef SCANTLING_CLIENT_IMPORT_LOAD_H_
#define SCANTLING_CLIENT_IMPORT_LOAD_H_

#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "client/import/schema.h"
#include "tiny_gltf.h"

namespace scantling::import {

struct LoadedGltf {
  tinygltf::Model model;
  Dropped dropped;
};

// A regular file's bytes, at most kMostGltfBytes. NOT_FOUND where it cannot be opened, INVALID_ARGUMENT otherwise.
absl::StatusOr<std::string> ReadFileBytes(const std::string& path);

// Loads bytes of a .gltf or .glb. folder: where its .bin files stand; none: no file may be read. Afterwards: every
// index of nodes, meshes, cameras, accessors, views and buffers is within range, every view within its buffer, every
// accessor within its view, component and element types known. INVALID_ARGUMENT with all faults of the step that fails.
absl::StatusOr<LoadedGltf> LoadGltf(std::string_view bytes, const std::optional<std::string>& folder);

// INVALID_ARGUMENT with one line per fault.
absl::Status FaultsStatus(const Notes& faults);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_LOAD_H_
