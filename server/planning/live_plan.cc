// Planning a live shot: the stages after measuring are run over all objects (some half a microsecond an object), but
// for the solver, which starts from what it solved last.
//
// Unseen plans have no capacities, so only trees with a change are solved again: exact. A plan within hours is solved
// warm: its prices, plan and bound are taken over and mended, and the gap is told. Whatever else limits the plan
// (crowds' shares, memory, set-ups shared, alike groups, an earlier plan) is solved from scratch.
//
// After Finish the warm solver starts from the final plan, so that the next settled plan is near what was shown.

#include <algorithm>
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

bool SameRows(const budget::Problem& a, size_t i, const budget::Problem& b, size_t j) {
  const size_t row = static_cast<size_t>(budget::kLevels) * static_cast<size_t>(a.resources);
  const auto at = [](const std::vector<int64_t>& column, size_t place) {
    return column.begin() + static_cast<std::ptrdiff_t>(place);
  };
  return a.allowed[i] == b.allowed[j] && a.tie[i] == b.tie[j] &&
         std::equal(at(a.loss, i * budget::kLevels), at(a.loss, (i + 1) * budget::kLevels),
                    at(b.loss, j * budget::kLevels)) &&
         std::equal(at(a.cost, i * row), at(a.cost, (i + 1) * row), at(b.cost, j * row));
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

// Nodes whose rows, masks or parents are not those of the problem solved last, and those that children left.
std::vector<uint8_t> LiveShot::ChangedNodes() const {
  const budget::Problem &now = shot_.choice.problem, &then = solved_->choice.problem;
  std::vector<uint8_t> changed(static_cast<size_t>(now.size()), 1);
  if (!solved_->any || now.resources != then.resources || now.money != then.money) return changed;
  const std::vector<int32_t> was = NodesBefore(shot_.choice, solved_->choice, solved_->row_was);
  std::vector<int32_t> children(then.parent.size(), 0);
  for (const int32_t parent : then.parent) {
    if (parent >= 0) ++children[static_cast<size_t>(parent)];
  }
  for (size_t node = 0; node < changed.size(); ++node) {
    const int32_t parent = now.parent[node];
    const int32_t parent_was = parent < 0 ? -1 : was[static_cast<size_t>(parent)];
    if (parent_was >= 0) --children[static_cast<size_t>(parent_was)];
    if (was[node] < 0 || solved_->unsolved[shot_.choice.row_of_node[node]] != 0) continue;
    const auto then_node = static_cast<size_t>(was[node]);
    const bool same_parent =
        (parent < 0 && then.parent[then_node] < 0) || (parent_was >= 0 && then.parent[then_node] == parent_was);
    changed[node] = !(same_parent && SameRows(now, node, then, then_node));
  }
  for (size_t node = 0; node < changed.size(); ++node) {
    if (was[node] >= 0 && children[static_cast<size_t>(was[node])] != 0) changed[node] = 1;
  }
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
    ways.limits = solved_->choice.resources;
    changed = ChangedNodes();
    was = NodesBefore(shot_.choice, solved_->choice, solved_->row_was);
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
  AnswerShot(request.threads, stop, shot_, warm ? &solved_->twins : nullptr, solved_->unsolved);
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
  for (uint32_t row = 0; row < solved_->row_was.size(); ++row) solved_->row_was[row] = row;
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
