// People with particulars, for tests to spoil.
//
// The person of make_shot.h stands in -0.25..0.25 x 0..1.8 x -0.15..0.15 m: half sizes 0.25, 0.9, 0.15 about (0, 0.9,
// 0).

#ifndef SCANTLING_TESTS_SCENE_WITH_PARTICULARS_H_
#define SCANTLING_TESTS_SCENE_WITH_PARTICULARS_H_

#include <string>
#include <utility>
#include <vector>

#include "tests/scene/make_shot.h"

namespace scantling {

// One person with particulars.
inline Built BuildWith(const ParticularsSpec& particulars, ShotHeader header = MakeHeader(), SceneLimits limits = {}) {
  ObjectRow row = MakeRow("ada");
  row.particulars = &particulars;
  return Build({row}, std::move(header), limits);
}

inline std::vector<Violation> FaultsOf(const ParticularsSpec& particulars, SceneLimits limits = {}) {
  return Faults(BuildWith(particulars, MakeHeader(), limits));
}

inline Violation Fault(std::string field, std::string description) {
  return {"objects[0].particulars." + field, std::move(description)};
}

inline const std::vector<float> kTriangle = {-0.25f, 0, -0.15f, 0.25f, 0, -0.15f, 0.25f, 1.8f, 0.15f};
inline const std::vector<uint32_t> kIndices = {0, 1, 2};

inline ParticularsSpec WithMesh() {
  ParticularsSpec spec;
  spec.mesh = MeshSpec{kTriangle, kIndices};
  return spec;
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_SCENE_WITH_PARTICULARS_H_
