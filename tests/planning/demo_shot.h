// The demonstration shot (client/sample) through the shipped configuration (config/), planned in this process.

#ifndef SCANTLING_TESTS_PLANNING_DEMO_SHOT_H_
#define SCANTLING_TESTS_PLANNING_DEMO_SHOT_H_

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "scantling/v1/scene.pb.h"
#include "server/planning/plan_shot.h"
#include "server/policy/types.h"

namespace scantling::testing {

// The shipped configuration; fails the test where it has a fault.
const Policy& ShippedPolicy();

// The demonstration shot as rows, seed 1.
v1::Shot Sample(int objects);

Scene SceneOf(const v1::Shot& shot);
Scene DemoScene(int objects, uint64_t seed);

struct PlanCall {
  Budgets budgets;
  std::string style = "ink";
  int threads = 2;
  double target_gap = 1e-6;
};

// Fails the test and returns nullptr where no plan comes back.
std::unique_ptr<PlannedShot> PlanOrFail(Scene scene, const PlanCall& call);

// The same, returning what PlanShot did.
absl::StatusOr<std::unique_ptr<PlannedShot>> TryPlan(Scene scene, const PlanCall& call, PlanFaults& faults);

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_PLANNING_DEMO_SHOT_H_
