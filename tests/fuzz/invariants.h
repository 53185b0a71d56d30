// What must hold of any shot that comes from outside, however hostile: it is refused with faults that fit an answer, or
// its scene is sound. A breach ends the program, which is how a fuzz target reports.

#ifndef SCANTLING_TESTS_FUZZ_INVARIANTS_H_
#define SCANTLING_TESTS_FUZZ_INVARIANTS_H_

#include <array>
#include <cmath>
#include <vector>

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

// Every column is as long as there are objects.
inline void CheckColumns(const Objects& objects) {
  const size_t count = objects.size();
  SCANTLING_MUST(objects.id.size() == count && objects.asset.size() == count && objects.container.size() == count);
  SCANTLING_MUST(objects.importance.size() == count && objects.complexity.size() == count);
  SCANTLING_MUST(objects.colour.size() == count && objects.chunk.size() == count && objects.lane.size() == count);
  SCANTLING_MUST(objects.measured.size() == count && objects.inner_box.size() == count);
  SCANTLING_MUST(objects.particulars.size() == count);
}

// Ordered, disjoint, not touching, within the shot.
inline void CheckSpans(const FrameSpans& spans, FrameRange shot) {
  for (size_t i = 0; i < spans.size(); ++i) {
    SCANTLING_MUST(shot.first <= spans[i].first && spans[i].first <= spans[i].last && spans[i].last <= shot.last);
    SCANTLING_MUST(i == 0 || spans[i].first > spans[i - 1].last + 1);
  }
}

inline void CheckBeats(const std::vector<int32_t>& beats, FrameRange shot) {
  for (size_t i = 0; i < beats.size(); ++i) {
    SCANTLING_MUST(shot.contains(beats[i]) && (i == 0 || beats[i] > beats[i - 1]));
  }
}

inline void CheckOccluder(const Particulars& particulars) {
  SCANTLING_MUST(particulars.mesh.triangles.size() <= 65'536);
  for (const std::array<float, 3>& vertex : particulars.mesh.vertices) {
    for (const float place : vertex) SCANTLING_MUST(place >= -1 && place <= 1);
  }
  for (const std::array<uint32_t, 3>& triangle : particulars.mesh.triangles) {
    for (const uint32_t index : triangle) SCANTLING_MUST(index < particulars.mesh.vertices.size());
  }
  for (const Opening& opening : particulars.openings) {
    for (size_t axis = 0; axis < 3; ++axis) {
      SCANTLING_MUST(opening.min[axis] >= -1.001e9f && opening.max[axis] <= 1.001e9f);
      // Meets the box, to the slack that is let through.
      SCANTLING_MUST(opening.min[axis] <= opening.max[axis]);
      SCANTLING_MUST(opening.min[axis] <= 1.001f && opening.max[axis] >= -1.001f);
    }
  }
}

inline void CheckParticulars(const Scene& scene) {
  CheckSpans(scene.replaced, scene.frames);
  CheckBeats(scene.beats, scene.frames);
  for (uint32_t i = 0; i < scene.particulars.size(); ++i) {
    const Particulars& particulars = scene.particulars[i];
    SCANTLING_MUST(scene.objects.particulars[particulars.object] == i);
    SCANTLING_MUST(i == 0 || scene.particulars[i - 1].object < particulars.object);
    SCANTLING_MUST(particulars.hold_group == kNone || particulars.hold_group < scene.hold_groups.size());
    CheckOccluder(particulars);
    const bool places = !particulars.mesh.triangles.empty() || !particulars.openings.empty();
    SCANTLING_MUST(!places || scene.objects.chunk[particulars.object] != kNone);
    for (const IndirectSight& sight : particulars.indirect) {
      SCANTLING_MUST(!sight.frames.empty());
      CheckSpans(sight.frames, scene.frames);
    }
    CheckSpans(particulars.replaced, scene.frames);
    CheckBeats(particulars.beats, scene.frames);
  }
}

// An object hides by a box or by a mesh, and only where it has a place.
inline void CheckInnerBoxes(const Scene& scene) {
  const Objects& objects = scene.objects;
  for (size_t row = 0; row < objects.size(); ++row) {
    SCANTLING_MUST(objects.inner_box[row] >= 0 && objects.inner_box[row] <= 1);
    if (objects.inner_box[row] == 0) continue;
    SCANTLING_MUST(objects.chunk[row] != kNone);
    const uint32_t particulars = objects.particulars[row];
    SCANTLING_MUST(particulars == kNone || scene.particulars[particulars].mesh.triangles.empty());
  }
}

inline void CheckMasks(const Scene& scene) {
  for (const Camera& camera : scene.cameras) {
    for (const Mask& mask : camera.masks) {
      SCANTLING_MUST(mask.left >= 0 && mask.left < mask.right && mask.right <= 1);
      SCANTLING_MUST(mask.top >= 0 && mask.top < mask.bottom && mask.bottom <= 1);
      SCANTLING_MUST(!mask.frames.empty());
      CheckSpans(mask.frames, scene.frames);
    }
  }
}

inline void CheckNumbers(const Scene& scene) {
  for (const PoseChunk& chunk : scene.chunks) {
    for (const auto* column : {&chunk.centre_x, &chunk.centre_y, &chunk.centre_z}) {
      for (const double value : *column) SCANTLING_MUST(std::isfinite(value));
    }
    for (const SharedColumn<float>& column : chunk.axis) {
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

// Members rise, and lie in the scene; shares and cells are what they may be.
inline void CheckCrowds(const Scene& scene) {
  SCANTLING_MUST(scene.crowds.size() <= 64);
  for (const Crowd& crowd : scene.crowds) {
    SCANTLING_MUST(!crowd.name.empty() && !crowd.members.empty());
    SCANTLING_MUST(crowd.members.back() < scene.objects.size());
    for (size_t i = 1; i < crowd.members.size(); ++i) SCANTLING_MUST(crowd.members[i - 1] < crowd.members[i]);
    SCANTLING_MUST(crowd.keep_share >= 0 && crowd.keep_share <= 1);
    SCANTLING_MUST(crowd.least_covered_share >= 0 && crowd.least_covered_share <= 1);
    SCANTLING_MUST(crowd.columns >= 0 && crowd.rows >= 0 && (crowd.columns == 0) == (crowd.rows == 0));
    SCANTLING_MUST(crowd.columns <= 64 && crowd.columns * crowd.rows <= 64);
    SCANTLING_MUST(crowd.columns > 0 || crowd.least_covered_share == 0);
  }
}

inline void CheckScene(const Scene& scene) {
  CheckColumns(scene.objects);
  CheckObjects(scene);
  CheckNumbers(scene);
  CheckParticulars(scene);
  CheckInnerBoxes(scene);
  CheckMasks(scene);
  CheckCrowds(scene);
}

// Small limits, so that a thousand runs a second stay a thousand runs a second.
inline void CheckShot(const v1::Shot& shot) {
  static const ClassCatalogue catalogue = Catalogue();
  SceneLimits limits;
  limits.frames = 64;
  limits.objects = 2000;
  limits.cameras = 4;
  limits.mesh_vertices = 5000;
  limits.mesh_triangles = 5000;
  limits.all_openings = 500;
  limits.frame_marks = 5000;
  limits.crowd_members = 20'000;
  Violations violations;
  const Scene scene = SceneFromProto(shot, catalogue, limits, violations);
  if (!violations.empty()) {
    SCANTLING_MUST(InvalidArgument(violations).error_details().size() <= kDetailBytes);
    return;
  }
  CheckScene(scene);
}

}  // namespace scantling::fuzz

#endif  // SCANTLING_TESTS_FUZZ_INVARIANTS_H_
