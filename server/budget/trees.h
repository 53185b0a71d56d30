// Solving again without capacities: tree by tree.

#ifndef SCANTLING_SERVER_BUDGET_TREES_H_
#define SCANTLING_SERVER_BUDGET_TREES_H_

#include <cstdint>
#include <span>
#include <vector>

#include "absl/status/statusor.h"
#include "server/budget/budget.h"

namespace scantling::budget {

// Per node of `next`: 1 where its tree is not, node by node, one of `old`'s. `was[i]`: the node of `old` that node i
// was, -1: none; each at most once. Both problems have the same resources and money. O(n).
std::vector<uint8_t> ChangedTrees(const Problem& next, std::span<const int32_t> was, const Problem& old);

// Solve() of a problem without capacities and fixed costs of which an earlier solution is known: `level[i]` of node i,
// `changed[i]` 1 where its rows, mask or parent are others than they were then, or there was no such node. Without
// capacities trees have nothing to do with one another and ties are settled within them, so trees without a change keep
// their levels and the answer is Solve()'s to the last bit. Errors as Solve(); INVALID_ARGUMENT too where there are
// capacities or fixed costs, or the sizes do not agree. O(n + changed trees).
absl::StatusOr<Solution> SolveChangedTrees(const Problem& problem, std::span<const uint8_t> changed,
                                           std::vector<uint8_t> level, const Stop& stop);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_TREES_H_
