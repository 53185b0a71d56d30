// Stages up to choice once, the unseen plan for the loose end, the least use for the tight end, then point after point.
//
// Limits of crowds and frames come in as they are violated, like in a plan: the point that violates one is solved again
// with it, and so are all that follow.

#include "server/planning/trace_frontier.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/answer/reason.h"
#include "server/budget/alike.h"
#include "server/budget/frontier.h"
#include "server/planning/no_plan.h"
#include "server/planning/prepare.h"
#include "server/planning/shot_solver.h"

namespace scantling {
namespace {

constexpr std::array<LimitKind, 3> kHours = {LimitKind::kAnimHours, LimitKind::kCoreHours, LimitKind::kOtherHours};
constexpr std::array<std::optional<double> Budgets::*, 3> kBudget = {&Budgets::anim_hours, &Budgets::core_hours,
                                                                     &Budgets::other_hours};
// Points are many and near one another: their plans are looked for by exchanges alone.
constexpr int64_t kNoBranching = 0;

double Hours(int64_t quanta) { return static_cast<double>(quanta) * kHoursQuantum; }

// The budgets that are swept, as indices of kHours.
std::vector<size_t> SweptBy(Along along) {
  if (along == Along::kBoth) return {kAnimHours, kCoreHours};
  return {static_cast<size_t>(along)};
}

class Tracing {
 public:
  Tracing(PlannedShot& shot, const FrontierRequest& request, const Stop& stop, const PointSink& sink)
      : shot_(shot), request_(request), stop_(stop), sink_(sink), solver_(shot, stop), swept_(SweptBy(request.along)) {}

  absl::Status Run(Frontier& frontier) {
    frontier.shot_id = shot_.scene.shot_id;
    frontier.style = shot_.style->name;
    if (absl::Status status = FindLooseEnd(frontier); !status.ok()) return status;
    if (absl::Status status = SetPoints(frontier); !status.ok()) return status;
    while (next_ < frontier.points.size()) {
      if (absl::Status status = SweepOn(frontier); !status.ok()) return status;
    }
    frontier.knee = KneeOf(frontier.points);
    return absl::OkStatus();
  }

 private:
  // The limits that are not swept.
  Budgets Staying() const {
    Budgets budgets = request_.plan.budgets;
    for (const size_t k : swept_) budgets.*kBudget[k] = std::nullopt;
    return budgets;
  }

  // The least of the swept budgets at which no more is lost than with all the money in the world: among the plans of
  // least loss the one that uses least of them.
  absl::Status FindLooseEnd(Frontier& frontier) {
    budget::Problem& problem = shot_.choice.problem;
    const std::vector<int64_t> money = problem.money;
    if (request_.along != Along::kBoth) {
      std::fill(problem.money.begin(), problem.money.end(), 0);
      problem.money[swept_[0]] = 1;
    }
    absl::StatusOr<budget::StableSolution> unseen = solver_.Solve({});
    const size_t given = std::min(money.size(), problem.money.size());
    std::copy_n(money.begin(), given, problem.money.begin());
    if (!unseen.ok()) return unseen.status();
    for (const size_t k : swept_) most_[k] = unseen->solution.used[k];
    if (!Within(unseen->solution, Staying())) return absl::OkStatus();
    Budgets nothing_lost = Staying();
    for (const size_t k : swept_) nothing_lost.*kBudget[k] = Hours(most_[k]);
    frontier.nothing_lost = nothing_lost;
    return absl::OkStatus();
  }

  bool Within(const budget::Solution& solution, const Budgets& budgets) const {
    for (size_t k = 0; k < kHours.size() && k < solution.used.size(); ++k) {
      if (shot_.choice.resources[k].kind != kHours[k] || !(budgets.*kBudget[k])) continue;
      if (solution.used[k] > HoursQuanta(*(budgets.*kBudget[k]))) return false;
    }
    if (!budgets.memory_mb) return true;
    const std::vector<double> memory = MemoryByFrame(shot_.pricing(), TiersByRow(shot_.choice, solution));
    return std::none_of(memory.begin(), memory.end(), [&](double mb) { return mb > *budgets.memory_mb; });
  }

  // Evenly from the loose end to the tight one, in quanta.
  absl::Status SetPoints(Frontier& frontier) {
    absl::StatusOr<std::vector<int64_t>> least = budget::LeastUse(shot_.choice.problem);
    if (!least.ok()) return least.status();
    std::array<int64_t, 3> tight = {};
    for (const size_t k : swept_) tight[k] = (*least)[k];
    if (request_.along != Along::kBoth) {
      const size_t k = swept_[0];
      if (request_.most_hours) most_[k] = HoursQuanta(*request_.most_hours);
      if (request_.least_hours) tight[k] = HoursQuanta(*request_.least_hours);
      if (tight[k] > most_[k]) {
        return absl::OutOfRangeError(absl::StrCat("the sweep would go from ", Hours(most_[k]), " hours down to ",
                                                  Hours(tight[k]), ", want an end below its beginning"));
      }
    }
    for (int32_t i = 0; i < request_.points; ++i) {
      FrontierPoint point;
      point.index = i;
      point.limits = Staying();
      for (const size_t k : swept_) {
        const double share = static_cast<double>(i) / (request_.points - 1);
        const auto down = static_cast<int64_t>(share * static_cast<double>(most_[k] - tight[k]));
        point.limits.*kBudget[k] = Hours(i + 1 == request_.points ? tight[k] : most_[k] - down);
      }
      frontier.points.push_back(point);
    }
    return absl::OkStatus();
  }

  // From point next_ on, until the end or until a plan violates a limit the problem did not have.
  absl::Status SweepOn(Frontier& frontier) {
    std::vector<budget::CapacityPoint> capacities;
    for (size_t i = next_; i < frontier.points.size(); ++i) {
      solver_.SetCapacities(frontier.points[i].limits);
      capacities.push_back(shot_.choice.problem.capacity);
    }
    absl::Status failed;
    budget::Effort effort = EffortFor(shot_.choice.problem, request_.plan.target_gap);
    effort.branch_nodes = kNoBranching;
    const size_t first = next_;
    const auto take = [&](int64_t at, const absl::StatusOr<budget::Solution>& solution) {
      FrontierPoint& point = frontier.points[first + static_cast<size_t>(at)];
      failed = Take(solution, point);
      if (!failed.ok() || again_) return false;
      if (point.index > 0) SetPricePerStep(frontier.points[static_cast<size_t>(point.index) - 1], point);
      ++next_;
      if (sink_) sink_(point);
      return true;
    };
    again_ = false;
    const absl::Status swept = Sweep(capacities, effort, take);
    if (!failed.ok()) return failed;
    return swept;
  }

  absl::Status Sweep(const std::vector<budget::CapacityPoint>& capacities, const budget::Effort& effort,
                     const budget::FrontierSink& take) {
    const budget::Problem& problem = shot_.choice.problem;
    if (shot_.choice.group.empty()) return budget::TraceFrontier(problem, capacities, effort, stop_, take);
    const absl::StatusOr<budget::Alike> alike = budget::MergeAlike(problem, shot_.choice.group);
    if (!alike.ok()) return alike.status();
    return budget::TraceFrontier(alike->problem, capacities, effort, stop_,
                                 [&](int64_t at, const absl::StatusOr<budget::Solution>& solution) {
                                   if (!solution.ok()) return take(at, solution);
                                   return take(at, budget::SpreadAlike(*alike, *solution));
                                 });
  }

  // Sets again_ where the plan violates a limit that now stands in the problem.
  absl::Status Take(const absl::StatusOr<budget::Solution>& solution, FrontierPoint& point) {
    if (absl::IsFailedPrecondition(solution.status())) return absl::OkStatus();
    if (!solution.ok()) return solution.status();
    const absl::StatusOr<bool> more = solver_.AddViolated(*solution, point.limits);
    if (!more.ok()) return more.status();
    again_ = *more;
    if (again_) return absl::OkStatus();
    point.fits = true;
    point.loss = static_cast<double>(solution->loss) * kLossQuantum;
    point.loss_bound = static_cast<double>(solution->bound) * kLossQuantum;
    point.gap = solution->gap();
    for (size_t k = 0; k < kHours.size() && k < solution->used.size(); ++k) {
      if (shot_.choice.resources[k].kind != kHours[k]) continue;
      point.used[k] = Hours(solution->used[k]);
      point.price[k] = solution->price[k] * kLossQuantum / kHoursQuantum;
    }
    Count(*solution, point);
    return absl::OkStatus();
  }

  void Count(const budget::Solution& solution, FrontierPoint& point) {
    shot_.solution.level = solution.level;
    const AnswerInput input = shot_.input();
    for (uint32_t node = 0; node < solution.level.size(); ++node) {
      ++point.count[solution.level[node]];
      point.needs_animation += NeedsAnimation(input, node);
    }
  }

  void SetPricePerStep(const FrontierPoint& looser, FrontierPoint& point) const {
    if (!point.fits) return;
    for (const size_t k : swept_) {
      point.price_per_step += point.price[k] * (*(looser.limits.*kBudget[k]) - *(point.limits.*kBudget[k]));
    }
  }

  PlannedShot& shot_;
  const FrontierRequest& request_;
  const Stop& stop_;
  const PointSink& sink_;
  ShotSolver solver_;
  const std::vector<size_t> swept_;
  std::array<int64_t, 3> most_ = {};  // of the swept budgets, in quanta
  size_t next_ = 0;                   // the first point not yet found
  bool again_ = false;
};

}  // namespace

std::optional<int32_t> KneeOf(const std::vector<FrontierPoint>& points) {
  std::optional<int32_t> knee;
  double largest = 0;
  for (size_t i = 1; i < points.size(); ++i) {
    if (!points[i].fits || !points[i - 1].fits) continue;
    const double drop = points[i].price_per_step - points[i - 1].price_per_step;
    if (drop <= largest) continue;
    largest = drop;
    knee = points[i - 1].index;
  }
  return knee;
}

absl::StatusOr<Frontier> TraceShotFrontier(Scene scene, const PlanContext& context, const FrontierRequest& request,
                                           const PointSink& sink, PlanFaults& faults) {
  if (request.along == Along::kOtherHours && context.policy.rates.other_department.empty()) {
    return absl::FailedPreconditionError("the rate card has no third department to sweep over");
  }
  PlannedShot shot;
  Frontier frontier;
  StageTimer timer(shot.clocks);
  if (absl::Status status = Prepare(std::move(scene), context, request.plan, timer, shot, faults); !status.ok()) {
    return status;
  }
  if (context.progress) context.progress("solving", 0);
  Tracing tracing(shot, request, context.stop, sink);
  if (absl::Status status = tracing.Run(frontier); !status.ok()) {
    if (absl::IsFailedPrecondition(status)) faults.no_plan = WhatWouldFit(shot, context.stop);
    return status;
  }
  timer.Ended("solving");
  frontier.clocks = shot.clocks;
  return frontier;
}

}  // namespace scantling
