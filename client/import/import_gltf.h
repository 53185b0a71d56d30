// Import of a shot from glTF 2.0 (.gltf and .glb).
//
// Every node with a mesh becomes an object, every instance of EXT_mesh_gpu_instancing too; its box comes from the
// POSITION accessors, its track from hierarchy and animation sampled once a frame. Cameras become shot cameras.
// Class, asset, importance, inner box and hold group come from extras `scantling_class`, `scantling_asset`,
// `scantling_importance`, `scantling_inner_box` (0 to 1) and `scantling_hold_group`, or the same without `scantling_`,
// on the node, its mesh, or the nearest parent that has one.
// Source: The Khronos Group, glTF 2.0 Specification, 2021; EXT_mesh_gpu_instancing.

#ifndef SCANTLING_CLIENT_IMPORT_IMPORT_GLTF_H_
#define SCANTLING_CLIENT_IMPORT_IMPORT_GLTF_H_

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "scantling/v1/scene.pb.h"

namespace scantling {

struct GltfImportOptions {
  std::string shot_id = {};               // empty: the file's name without its ending; of bytes: "import"
  std::string sequence_id = {};           // may be empty
  std::string style = {};                 // may be empty
  std::vector<std::string> cameras = {};  // by name, each once; none: the first of the scene
  int first_frame = 1;                    // the frame at time 0 of the animation
  std::optional<int> last_frame = {};     // none: the frame that reaches the animation's last key
  int rate_numerator = 24;                // frames a second as a fraction, both above 0
  int rate_denominator = 1;
  int width_px = 2048;                          // delivered picture, 1 .. 65536
  int height_px = 0;                            // 0: from the first camera's aspect, or 858 where it has none
  std::string default_class = "prop";           // for objects whose class is absent or unknown
  std::vector<std::string> known_classes = {};  // none: every class named in the file is taken as known
  bool blocks = false;                          // packed columns; always above 20,000 objects or a million poses
};

struct GltfCamera {
  std::string name;  // of the node, else of the camera, else "camera_<node>"; made unique with "#2", ...
  bool perspective = true;
  bool animated = false;  // its place changes
};

struct GltfCounts {
  int nodes = 0, meshes = 0, primitives = 0, cameras = 0, animations = 0;  // in the file
  int objects = 0;                                                         // in the shot
  int instances = 0;                                                       // of them, by instancing
  int without_mesh = 0;    // nodes of the scene left out: no mesh and no camera
  int without_extent = 0;  // objects left out: no POSITION, or a box that is a line or a point, or scaled to nothing
};

struct GltfImport {
  v1::Shot shot;
  std::vector<GltfCamera> cameras;  // all of the scene, in order; not only the chosen
  GltfCounts counts;
  std::vector<std::string> warnings;
};

// Limits, so that a small hostile file cannot ask for much memory. Beyond them the file is refused by name.
inline constexpr int64_t kMostGltfBytes = int64_t{1} << 30;      // of a file, and of all its buffers together
inline constexpr int64_t kMostGltfJsonBytes = int64_t{1} << 27;  // of the JSON part
inline constexpr int kMostGltfJsonDepth = 64;                    // nesting of JSON
inline constexpr int64_t kMostGltfJsonValues = 8'000'000;        // values in the JSON
inline constexpr int kMostGltfNodeDepth = 1000;                  // nesting of nodes
inline constexpr int kMostGltfObjects = 1'000'000;               // with instances
inline constexpr int64_t kMostGltfPoses = 4'000'000;             // moving objects and cameras, times frames
inline constexpr int64_t kMostGltfKeyValues = 32'000'000;        // numbers in animation keys
inline constexpr int kMostGltfFrames = 100'000;

// Reads the file and the .bin files its buffers name. Those must lie in the file's own folder or below, as regular
// files; nothing else is read (no images, no links to the network). Errors: NOT_FOUND where the file cannot be opened;
// INVALID_ARGUMENT with one line per fault, each naming its place in the file, what was got and what was wanted.
// Never crashes on a hostile file. O(file + objects * frames) time and memory. Thread-safe.
absl::StatusOr<GltfImport> ImportGltf(const std::string& path, const GltfImportOptions& options);

// The same from bytes in memory; touches no disk, so a buffer in a file of its own is a fault.
absl::StatusOr<GltfImport> ImportGltfBytes(std::string_view bytes, const GltfImportOptions& options);

// The cameras of a file's scene, in order. Errors as ImportGltf.
absl::StatusOr<std::vector<GltfCamera>> ListGltfCameras(const std::string& path);

}  // namespace scantling

#endif  // SCANTLING_CLIENT_IMPORT_IMPORT_GLTF_H_
