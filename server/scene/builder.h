// Builds a Scene out of rows and blocks, and finds every fault on the way.
//
// Call order: one constructor, then AddRow and AddBlock in any mixture, then Finish once. Faults go to the Violations
// given at construction, with field paths in the caller's terms; a faulty object keeps its row and id (without
// geometry), so that one fault does not cause others. The scene is usable only if no violation was recorded.
//
// What is refused, and where the lines are drawn:
//   names        ids, classes: 1 to 1024 bytes; assets, containers: 0 to 1024; UTF-8 without control characters
//   numbers      NaN and infinity anywhere (but an infinite far plane or focus)
//   boxes        max below min on an axis; zero thick on two or more axes (on one axis it is a flat card, and fine)
//   sizes        positions and sizes beyond SceneLimits::largest_m; thinner in the world than 1e-6 m on two axes
//   matrices     last row not 0 0 0 1 (exactly); |det| / product of column lengths below 1e-6 (singular)
//   cameras      axes further from square than a cosine of 1e-4; mirrored (negative determinant)
//   factors      importance, complexity outside 1e-6..1e6; spent hours outside 0..1e9
//   occluders    of classes that are seen through, of objects without geometry; meshes that stick out of their box by
//                more than 1e-4 of its half size; in a block, an inner_box of the column beside an occluder
//   openings     that do not come within 1e-4 of the half size of their object's box
//   crowds       without a name or with another's; that name nothing, or something that nothing of the shot is; shares
//                outside 0..1; cells by one side only or more than 64; a share of cells without cells
//   frames       outside the shot. Lists of frames and ranges are sets: order and repetition do not matter.
//
// A track whose poses are all the same is kept as one pose. Bounded memory: what is kept is the columns and one hash
// set of ids; a block may be freed as soon as AddBlock returns. Not thread-safe.

#ifndef SCANTLING_SERVER_SCENE_BUILDER_H_
#define SCANTLING_SERVER_SCENE_BUILDER_H_

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/violations.h"

namespace scantling {

struct SceneLimits {
  int64_t objects = 4'000'000;
  int32_t frames = 10'000;
  int32_t cameras = 16;
  double largest_m = 1e9;                        // absurd beyond: positions and sizes
  size_t openings = 1024, indirect_sights = 64;  // of an object
  size_t masks = 64;                             // of a camera
  size_t beats = 10'000;                         // of the shot, and of an object
  size_t crowds = 64;                            // of the shot; never more than 64
  size_t crowd_names = 100'000;                  // of all crowds together
  int64_t crowd_members = 16'000'000;            // the same
  // Of all objects together.
  int64_t mesh_vertices = 4'000'000, mesh_triangles = 8'000'000, all_openings = 4'000'000;
  int64_t frame_marks = 20'000'000;  // beats and ranges of frames, for each object that sends any with the shot's own
};

// A camera as sent: pose matrices are camera-to-world, column-major 4x4; one, or one per frame.
struct CameraSpec {
  Camera camera;                   // poses empty; everything else as sent
  std::string stereo_pair;         // cameras naming the same pair count once, by the greater eye; empty: alone
  std::vector<double> transforms;  // 16 or 16 * frames
  std::vector<double> focal_mm;    // 1 or frames (perspective); > 0
  std::vector<double> focus_m;     // empty (infinity), 1 or frames
  std::vector<Mask> masks;         // frames as sent
};

// A crowd as sent. See v1.Crowd.
struct CrowdSpec {
  std::string name;
  std::vector<std::string> object_ids, asset_ids, class_names, container_ids;
  std::optional<double> keep_share, least_covered_share;
  int32_t columns = 0, rows = 0;
};

struct ShotHeader {
  std::string shot_id, sequence_id;
  FrameRange frames;
  FrameRate rate;
  std::vector<CameraSpec> cameras;
  std::vector<Directive> directives;
  std::optional<std::array<uint8_t, 3>> backdrop_colour;
  std::vector<FrameRange> replaced;
  std::vector<int32_t> beats;
  std::vector<CrowdSpec> crowds;
};

// What only some objects have, as sent: places in the object's own axes, metres.
struct MeshSpec {
  std::span<const float> vertices_m;    // 3 a vertex
  std::span<const uint32_t> triangles;  // 3 a triangle
};
struct OpeningSpec {
  std::array<double, 3> min = {}, max = {};
  bool unreadable = false;  // the caller could not read it, and has reported it
};
struct IndirectSpec {
  IndirectKind kind = IndirectKind::kShadow;
  std::vector<FrameRange> frames;  // none: all
};
struct ParticularsSpec {
  std::optional<double> inner_box;  // none of the two: the class's inner box
  std::optional<MeshSpec> mesh;
  std::vector<OpeningSpec> openings;
  std::vector<IndirectSpec> indirect;
  std::string_view hold_group;
  std::vector<FrameRange> replaced;
  std::vector<int32_t> beats;
};

// Where the audience looks, as sent: an object's id, or a place when the id is empty.
struct InterestSpec {
  std::string object_id;
  double x = 0.5, y = 0.5;
  std::optional<FrameRange> frames;  // none: all
};

struct ObjectRow {
  std::string_view id, class_name, asset, container;  // asset and container may be empty
  std::optional<double> importance, complexity;
  std::optional<std::array<uint8_t, 3>> colour;
  std::array<double, 3> box_min = {}, box_max = {};
  std::span<const double> transforms;        // empty (measured only), 16, or 16 * frames; column-major, object to world
  std::span<const MeasuredFigure> measured;  // empty, or cameras * frames, camera-major
  std::span<const uint32_t> measured_tracks;  // for field paths: number of each camera's track as sent; empty: 0, 1...
  PerTier<double> spent_hours = {};
  const ParticularsSpec* particulars = nullptr;
  bool measured_unreadable = false;  // figures were sent but the caller could not read them, and has reported it
};

// Packed columns; sizes are checked against each other. n objects.
struct ObjectBlockView {
  std::string_view id_blob;                         // all ids, one after another
  std::span<const uint32_t> id_lengths;             // n
  std::span<const std::string_view> class_names;    // table
  std::span<const uint32_t> class_of;               // n, into the table
  std::span<const std::string_view> asset_names;    // table
  std::span<const uint32_t> asset_of;               // n, 0: none, else 1 + index into the table; or empty: none at all
  std::span<const std::string_view> container_ids;  // table
  std::span<const uint32_t> container_of;           // n, 0: none, else 1 + index; or empty
  std::span<const float> importance;                // n or empty; 0: not given
  std::span<const float> complexity;                // n or empty; 0: not given
  std::span<const uint32_t> colour;                 // n or empty; 0: not given, else 0x01RRGGBB
  std::span<const float> boxes;                     // 6n: min x y z, max x y z
  std::span<const uint32_t> poses;                  // n or empty (all 1): 1 or frames
  std::span<const float> linear;                    // 9 per pose, column-major 3x3
  std::span<const double> translation;              // 3 per pose, metres
  std::span<const float> inner_box;                 // n or empty; below 0: its class's
  std::span<const uint32_t> particular_of;          // index in the block of each of the particulars, rising
  std::span<const ParticularsSpec> particulars;
};

// A scene with a change taken in.
struct MergedScene {
  Scene scene;
  std::vector<uint32_t>
      was;  // per row: row of the base scene it was, changed or not; kNone: new. Rows keep their order
  std::vector<uint8_t> changed;  // per row: 1 where it is new or was sent again
  bool rows_moved = false;       // some row is not where it was: objects were removed
};

class SceneBuilder {
 public:
  // The catalogue must outlive the builder. Faults of the header go to `violations` at once.
  SceneBuilder(const ClassCatalogue& catalogue, const SceneLimits& limits, ShotHeader header, Violations& violations);
  ~SceneBuilder();
  SceneBuilder(const SceneBuilder&) = delete;
  SceneBuilder& operator=(const SceneBuilder&) = delete;

  // `path` is the field path of the row or block ("objects[3]", "blocks[0]").
  void AddRow(const ObjectRow& row, std::string_view path);
  void AddBlock(const ObjectBlockView& block, std::string_view path);
  void AddInterest(const InterestSpec& interest, std::string_view path);

  // Objects sent so far, faulty ones and those beyond the limit included.
  int64_t object_count() const;
  // Frames of the shot; 0 where the range is faulty. Cameras in the order sent; none where they were too many.
  int32_t frame_count() const;
  const std::vector<Camera>& cameras() const;

  // Resolves containers, points of interest, crowds and directive targets of scope object; finds cycles; sorts the
  // canonical order. O(n log n + names and members of crowds).
  Scene Finish();

  // Finishes onto a scene built before: see merge.h.
  MergedScene FinishOnto(const Scene& base, std::span<const std::string> removed_ids);

 private:
  struct State;
  struct Merger;
  std::unique_ptr<State> state_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_BUILDER_H_
