#include "tests/planning/demo_shot.h"

#include <gtest/gtest.h>

#include <utility>

#include "client/sample/sample.h"
#include "server/policy/load.h"
#include "server/rpc/convert.h"

namespace scantling::testing {

const Policy& ShippedPolicy() {
  static const Policy* const policy = [] {
    absl::StatusOr<Policy> loaded = LoadPolicy(SCANTLING_SOURCE_DIR "/config", "ink");
    EXPECT_TRUE(loaded.ok()) << loaded.status();
    return new Policy(*std::move(loaded));
  }();
  return *policy;
}

v1::Shot Sample(int objects) {
  SampleOptions options;
  options.objects = objects;
  return MakeSample(options);
}

Scene SceneOf(const v1::Shot& shot) {
  Violations violations;
  Scene scene = SceneFromProto(shot, ShippedPolicy().catalogue, SceneLimits(), violations);
  for (const Violation& violation : violations.listed()) {
    ADD_FAILURE() << violation.field << ": " << violation.description;
  }
  return scene;
}

Scene DemoScene(int objects, uint64_t seed) {
  SampleOptions options;
  options.objects = objects;
  options.seed = seed;
  return SceneOf(MakeSample(options));
}

absl::StatusOr<std::unique_ptr<PlannedShot>> TryPlan(Scene scene, const PlanCall& call, PlanFaults& faults) {
  const Stop stop;
  const Style* style = ShippedPolicy().FindStyle(call.style);
  if (style == nullptr) return absl::NotFoundError(call.style);
  PlanRequest request;
  request.budgets = call.budgets;
  request.threads = call.threads;
  request.target_gap = call.target_gap;
  return PlanShot(std::move(scene), {ShippedPolicy(), *style, stop, {}}, request, faults);
}

std::unique_ptr<PlannedShot> PlanOrFail(Scene scene, const PlanCall& call) {
  PlanFaults faults;
  auto planned = TryPlan(std::move(scene), call, faults);
  EXPECT_TRUE(planned.ok()) << planned.status();
  return planned.ok() ? *std::move(planned) : nullptr;
}

}  // namespace scantling::testing
