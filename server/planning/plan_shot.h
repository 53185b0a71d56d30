// PlanShot: the stages in order, and nothing else.
//
//   scene -> view -> legibility -> costing -> choice -> budget -> answer
//
// Work is shared out by chunks of objects among threads; every chunk writes rows of its own, and what is summed is
// summed in integers, so the answer is the same byte for byte on any number of threads.

#ifndef SCANTLING_SERVER_PLANNING_PLAN_SHOT_H_
#define SCANTLING_SERVER_PLANNING_PLAN_SHOT_H_

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "server/answer/answer.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/stop.h"
#include "server/units/violations.h"

namespace scantling {

struct PlanRequest {
  Budgets budgets;  // hours, >= 0; beyond hours already spent
  double target_gap = 1e-6;
  HoldOptions holds;
  int threads = 1;  // >= 1
};

struct StageClock {
  std::string_view stage;  // "measuring", "holding", "pricing", "choosing", "solving", "answering"
  double milliseconds = 0;
};

// Called from a compute thread, at most some hundred times a plan, never from two threads at once.
using ProgressSink = std::function<void(std::string_view stage, double fraction)>;

// Everything a plan was made of, so that explanations need not compute it again. Immovable: the parts refer to each
// other.
struct PlannedShot {
  Scene scene;
  const Policy* policy = nullptr;  // must outlive it
  const Style* style = nullptr;
  ShotOptics optics;
  Legibility legibility;
  Holds holds;
  TierCosts costs;
  Choice choice;
  Budgets budgets;
  budget::Solution solution;
  std::array<budget::Solution, kPhiScales> unseen;
  Plan plan;
  std::vector<StageClock> clocks;

  PlannedShot() = default;
  PlannedShot(const PlannedShot&) = delete;
  PlannedShot& operator=(const PlannedShot&) = delete;

  AnswerInput input() const {
    return {scene, legibility, holds, costs, choice, *policy, *style, budgets, solution, unseen};
  }
};

// Why no plan fits, and what would.
struct NoPlanFits {
  double least_anim_hours = 0, least_core_hours = 0;  // each on its own, the other unlimited
  std::optional<double> fitting_anim_hours,
      fitting_core_hours;      // together: both budgets raised in proportion; a plan exists
  double factor_at_least = 1;  // proved: below this factor nothing fits
};

// What a plan is made with. All must outlive the plan.
struct PlanContext {
  const Policy& policy;
  const Style& style;     // one of policy.styles
  const Stop& stop;       // need not outlive the call
  ProgressSink progress;  // may be empty
};

// What went wrong, in full.
struct PlanFaults {
  Violations violations;  // contradictory directives
  std::optional<NoPlanFits> no_plan;
};

// Errors: INVALID_ARGUMENT with faults.violations filled (contradictory directives) or without (overflow);
// FAILED_PRECONDITION with faults.no_plan filled where no plan meets the budgets; CANCELLED or DEADLINE_EXCEEDED when
// stopped before a plan existed (stopped later, the plan says interrupted). Obeys `stop` within 50 ms. Thread-safe.
absl::StatusOr<std::unique_ptr<PlannedShot>> PlanShot(Scene scene, const PlanContext& context,
                                                      const PlanRequest& request, PlanFaults& faults);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_PLAN_SHOT_H_
