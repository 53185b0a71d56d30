// Settling ties of a finished plan where capacities bind.

#ifndef SCANTLING_SERVER_BUDGET_POLISH_H_
#define SCANTLING_SERVER_BUDGET_POLISH_H_

#include "server/budget/dual.h"
#include "server/budget/recover.h"

namespace scantling::budget {

// Changes single nodes of a plan that fits, to levels of equal loss and less money, or equal money and a lower level,
// as long as it still fits and no other node must follow. The loss never rises. O(n * K).
void Polish(const Core& core, const Problem& problem, const Capacities& capacity, Plan* plan);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_POLISH_H_
