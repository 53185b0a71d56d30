// One object under check, whether it came as a row or stands in a block: both are read through the same struct, so that
// both make the same scene and meet the same refusals.

#ifndef SCANTLING_SERVER_SCENE_OBJECT_INPUT_H_
#define SCANTLING_SERVER_SCENE_OBJECT_INPUT_H_

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "server/policy/types.h"
#include "server/scene/builder.h"
#include "server/scene/pose.h"
#include "server/scene/scene.h"
#include "server/units/violations.h"

namespace scantling {

// Poses of one object: 16 doubles each (row), or 9 floats and 3 doubles each from `first_pose` on (block).
struct PoseSource {
  std::span<const double> matrices;
  std::span<const float> linear;
  std::span<const double> translation;
  size_t first_pose = 0;
  size_t count = 0;
  bool in_block = false;

  Affine At(size_t pose) const;
  // All poses equal the first.
  bool Still() const;
  // Field of entry 0..8 (3x3, column-major) or 9..11 (translation) of a pose.
  std::string Field(std::string_view path, size_t pose, size_t entry) const;
};

struct ObjectInput {
  std::string_view path;  // of the row or block
  bool in_block = false;
  size_t index = 0;  // in the block

  std::string_view id;
  LocalBox box;
  PoseSource poses;
  std::optional<double> importance, complexity;
  std::span<const MeasuredFigure> measured;
  std::span<const uint32_t> measured_tracks;
  bool measured_unreadable = false;
  const PerTier<double>* spent_hours = nullptr;
  std::optional<double> inner_box;  // of a block's column
  const ParticularsSpec* particulars = nullptr;
  std::string particulars_path;  // "objects[3].particulars"; empty where there are none

  // "objects[3].id", or "blocks[0].id_lengths[5]".
  std::string Field(std::string_view row_field, std::string_view block_column) const;
  // Field of number k (0..5: min x y z, max x y z) of the box.
  std::string BoxField(size_t k) const;
};

// What an object must agree with. 0: not known, for the header is faulty; what depends on it is not checked.
struct ShotShape {
  int32_t frames = 0;
  size_t cameras = 0;
  double largest_m = 1e9;
  double largest_covered_px = 0;  // over all cameras, picture and overscan
};

// max not below min, thick on at least two axes, every number within `largest_m` of 0.
bool BoxGood(const LocalBox& box, double largest_m);

// Checks box, poses, measured figures, importance, complexity and spent hours. True where nothing was wrong; else every
// fault went to `violations`. Ids and names are the builder's.
bool CheckObject(const ObjectInput& input, const ShotShape& shape, Violations& violations);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_OBJECT_INPUT_H_
