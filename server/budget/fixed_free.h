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

enum class Paid : uint8_t { kUndecided, kYes, kNo };
using PaidChoice = std::vector<Paid>;  // per fixed cost of the problem

// Which fixed costs a plan pays. O(users).
std::vector<uint8_t> PaidBy(const Problem& problem, const std::vector<uint8_t>& level);

// Sets loss, used and paid from the levels. O(n * K).
void SumUp(const Problem& problem, Solution* solution);

// Takes the levels that unpaid fixed costs need out of `sets`, prunes and reaches them. False where no plan is left.
// `place`: per node of the problem its node of the Core. O(n + users).
bool RemoveUnpaid(const Core& core, const std::vector<FixedCost>& fixed, const std::vector<int32_t>& place,
                  const PaidChoice& choice, std::vector<uint8_t>* sets);

// Per node of the problem, its node of the Core that CoreOf() made of it.
std::vector<int32_t> PlacesOf(const Core& core);

struct FreePlan {
  std::vector<uint8_t> level;  // per node of the problem
  bool proved = false;         // it is the first in the whole order; else the search ended at its limit
};

// The first plan in the order loss, money (fixed costs counted), sum of levels, tie. The loss is the least whether
// `proved` or not. `core`: of the problem, pruned and reached; at most `visits` states are looked at. nullopt: stopped.
std::optional<FreePlan> LeastLossThenMoney(const Core& core, const Problem& problem, int64_t visits, const Stop& stop);

// A proved lower bound on what any plan uses of resource k, fixed costs counted; the least itself where the search
// could prove it. `core` as above.
int64_t LeastUseOf(const Core& core, const Problem& problem, int k);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_FREE_H_
