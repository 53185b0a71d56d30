// A new plan that keeps to an earlier one.
//
// An earlier level is given up only where that gains more than the node's margin: every other row of the node carries
// the margin as further loss while the plan is looked for (gain = fall in loss + prices * fall in cost). The plan's
// loss, bound and prices are those of the unmodified problem. The answer depends on the earlier plan, on purpose; with
// every margin 0 it is Solve()'s. Both searches end on Effort's gap, so within it a change may gain less than its
// margin.

#ifndef SCANTLING_SERVER_BUDGET_STABLE_H_
#define SCANTLING_SERVER_BUDGET_STABLE_H_

#include <cstdint>
#include <functional>
#include <vector>

#include "absl/status/statusor.h"
#include "server/budget/budget.h"

namespace scantling::budget {

inline constexpr uint8_t kNoLevel = 255;

struct Earlier {
  std::vector<uint8_t> level;   // per node; kNoLevel: none. A level its mask no longer allows counts as none
  std::vector<int64_t> margin;  // per node, in units of loss, >= 0
};

struct StableSolution {
  Solution solution;         // loss of the unmodified rows; bound and prices of the unmodified problem; proved_optimal
                             // only where that loss is that bound
  Solution free;             // Solve() of the unmodified problem
  int64_t changed = 0;       // nodes with an earlier level that take another now
  int64_t free_changed = 0;  // the same for `free`
  // What keeping costs: solution.loss - free.loss, may be below 0 where the search ended on its gap.
};

// Errors as Solve(); INVALID_ARGUMENT where `earlier` has the wrong size, a level that is none, a margin < 0, or the
// largest losses and the margins that count (of levels still allowed) add up to more than kMaxTotal. Where the stop
// comes in the second search the answer is the first one's, marked as interrupted. Two solves at most.
absl::StatusOr<StableSolution> SolveStable(const Problem& problem, const Earlier& earlier, const Effort& effort,
                                           const Stop& stop);

// The same where the caller solves in a way of its own (alike groups merged, say); `solve` is asked for the unmodified
// problem first, then perhaps for the one with margins.
using SolveBy = std::function<absl::StatusOr<Solution>(const Problem& problem)>;
absl::StatusOr<StableSolution> SolveStable(const Problem& problem, const Earlier& earlier, const SolveBy& solve);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_STABLE_H_
