// Branching on what is paid.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_BRANCH_H_
#define SCANTLING_SERVER_BUDGET_FIXED_BRANCH_H_

#include <cstdint>
#include <vector>

#include "server/budget/budget.h"
#include "server/budget/core.h"
#include "server/budget/fixed_plans.h"
#include "server/budget/fixed_state.h"
#include "server/budget/fixed_terms.h"
#include "server/units/stop.h"

namespace scantling::budget {

struct PaidBranching {
  bool exhausted = false;  // every plan was visited or ruled out
  int64_t bound = 0;       // no plan has less loss, unless `plans` holds it; most where exhausted
  int64_t visited = 0;     // states, and branch-and-bound nodes within them
};

// Where the branching starts and what it works with. All must outlive it.
struct PaidSearchSpace {
  const Core& core;  // without what no plan can pay
  const std::vector<Term>& terms;
  PaidPricing& pricing;
  PaidPlans& plans;  // takes the plans that are found
};

// Best bound first from `root`, whose bounds per term are those of `dual`, until every state is within the target gap
// of the best plan or the effort is spent. Deterministic.
PaidBranching BranchOnPaid(const PaidSearchSpace& space, const PaidState& root, const LinkedDual& dual,
                           const Effort& effort, const Stop& stop);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_BRANCH_H_
