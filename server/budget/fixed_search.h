// The search over which costs are paid, where capacities bind.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_SEARCH_H_
#define SCANTLING_SERVER_BUDGET_FIXED_SEARCH_H_

#include <cstdint>

#include "absl/status/statusor.h"
#include "server/budget/budget.h"
#include "server/budget/core.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

// As SolveWithFixedCosts() where the plan of least loss, whose sums are `least`, does not fit. `core`: of the problem,
// pruned and reached.
absl::StatusOr<Solution> SearchPaid(const Problem& problem, const Core& core, const Outcome& least,
                                    const Effort& effort, const Stop& stop);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_SEARCH_H_
