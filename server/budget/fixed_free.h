// Fixed costs where no capacity is heard: the plan of least loss and then least money, and the least use of a resource.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_FREE_H_
#define SCANTLING_SERVER_BUDGET_FIXED_FREE_H_

#include <cstdint>
#include <optional>
#include <vector>

#include "server/budget/budget.h"
#include "server/budget/core.h"
#include "server/units/stop.h"

namespace scantling::budget {

struct FreePlan {
  std::vector<uint8_t> level;  // per node of the problem
  bool proved = false;         // it is the first in the whole order; else the search ended at its limit
};

// The first plan in the order loss, money (fixed costs counted), sum of levels, tie. The loss is the least whether
// `proved` or not. `core`: of the problem, pruned and reached; at most `visits` states are branched on. nullopt:
// stopped before any plan.
std::optional<FreePlan> LeastLossThenMoney(const Core& core, const Problem& problem, int64_t visits, const Stop& stop);

// A proved lower bound on what any plan uses of resource k, fixed costs counted; the least itself where the search
// could prove it. `core` as above.
int64_t LeastUseOf(const Core& core, const Problem& problem, int k);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_FREE_H_
