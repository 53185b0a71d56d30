// Branch and bound over a small Core.

#ifndef SCANTLING_SERVER_BUDGET_BRANCH_H_
#define SCANTLING_SERVER_BUDGET_BRANCH_H_

#include <cstdint>
#include <optional>

#include "server/budget/dual.h"
#include "server/budget/recover.h"

namespace scantling::budget {

struct BranchOptions {
  Prices start;           // near the best prices of the whole Core
  Prices high;            // no price is searched above these
  int64_t nodes = 0;      // at most
  double target_gap = 0;  // relative gap at which the search may end
};

struct BranchResult {
  bool exhausted = false;  // every plan was visited or ruled out
  bool interrupted = false;
  int64_t visited = 0;
  int64_t bound = 0;  // no plan of the Core within the capacities has less loss, unless *best has
};

// Looks for plans of less loss than *best (any plan where it is empty) and raises the bound. *best is replaced whenever
// a better plan is found. Best bound first; deterministic.
BranchResult Branch(const Core& core, const Capacities& capacity, const BranchOptions& options, const Stop& stop,
                    std::optional<Plan>* best);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_BRANCH_H_
