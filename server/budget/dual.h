// The best prices: where the proved lower bound is highest.
//
// bound(P) = least over plans of loss_weight * loss + P . (used - capacity). It is concave in P and each plan met on
// the way is a plane above it (a cut). The search keeps the cuts, and asks a small linear programme where they allow
// most.

#ifndef SCANTLING_SERVER_BUDGET_DUAL_H_
#define SCANTLING_SERVER_BUDGET_DUAL_H_

#include <optional>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

using Capacities = std::vector<std::optional<int64_t>>;

struct DualOptions {
  Prices start, low, high;  // low <= start <= high; loss_weight alike; resources without capacity all 0
  int max_passes = 200;
  double tolerance = 0.25;     // ends where no price in the box can raise the bound by more, in units of loss
  std::optional<Wide> enough;  // ends where the bound reaches this
  std::vector<Outcome> known;  // totals of plans known beforehand: cuts for free
  bool keep_plans = false;     // keeps each cut's plan, and never shrinks the Core
};

struct Cut {
  Outcome outcome;
  std::vector<uint8_t> level;  // with keep_plans only
  double share = 0;            // its part in the mixture of plans that is optimal for the relaxed problem
};

struct DualResult {
  Prices prices;   // the best met
  Wide bound = 0;  // at those prices, weighted; rounded up and divided by loss_weight it bounds the loss
  std::vector<Cut> cuts;
  bool interrupted = false;  // the stop was requested; prices and bound are the best so far
  bool evaluated = false;    // at least one pass was completed, so that `bound` means something
};

// Searches inside the box. `core` must be pruned and reached. Deterministic.
DualResult MaximiseDual(const Core& core, const Capacities& capacity, const DualOptions& options, const Stop& stop);

// The value a plan gives the dual at `prices`: priced loss less the price of the capacities.
Wide LagrangianOf(const Prices& prices, const Outcome& outcome, const Capacities& capacity);

// Whether the plan's totals are within the capacities.
bool Fits(const Outcome& outcome, const Capacities& capacity);

// ceil(value / weight), weight > 0.
int64_t CeilingOf(Wide value, int64_t weight);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_DUAL_H_
