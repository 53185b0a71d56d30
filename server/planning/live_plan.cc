// Planning a live shot: the stages after measuring are run over all objects (some half a microsecond an object), but
// for the solver, which starts from what it solved last.
//
// Unseen plans have no capacities, so only trees with a change are solved again: exact. A plan within hours is solved
// warm, within the limits of crowds that bounded the last one: prices, plan and bound are taken over and mended, and
// the gap is told. With alike groups, an earlier plan, a memory limit or set-ups shared it is solved from scratch.
//
// After Finish the warm solver starts from the final plan, so that the next settled plan is near what was shown.

#include <algorithm>
#include <numeric>
#include <utility>

#include "server/budget/trees.h"
#include "server/planning/findings.h"
#include "server/planning/live_shot.h"
#include "server/planning/live_solved.h"
#include "server/planning/no_plan.h"
#include "server/planning/prepare.h"

namespace scantling {
namespace {

// For settled plans: the dual, its recovery and the quick exchanges. What is left of the gap is told, and closed by the
// final plan. Of the demonstration shot of 100,000 objects a settled plan took 0.3 to 2.7 s at 1e-4, most of it spent
// on solving from scratch what had missed that gap; at 1e-3 the worst in a hundred 0.6 s, at 5e-3 0.1 to 0.2 s, and the
// gaps it ended with stayed at 1e-4 to 4e-4 (medians).
constexpr double kSettledGap = 5e-3;

budget::Effort SettledEffort(double target_gap) {
  budget::Effort effort;
  effort.target_gap = std::max(target_gap, kSettledGap);
  effort.branch_nodes = 0;
  effort.openings = 1;
  return effort;
}

// Per node of `now`: the node it was; -1: none.
std::vector<int32_t> NodesBefore(const Choice& now, const Choice& before, const std::vector<uint32_t>& row_was) {
  std::vector<int32_t> was(now.row_of_node.size(), -1);
  for (size_t node = 0; node < was.size(); ++node) {
    const uint32_t row = row_was[now.row_of_node[node]];
    if (row != kNone) was[node] = static_cast<int32_t>(before.node_of_row[row]);
  }
  return was;
}

}  // namespace

bool LiveShot::HasLast(uint32_t row) const { return solved_->any && solved_->row_was[row] != kNone; }

Tier LiveShot::LastTier(uint32_t row) const {
  return static_cast<Tier>(solved_->solution.level[solved_->choice.node_of_row[solved_->row_was[row]]]);
}

// Moves what was solved out of the way of what will be.
void LiveShot::Retire() {
  if (!solved_->in_shot) return;
  solved_->in_shot = false;
  solved_->choice = std::move(shot_.choice);
  solved_->costs = std::move(shot_.costs);
  solved_->solution = std::move(shot_.solution);
  solved_->unseen = std::move(shot_.unseen);
}

// Nodes whose trees are not those of the problem solved last, or that were measured or sent again since.
std::vector<uint8_t> LiveShot::ChangedNodes(const std::vector<int32_t>& was) const {
  const budget::Problem &now = shot_.choice.problem, &then = solved_->choice.problem;
  if (now.resources != then.resources || now.money != then.money) return std::vector<uint8_t>(was.size(), 1);
  std::vector<uint8_t> changed = budget::ChangedTrees(now, was, then);
  // Losses at other phi scales are not in the problem; they change only by measuring.
  for (size_t node = 0; node < changed.size(); ++node)
    changed[node] |= solved_->unsolved[shot_.choice.row_of_node[node]];
  return changed;
}

absl::Status LiveShot::Plan(const PlanRequest& request, const Stop& stop, PlanFaults& faults, bool warm) {
  Retire();
  shot_.clocks.clear();
  shot_.budgets = request.budgets;
  used_warm_ = false;
  shot_.clocks.push_back({"measuring", std::exchange(measured_ms_, 0.0)});
  StageTimer timer(shot_.clocks);
  if (absl::Status chosen = HoldPriceChoose(request, stop, timer, shot_, faults); !chosen.ok()) return chosen;

  SolveWays ways;
  const int resources = shot_.choice.problem.resources;
  const bool can_warm = shot_.choice.problem.fixed.empty();
  std::optional<budget::WarmSolver> started;
  std::vector<uint8_t> changed;
  std::vector<int32_t> was;
  if (warm && solved_->any) {
    // What is solved from scratch must meet its limits as it would without us.
    if (can_warm && !request.alike && request.earlier.empty()) ways.limits = solved_->choice.resources;
    was = NodesBefore(shot_.choice, solved_->choice, solved_->row_was);
    changed = ChangedNodes(was);
    ways.unseen = [&](int phi, const budget::Problem& problem,
                      const budget::Effort& effort) -> absl::StatusOr<budget::Solution> {
      if (problem.resources != resources || !problem.fixed.empty()) return budget::Solve(problem, effort, stop);
      const std::vector<uint8_t>& before = solved_->unseen[static_cast<size_t>(phi)].level;
      std::vector<uint8_t> level(was.size(), 0);
      for (size_t node = 0; node < was.size(); ++node) {
        if (was[node] >= 0) level[node] = before[static_cast<size_t>(was[node])];
      }
      return budget::SolveChangedTrees(problem, changed, std::move(level), stop);
    };
  }
  ways.plan = [&](const budget::Problem& problem, const budget::Effort& effort) -> absl::StatusOr<budget::Solution> {
    started.reset();
    used_warm_ = warm;
    if (!can_warm || !problem.fixed.empty()) {
      used_warm_ = false;
      return budget::Solve(problem, effort, stop);
    }
    if (warm && solved_->warm && solved_->warm->problem().resources == problem.resources) {
      // On an error its problem is the new one and its solution void: it starts from scratch the next time.
      absl::Status solved = solved_->warm->Rebase(problem, was, stop);
      started = std::move(solved_->warm);
      solved_->warm.reset();
      if (!solved.ok()) return solved;
      return started->solution();
    }
    absl::StatusOr<budget::WarmSolver> fresh =
        budget::WarmSolver::Start(problem, warm ? SettledEffort(request.target_gap) : effort, stop);
    if (!fresh.ok()) return fresh.status();
    started = *std::move(fresh);
    return started->solution();
  };
  absl::Status solved = SolveChoice(request, stop, ways, shot_);
  // What was cut short is of no use: there will be another plan.
  if (solved.ok()) solved = StopStatus(stop);
  if (!solved.ok()) {
    if (absl::IsFailedPrecondition(solved)) faults.no_plan = WhatWouldFit(shot_, stop);
    return solved;
  }
  timer.Ended("solving");
  if (!warm) solved_->twins.clear();
  AnswerShot(request.threads, stop, shot_, &solved_->twins, solved_->unsolved);
  if (absl::Status status = StopStatus(stop); !status.ok()) return status;
  timer.Ended("answering");

  if (started && started->problem().resources == shot_.choice.problem.resources) {
    started->SetEffort(SettledEffort(request.target_gap));
    solved_->warm = std::move(started);
  } else {
    solved_->warm.reset();
  }
  solved_->any = solved_->in_shot = true;
  solved_->row_was.resize(stale_.size());
  std::iota(solved_->row_was.begin(), solved_->row_was.end(), 0u);
  solved_->unsolved.assign(stale_.size(), 0);
  return absl::OkStatus();
}

absl::StatusOr<bool> LiveShot::Settle(const PlanRequest& request, const Stop& stop, PlanFaults& faults) {
  if (absl::Status planned = Plan(request, stop, faults, true); !planned.ok()) return planned;
  return !used_warm_;
}

absl::Status LiveShot::Finish(const PlanRequest& request, const Stop& stop, PlanFaults& faults) {
  return Plan(request, stop, faults, false);
}

}  // namespace scantling
