// Nodes that must take one level together.
//
// Merges each group into one node whose rows are the sums of its members' and whose mask is the intersection of theirs.
// All members must have the same parent (roots are siblings); what they hold moves under the merged node, whose level
// caps it just as theirs would have. A pure change of problem: whatever solves the merged one honours the groups.

#ifndef SCANTLING_SERVER_BUDGET_ALIKE_H_
#define SCANTLING_SERVER_BUDGET_ALIKE_H_

#include <cstdint>
#include <span>
#include <vector>

#include "absl/status/statusor.h"
#include "server/budget/budget.h"

namespace scantling::budget {

struct Alike {
  Problem problem;                 // nodes of one group are one node; the rest keep their relative order
  std::vector<int32_t> merged_of;  // per node of the original: its node in `problem`
};

// `group[i]` >= 0: the group of node i (any numbers); -1: on its own. The merged tie is the least of the members'.
// A fixed cost's users in one group become one user, its mask the union of theirs. Totals never grow. Among plans of
// one loss and one money the merged problem prefers lower levels counted per merged node. Errors: as Validate(problem);
// INVALID_ARGUMENT where `group` has the wrong size, or members have different parents (names two) or no level in
// common (names one and the group). O(n).
absl::StatusOr<Alike> MergeAlike(const Problem& problem, std::span<const int32_t> group);

// A solution of alike.problem as one of the original problem: loss, use, bound and prices are the same.
Solution SpreadAlike(const Alike& alike, const Solution& merged);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_ALIKE_H_
