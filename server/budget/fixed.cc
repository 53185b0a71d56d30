// The two entries, and what they share: no capacity heard first, for that is the answer wherever it fits.

#include "server/budget/fixed.h"

#include <optional>

#include "server/budget/fixed_free.h"
#include "server/budget/fixed_search.h"
#include "server/budget/fixed_terms.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

absl::Status Stopped(const Stop& stop) {
  return stop.Cancelled() ? absl::CancelledError("cancelled before any plan was found")
                          : absl::DeadlineExceededError("the deadline passed before any plan was found");
}

// False where the masks admit no plan.
bool OpenCore(const Problem& problem, Core* core) {
  *core = CoreOf(problem);
  if (!PruneSets(core->parent, core->sets)) return false;
  ReachSets(core->parent, core->sets);
  return true;
}

absl::Status NoPlan() {
  return absl::FailedPreconditionError("the allowed levels admit no plan: some node cannot follow its ancestors");
}

bool FitsAll(const Problem& problem, const std::vector<int64_t>& used) {
  for (int k = 0; k < problem.resources; ++k) {
    if (problem.capacity[k] && used[k] > *problem.capacity[k]) return false;
  }
  return true;
}

}  // namespace

absl::StatusOr<Solution> SolveWithFixedCosts(const Problem& problem, const Effort& effort, const Stop& stop) {
  if (stop.Requested()) return Stopped(stop);
  Core core;
  if (!OpenCore(problem, &core)) return NoPlan();
  const std::optional<FreePlan> free = LeastLossThenMoney(core, problem, effort.branch_nodes, stop);
  if (!free) return Stopped(stop);
  Solution solution;
  solution.level = free->level;
  SumUp(problem, &solution);
  if (FitsAll(problem, solution.used)) {
    solution.bound = solution.loss;
    solution.proved_optimal = true;
    solution.price.assign(problem.resources, 0.0);
    return solution;
  }
  // The plan's loss is the least of all; what it uses, fixed costs apart, is what its rows use.
  std::vector<uint8_t> level(core.size());
  for (int32_t i = 0; i < core.size(); ++i) level[i] = free->level[core.origin.empty() ? i : core.origin[i]];
  return SearchPaid(problem, core, Total(core, level), effort, stop);
}

absl::StatusOr<std::vector<int64_t>> LeastUseWithFixedCosts(const Problem& problem) {
  Core core;
  if (!OpenCore(problem, &core)) return NoPlan();
  std::vector<int64_t> least;
  for (int k = 0; k < problem.resources; ++k) least.push_back(LeastUseOf(core, problem, k));
  return least;
}

}  // namespace scantling::budget
