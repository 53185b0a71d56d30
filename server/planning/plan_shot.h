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

// A decision of an earlier plan.
struct EarlierDecision {
  std::string id;
  Tier tier = Tier::kFullRig;
};

struct PlanRequest {
  Budgets budgets;  // >= 0; hours beyond hours already spent
  double target_gap = 1e-6;
  HoldOptions holds;
  bool alike = false;                    // one tier for what is of one asset, container and band
  std::vector<EarlierDecision> earlier;  // ids unique; those not in the scene are counted and passed over
  std::optional<double> change_margin, change_margin_least;  // the style's where not given
  int threads = 1;                                           // >= 1
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
  PlanFindings findings;
  Plan plan;
  std::vector<StageClock> clocks;

  PlannedShot() = default;
  PlannedShot(const PlannedShot&) = delete;
  PlannedShot& operator=(const PlannedShot&) = delete;

  PricingInput pricing() const { return {scene, legibility, holds, *policy, *style}; }
  AnswerInput input() const {
    return {scene, legibility, holds, costs, choice, *policy, *style, budgets, solution, unseen, findings};
  }
};

// Why no plan fits, and what would.
struct NoPlanFits {
  // What stands in the way: together these demands cannot be met within the limits, and all but any one of them can.
  struct Demand {
    enum class Kind : uint8_t { kDirective, kIndirectSight, kWorstOctaves, kKeepShare, kCoveredShare };
    Kind kind = Kind::kDirective;
    std::string subject;      // "directives[3]", an object's id, a crowd's name
    std::string description;  // for a person
  };

  double least_anim_hours = 0, least_core_hours = 0, least_other_hours = 0;  // each on its own, the others unlimited
  // Together: all limits raised in proportion; a plan exists.
  std::optional<double> fitting_anim_hours, fitting_core_hours, fitting_other_hours, fitting_memory_mb;
  double factor_at_least = 1;              // proved: below this factor nothing fits
  std::vector<Demand> in_the_way;          // empty: even without any of them nothing fits
  bool in_the_way_is_irreducible = false;  // proved so; else perhaps larger than it need be
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
