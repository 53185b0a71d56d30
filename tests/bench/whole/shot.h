// The demonstration shot through the shipped configuration, for the benchmarks of the whole plan.

#ifndef SCANTLING_TESTS_BENCH_WHOLE_SHOT_H_
#define SCANTLING_TESTS_BENCH_WHOLE_SHOT_H_

#include <memory>

#include "scantling/v1/scene.pb.h"
#include "server/planning/plan_shot.h"
#include "server/policy/types.h"
#include "server/units/violations.h"

namespace scantling::bench {

inline constexpr int kFrames = 240;

// The shipped configuration. A fault ends the program: nothing can be measured then.
const Policy& ShippedPolicy();

// Prints the violations and ends the program where there are any.
void EndIfAny(const Violations& violations);

// Seed 1, style of the shipped default.
v1::Shot DemoShot(int objects, bool blocks);

Scene SceneOf(const v1::Shot& shot);

// Ends the program where no plan comes back.
std::unique_ptr<PlannedShot> PlanOf(Scene scene, const PlanRequest& request);

// Plans `objects` x kFrames in blocks in a process of its own and prints its peak memory. 0 where it met the target.
int MeasureMemory(int objects);

}  // namespace scantling::bench

#endif  // SCANTLING_TESTS_BENCH_WHOLE_SHOT_H_
