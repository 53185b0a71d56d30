// Small good shots for tests to spoil.

#ifndef SCANTLING_TESTS_SCENE_MAKE_SHOT_H_
#define SCANTLING_TESTS_SCENE_MAKE_SHOT_H_

#include <gmock/gmock.h>

#include <array>
#include <cstdint>
#include <ostream>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "server/scene/builder.h"

namespace scantling {

inline void PrintTo(const Violation& violation, std::ostream* out) {
  *out << violation.field << ": " << violation.description;
}

inline constexpr std::array<double, 16> kIdentity = {1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1};

// "o7". (g++ 12 warns falsely at "o" + std::to_string(7).)
inline std::string Numbered(std::string stem, size_t number) { return stem.append(std::to_string(number)); }

inline ClassCatalogue MakeCatalogue() {
  ClassCatalogue catalogue;
  for (const char* name : {"person", "vehicle", "dwelling"}) {
    ObjectClass object_class;
    object_class.name = name;
    catalogue.classes.push_back(object_class);
  }
  catalogue.classes[2].importance = 0.25;
  return catalogue;
}

inline CameraSpec MakeCamera(std::string id) {
  CameraSpec spec;
  spec.camera.id = std::move(id);
  spec.transforms.assign(kIdentity.begin(), kIdentity.end());
  spec.focal_mm = {35};
  return spec;
}

// 24 frames from 1001, one camera "main".
inline ShotHeader MakeHeader() {
  ShotHeader header;
  header.shot_id = "qy_0010";
  header.sequence_id = "qy";
  header.frames = {1001, 1024};
  header.cameras = {MakeCamera("main")};
  return header;
}

// A person of 0.5 x 1.8 x 0.3 m at the origin. Views point into static storage and into the caller's strings.
inline ObjectRow MakeRow(std::string_view id) {
  ObjectRow row;
  row.id = id;
  row.class_name = "person";
  row.box_min = {-0.25, 0, -0.15};
  row.box_max = {0.25, 1.8, 0.15};
  row.transforms = kIdentity;
  return row;
}

struct Built {
  Scene scene;
  Violations violations;
  int64_t count = 0;
};

// Rows under the paths objects[0], objects[1], ...
inline Built Build(const std::vector<ObjectRow>& rows, ShotHeader header = MakeHeader(), SceneLimits limits = {}) {
  static const ClassCatalogue catalogue = MakeCatalogue();
  Built built;
  SceneBuilder builder(catalogue, limits, std::move(header), built.violations);
  for (size_t i = 0; i < rows.size(); ++i) builder.AddRow(rows[i], Numbered("objects[", i) + "]");
  built.count = builder.object_count();
  built.scene = builder.Finish();
  return built;
}

inline Built BuildHeader(ShotHeader header, SceneLimits limits = {}) { return Build({}, std::move(header), limits); }

// All faults found, in order.
inline std::vector<Violation> Faults(const Built& built) { return built.violations.listed(); }

}  // namespace scantling

#endif  // SCANTLING_TESTS_SCENE_MAKE_SHOT_H_
