// Exact search by merging lists: tree by tree, every way to use the capacities that may still lead to a better plan.
//
// Of plans that use the same only the one of least loss is kept. Where nodes are alike (hundreds of copies of a few
// assets) nearly all plans use what some other plan uses, and a few thousand are left of all; branch and bound would
// look at each. Where no two nodes are alike the lists grow beyond any limit, and the search gives up.

#ifndef SCANTLING_SERVER_BUDGET_MERGE_H_
#define SCANTLING_SERVER_BUDGET_MERGE_H_

#include <cstdint>
#include <optional>

#include "server/budget/dual.h"
#include "server/budget/recover.h"

namespace scantling::budget {

struct MergeResult {
  bool finished = false;     // every plan within the window was looked at; otherwise the limit or the stop came first
  int64_t made = 0;          // states made
  std::optional<Plan> best;  // finished: the plan of least loss within the window, where there is one
};

// Looks at every plan that fits and whose loss, weighted, is at most `bound` + `window`: bound is the dual of `core` at
// `prices`, exact. Gives up after `most` states. More than four limited resources: gives up at once. Deterministic.
MergeResult MergeLists(const Core& core, const Capacities& capacity, const Prices& prices, Wide window, int64_t most,
                       const Stop& stop);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_MERGE_H_
