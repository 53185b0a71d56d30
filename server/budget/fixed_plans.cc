// One copy of the problem is kept and restricted anew for each set: the levels that unpaid terms need leave the users'
// masks, what is paid comes off the capacities.
//
// A set may contain terms that its plan turns out not to need. The plan is then counted as what it pays, so it may fit
// better, and be better than the set promised; among plans of one loss the one of less money is kept.

#include "server/budget/fixed_plans.h"

#include <algorithm>
#include <utility>

#include "server/budget/branch.h"
#include "server/budget/pricing.h"

namespace scantling::budget {
namespace {

int64_t MoneyOf(const Problem& problem, const Solution& solution) {
  int64_t money = 0;
  for (int k = 0; k < problem.resources; ++k) money += problem.money[k] * solution.used[k];
  return money;
}

}  // namespace

PaidPlans::PaidPlans(const Problem& problem, const Core& core, const std::vector<Term>& terms, const Stop& stop)
    : problem_(problem), core_(core), terms_(terms), stop_(stop), restricted_(problem) {
  restricted_.fixed.clear();
  worst_ = core.base_loss;
  for (int32_t i = 0; i < core.size(); ++i) worst_ += *std::max_element(core.LossRow(i), core.LossRow(i) + kLevels);
}

// False where a node is left without a level, or the paid terms alone are too much.
bool PaidPlans::Restrict(const std::vector<uint8_t>& paid) {
  restricted_.allowed = problem_.allowed;
  restricted_.capacity = problem_.capacity;
  for (size_t a = 0; a < terms_.size(); ++a) {
    if (paid[a] != 0) {
      for (int k = 0; k < problem_.resources; ++k) {
        if (restricted_.capacity[k] && (*restricted_.capacity[k] -= terms_[a].cost[k]) < 0) return false;
      }
      continue;
    }
    for (const FixedCost::User& user : terms_[a].users) {
      const int32_t node = core_.origin.empty() ? user.node : core_.origin[user.node];
      if ((restricted_.allowed[node] &= static_cast<uint8_t>(~user.levels)) == 0) return false;
    }
  }
  return true;
}

PaidPlans::Proof PaidPlans::Try(const std::vector<uint8_t>& paid, const Effort& effort) {
  Proof proof;
  if (effort.branch_nodes == 0) {
    const auto [at, is_new] = tried_.try_emplace(std::vector<bool>(paid.begin(), paid.end()), effort.target_gap);
    if (!is_new && at->second <= effort.target_gap) return proof;
    at->second = effort.target_gap;
  }
  if (!Restrict(paid)) {
    proof.none = true;
    return proof;
  }
  absl::StatusOr<Solution> solution = Solve(restricted_, effort, stop_);
  if (!solution.ok()) {
    proof.none = ProvesNone(effort);
    return proof;
  }
  proof.bound = solution->bound;
  proof.branched = solution->branched;
  Take(*std::move(solution));
  return proof;
}

void PaidPlans::Offer(const std::vector<uint8_t>& core_level) {
  Solution solution;
  solution.level.resize(core_level.size());
  for (int32_t i = 0; i < core_.size(); ++i) {
    solution.level[core_.origin.empty() ? i : core_.origin[i]] = core_level[i];
  }
  Take(std::move(solution));
}

void PaidPlans::Take(Solution solution) {
  SumUp(problem_, &solution);
  for (int k = 0; k < problem_.resources; ++k) {
    if (problem_.capacity[k] && solution.used[k] > *problem_.capacity[k]) return;
  }
  if (best_) {
    if (solution.loss > best_->loss) return;
    if (solution.loss == best_->loss && MoneyOf(problem_, solution) >= MoneyOf(problem_, *best_)) return;
  }
  best_ = std::move(solution);
}

std::vector<uint8_t> PaidPlans::BestPaid() const {
  std::vector<uint8_t> level(core_.size());
  for (int32_t i = 0; i < core_.size(); ++i) level[i] = best_->level[core_.origin.empty() ? i : core_.origin[i]];
  std::vector<uint8_t> paid;
  for (const Term& term : terms_) paid.push_back(Pays(term, level) ? 1 : 0);
  return paid;
}

int64_t PaidPlans::Limit(double target_gap) const {
  if (!best_) return worst_ + 1;
  return best_->loss - static_cast<int64_t>(target_gap * static_cast<double>(best_->loss));
}

// After a Solve() that found no plan of restricted_: whether there is none.
bool PaidPlans::ProvesNone(const Effort& effort) const {
  Core core = CoreOf(restricted_);
  RemoveOversized(restricted_.capacity, &core);
  if (!PruneSets(core.parent, core.sets)) return true;
  ReachSets(core.parent, core.sets);
  const Frugal frugal = FindFrugal(core, restricted_.capacity, stop_);
  if (frugal.impossible) return true;
  if (effort.branch_nodes == 0 || core.size() > effort.branch_size) return false;
  BranchOptions options;
  options.high = HighestPrices(core, restricted_.capacity, frugal.closest, nullptr);
  options.start.loss_weight = options.high.loss_weight;
  options.nodes = effort.branch_nodes;
  std::optional<Plan> plan;
  return Branch(core, restricted_.capacity, options, stop_, &plan).exhausted && !plan;
}

}  // namespace scantling::budget
