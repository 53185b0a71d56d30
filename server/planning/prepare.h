// The stages before the solver: measuring, holding, pricing, choosing. What a plan and a frontier have in common.

#ifndef SCANTLING_SERVER_PLANNING_PREPARE_H_
#define SCANTLING_SERVER_PLANNING_PREPARE_H_

#include <functional>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "server/planning/plan_shot.h"
#include "server/planning/shot_solver.h"

namespace scantling {

// CANCELLED or DEADLINE_EXCEEDED, as the stop says; OK where it is not requested.
absl::Status StopStatus(const Stop& stop);

// Times stages one after another.
class StageTimer {
 public:
  explicit StageTimer(std::vector<StageClock>& clocks) : clocks_(clocks) {}
  void Ended(std::string_view stage);

 private:
  std::vector<StageClock>& clocks_;
  Stop::Clock::time_point begin_ = Stop::Clock::now();
};

// Fills *shot from the scene up to its choice. Errors as PlanShot's before it solves.
absl::Status Prepare(Scene scene, const PlanContext& context, const PlanRequest& request, StageTimer& timer,
                     PlannedShot& shot, PlanFaults& faults);

// The stages after measuring: holding, pricing, choosing. shot.scene, policy, style, optics and legibility stand.
absl::Status HoldPriceChoose(const PlanRequest& request, const Stop& stop, StageTimer& timer, PlannedShot& shot,
                             PlanFaults& faults);

// How the unseen plans (by phi scale) and the plan are solved; none: from scratch.
struct SolveWays {
  std::function<absl::StatusOr<budget::Solution>(int phi, const budget::Problem&, const budget::Effort&)> unseen;
  SolveWith plan;
  std::vector<Resource> limits;  // of crowds, taken in before the plan is looked for: they bound the last one
};

// Solves shot.choice: the unseen plans, and the plan of the request. Fills solution, unseen and findings. Errors as
// ShotSolver's.
absl::Status SolveChoice(const PlanRequest& request, const Stop& stop, const SolveWays& ways, PlannedShot& shot);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_PREPARE_H_
