// What must hold of any shot that comes from outside, however hostile: it is refused with faults that fit an answer, or
// its scene is sound. A breach ends the program, which is how a fuzz target reports.

#ifndef SCANTLING_TESTS_FUZZ_INVARIANTS_H_
#define SCANTLING_TESTS_FUZZ_INVARIANTS_H_

#include <cmath>

#include "server/rpc/convert.h"
#include "tests/fuzz/must.h"

namespace scantling::fuzz {

inline void CheckObjects(const Scene& scene) {
  const Objects& objects = scene.objects;
  SCANTLING_MUST(objects.canonical.size() == objects.size());
  for (size_t i = 1; i < objects.size(); ++i) {
    SCANTLING_MUST(objects.id[objects.canonical[i - 1]] < objects.id[objects.canonical[i]]);
  }
  for (size_t i = 0; i < objects.size(); ++i) {
    SCANTLING_MUST(objects.importance[i] > 0 && objects.complexity[i] > 0);
    SCANTLING_MUST(objects.chunk[i] != kNone || objects.measured[i] != kNone);
    size_t steps = 0;
    for (uint32_t row = objects.container[i]; row != kNone; row = objects.container[row]) {
      SCANTLING_MUST(++steps <= objects.size());
    }
    if (objects.chunk[i] == kNone) continue;
    SCANTLING_MUST(scene.chunks[objects.chunk[i]].object[objects.lane[i]] == i);
  }
}

inline void CheckNumbers(const Scene& scene) {
  for (const PoseChunk& chunk : scene.chunks) {
    for (const auto* column : {&chunk.centre_x, &chunk.centre_y, &chunk.centre_z}) {
      for (const double value : *column) SCANTLING_MUST(std::isfinite(value));
    }
    for (const std::vector<float>& column : chunk.axis) {
      for (const float value : column) SCANTLING_MUST(std::isfinite(value));
    }
  }
  for (const Camera& camera : scene.cameras) {
    SCANTLING_MUST(camera.poses.size() == 1 || camera.poses.size() == static_cast<size_t>(scene.frames.count()));
    for (const CameraPose& pose : camera.poses) {
      for (const double value : pose.world_to_camera) SCANTLING_MUST(std::abs(value) <= 1.0001);
    }
  }
}

// Small limits, so that a thousand runs a second stay a thousand runs a second.
inline void CheckShot(const v1::Shot& shot) {
  static const ClassCatalogue catalogue = Catalogue();
  SceneLimits limits;
  limits.frames = 64;
  limits.objects = 2000;
  limits.cameras = 4;
  Violations violations;
  const Scene scene = SceneFromProto(shot, catalogue, limits, violations);
  if (!violations.empty()) {
    SCANTLING_MUST(InvalidArgument(violations).error_details().size() <= kDetailBytes);
    return;
  }
  CheckObjects(scene);
  CheckNumbers(scene);
}

}  // namespace scantling::fuzz

#endif  // SCANTLING_TESTS_FUZZ_INVARIANTS_H_
