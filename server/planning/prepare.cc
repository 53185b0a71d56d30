// Between two stages the stop is looked at, so that a cancelled plan ends soon; within measuring, where the time goes,
// the stage looks at it itself.

#include "server/planning/prepare.h"

#include <utility>

#include "server/planning/measure.h"

namespace scantling {
namespace {

absl::Status Choose(const PlanRequest& request, PlannedShot& shot, PlanFaults& faults) {
  const PricingInput pricing = shot.pricing();
  absl::StatusOr<Choice> choice = BuildChoice(
      {shot.scene, shot.legibility, shot.costs, *shot.policy, *shot.style, SharedCostsOf(pricing), request.alike},
      faults.violations);
  if (!choice.ok()) return choice.status();
  if (!faults.violations.empty()) return absl::InvalidArgumentError("directives contradict one another");
  shot.choice = *std::move(choice);
  return absl::OkStatus();
}

}  // namespace

absl::Status StopStatus(const Stop& stop) {
  if (!stop.Requested()) return absl::OkStatus();
  if (stop.Cancelled()) return absl::CancelledError("the caller cancelled the plan");
  return absl::DeadlineExceededError("the deadline passed before a plan was found");
}

void StageTimer::Ended(std::string_view stage) {
  const auto now = Stop::Clock::now();
  clocks_.push_back({stage, std::chrono::duration<double, std::milli>(now - begin_).count()});
  begin_ = now;
}

absl::Status Prepare(Scene scene, const PlanContext& context, const PlanRequest& request, StageTimer& timer,
                     PlannedShot& shot, PlanFaults& faults) {
  const Stop& stop = context.stop;
  shot.scene = std::move(scene);
  shot.policy = &context.policy;
  shot.style = &context.style;
  shot.budgets = request.budgets;

  shot.optics = OpticsOf(shot.scene, context.policy.catalogue, context.style);
  shot.legibility = MeasureShot(shot.optics, request.threads, stop, context.progress);
  if (absl::Status status = StopStatus(stop); !status.ok()) return status;
  timer.Ended("measuring");

  return HoldPriceChoose(request, stop, timer, shot, faults);
}

absl::Status HoldPriceChoose(const PlanRequest& request, const Stop& stop, StageTimer& timer, PlannedShot& shot,
                             PlanFaults& faults) {
  shot.holds = AssignHolds(shot.optics, shot.legibility, request.holds);
  if (absl::Status status = StopStatus(stop); !status.ok()) return status;
  timer.Ended("holding");

  shot.costs = PriceTiers(shot.pricing());
  if (absl::Status status = StopStatus(stop); !status.ok()) return status;
  timer.Ended("pricing");

  if (absl::Status chosen = Choose(request, shot, faults); !chosen.ok()) return chosen;
  timer.Ended("choosing");
  return StopStatus(stop);
}

}  // namespace scantling
