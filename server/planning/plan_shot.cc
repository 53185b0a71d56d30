// The stages in order. Between two stages the stop is looked at, so that a cancelled plan ends soon; within measuring
// and solving, where the time goes, the stages look at it themselves.
//
// The unseen plan is solved at each phi scale whatever the mode, since savings are told against it; in unseen mode the
// one with phi as given is the plan.

#include "server/planning/plan_shot.h"

#include <algorithm>
#include <utility>

#include "server/planning/measure.h"

namespace scantling {
namespace {

absl::Status Stopped(const Stop& stop) {
  if (stop.Cancelled()) return absl::CancelledError("the caller cancelled the plan");
  return absl::DeadlineExceededError("the deadline passed before a plan was found");
}

class StageTimer {
 public:
  explicit StageTimer(std::vector<StageClock>& clocks) : clocks_(clocks) {}

  void Ended(std::string_view stage) {
    const auto now = Stop::Clock::now();
    clocks_.push_back({stage, std::chrono::duration<double, std::milli>(now - begin_).count()});
    begin_ = now;
  }

 private:
  std::vector<StageClock>& clocks_;
  Stop::Clock::time_point begin_ = Stop::Clock::now();
};

// How hard to branch. Measured on the demonstration shot with 70% of a budget: at 1,500 objects 20,000 visits took 1.8
// s and moved the bound in its third digit only after the first 2,000 (0.35 s); at 10,000 objects 200 visits took 0.2 s
// and brought the gap of a core-hour budget from 7e-4 to 2.5e-5. So: about two million node visits in all, no fewer
// than 200.
budget::Effort EffortFor(const budget::Problem& problem, double target_gap) {
  budget::Effort effort;
  effort.target_gap = target_gap;
  effort.branch_nodes = std::clamp<int64_t>(2'000'000 / std::max<int64_t>(problem.size(), 1), 200, 2'000);
  effort.branch_size = 40'000;
  return effort;
}

std::optional<int64_t> Capacity(const std::optional<double>& hours) {
  if (!hours) return std::nullopt;
  return HoursQuanta(*hours);
}

double Hours(int64_t quanta) { return static_cast<double>(quanta) * kHoursQuantum; }

NoPlanFits WhatWouldFit(const budget::Problem& problem, const Stop& stop) {
  NoPlanFits answer;
  if (const auto least = budget::LeastUse(problem); least.ok()) {
    answer.least_anim_hours = Hours((*least)[kAnimHours]);
    answer.least_core_hours = Hours((*least)[kCoreHours]);
  }
  const auto smallest = budget::SmallestCapacities(problem, stop);
  if (!smallest.ok()) return answer;
  answer.factor_at_least = smallest->factor_at_least;
  const auto& capacity = smallest->capacity;
  if (capacity[kAnimHours]) answer.fitting_anim_hours = Hours(*capacity[kAnimHours]);
  if (capacity[kCoreHours]) answer.fitting_core_hours = Hours(*capacity[kCoreHours]);
  return answer;
}

// Least loss, then least money, at every phi scale. The problem's losses are as given again afterwards.
absl::Status SolveUnseen(const Stop& stop, PlannedShot& shot) {
  budget::Problem& problem = shot.choice.problem;
  for (int phi = 0; phi < kPhiScales; ++phi) {
    if (stop.Requested()) return Stopped(stop);
    std::vector<int64_t> losses = LossesAt(shot.choice, shot.legibility, phi);
    std::swap(problem.loss, losses);
    absl::StatusOr<budget::Solution> solved = budget::Solve(problem, {}, stop);
    std::swap(problem.loss, losses);
    if (!solved.ok()) return solved.status();
    shot.unseen[static_cast<size_t>(phi)] = *std::move(solved);
  }
  return absl::OkStatus();
}

absl::Status SolveBudget(const PlanRequest& request, const Stop& stop, PlannedShot& shot, PlanFaults& faults) {
  budget::Problem& problem = shot.choice.problem;
  problem.capacity = {Capacity(request.budgets.anim_hours), Capacity(request.budgets.core_hours)};
  absl::StatusOr<budget::Solution> solved = budget::Solve(problem, EffortFor(problem, request.target_gap), stop);
  if (absl::IsFailedPrecondition(solved.status())) faults.no_plan = WhatWouldFit(problem, stop);
  if (!solved.ok()) return solved.status();
  shot.solution = *std::move(solved);
  return absl::OkStatus();
}

absl::Status Choose(const Stop& stop, PlannedShot& shot, PlanFaults& faults) {
  absl::StatusOr<Choice> choice =
      BuildChoice({shot.scene, shot.legibility, shot.costs, *shot.policy, *shot.style}, faults.violations);
  if (!choice.ok()) return choice.status();
  if (!faults.violations.empty()) return absl::InvalidArgumentError("directives contradict one another");
  shot.choice = *std::move(choice);
  return stop.Requested() ? Stopped(stop) : absl::OkStatus();
}

absl::Status SolvePlan(const PlanRequest& request, const Stop& stop, PlannedShot& shot, PlanFaults& faults) {
  if (absl::Status unseen = SolveUnseen(stop, shot); !unseen.ok()) return unseen;
  if (!request.budgets.unseen_mode()) return SolveBudget(request, stop, shot, faults);
  shot.solution = shot.unseen[kPhiAsGiven];
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::unique_ptr<PlannedShot>> PlanShot(Scene scene, const PlanContext& context,
                                                      const PlanRequest& request, PlanFaults& faults) {
  const Stop& stop = context.stop;
  auto shot = std::make_unique<PlannedShot>();
  shot->scene = std::move(scene);
  shot->policy = &context.policy;
  shot->style = &context.style;
  shot->budgets = request.budgets;
  StageTimer timer(shot->clocks);

  shot->optics = OpticsOf(shot->scene, context.policy.catalogue, context.style);
  shot->legibility = MeasureShot(shot->optics, request.threads, stop, context.progress);
  if (stop.Requested()) return Stopped(stop);
  timer.Ended("measuring");

  shot->holds = AssignHolds(shot->optics, shot->legibility, request.holds);
  if (stop.Requested()) return Stopped(stop);
  timer.Ended("holding");

  shot->costs = PriceTiers({shot->scene, shot->legibility, shot->holds, context.policy, context.style});
  if (stop.Requested()) return Stopped(stop);
  timer.Ended("pricing");

  if (absl::Status chosen = Choose(stop, *shot, faults); !chosen.ok()) return chosen;
  timer.Ended("choosing");

  if (context.progress) context.progress("solving", 0);
  if (absl::Status solved = SolvePlan(request, stop, *shot, faults); !solved.ok()) return solved;
  timer.Ended("solving");

  if (context.progress) context.progress("answering", 0);
  shot->plan = AnswerOf(shot->input());
  timer.Ended("answering");
  return shot;
}

}  // namespace scantling
