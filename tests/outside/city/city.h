// A city in traffic as the users' path sees it: made by SUMO, imported, planned; and what is known of it apart from the
// plan.

#ifndef SCANTLING_TESTS_OUTSIDE_CITY_CITY_H_
#define SCANTLING_TESTS_OUTSIDE_CITY_CITY_H_

#include <cstdint>
#include <string>
#include <vector>

#include "scantling/v1/plan.pb.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/frames.h"
#include "tests/client/end_to_end/program.h"

namespace scantling::city_test {

// One camera of the city. `decision_of`: by row of the scene, the plan's decision about it.
struct PlannedCity {
  Policy policy;
  const Style* style = nullptr;
  Scene scene;
  v1::Plan plan;
  std::vector<const v1::Decision*> decision_of;

  const ObjectClass& class_of(uint32_t row) const { return policy.catalogue.classes[scene.objects.class_index[row]]; }
  bool is_vehicle(uint32_t row) const { return class_of(row).name == "cart" || class_of(row).name == "bicycle"; }
};

FrameSpans SpansOf(const google::protobuf::RepeatedPtrField<v1::FrameRange>& ranges);

// Whether the row's box is the same, bit by bit, in all these frames.
bool StandsIn(const Scene& scene, uint32_t row, const FrameSpans& frames);

// What rays say of one object over the shot.
struct Sighting {
  int64_t reached = 0;               // rays
  int64_t seen = 0, seen_unmet = 0;  // frames the plan calls seen; those of them in which no ray came through
  int64_t blocked_behind = 0;        // frames in frame without any ray coming through
  int64_t blocked_unseen = 0;        // those of them that the plan does not call seen
  std::vector<int32_t> missed;  // frames in which rays see more of it than the smallest area, but the plan does not
};

// Everything but buildings, by row; `rays` a frame each. Deterministic.
std::vector<Sighting> CastRays(const PlannedCity& city, int rays);

class CityTest : public client::EndToEnd, public testing::WithParamInterface<const char*> {
 protected:
  // Makes, imports and plans the city through the camera that is the parameter. False, with failures told, where a step
  // fails. `city` must be fresh.
  bool Plan(PlannedCity& city);
  static bool IsLong();
};

}  // namespace scantling::city_test

#endif  // SCANTLING_TESTS_OUTSIDE_CITY_CITY_H_
