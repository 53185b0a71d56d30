// The steps of Solve() before a plan is built: is there any plan, and what are the best prices.

#ifndef SCANTLING_SERVER_BUDGET_PRICING_H_
#define SCANTLING_SERVER_BUDGET_PRICING_H_

#include <cstdint>
#include <optional>

#include "server/budget/dual.h"
#include "server/budget/recover.h"

namespace scantling::budget {

// A plan of little use, or the proof that there is none.
struct Frugal {
  std::optional<Plan> plan;  // fits; nullopt: none was met
  bool impossible = false;   // proved: no plan fits, not even a mixture of plans
  bool interrupted = false;
  Outcome closest;  // totals of the plan met that goes least beyond the capacities
};

// Weighs each resource by its capacity and takes the plan of least use; where that does not fit, moves the weights
// until some plan does or none can. `core` must be pruned and reached.
Frugal FindFrugal(const Core& core, const Capacities& capacity, const Stop& stop);

// Every `step`-th tree, by hash of its root; `origin` indexes `core`. No constants. O(n).
Core SampleOf(const Core& core, uint64_t step);

// The integer scale of prices for a Core, and prices above which none is searched.
//
// `least` is the plan of least loss, `frugal` one that fits, where known: then no price above
// (frugal loss - least loss) / (capacity - frugal use) can be best.
Prices HighestPrices(const Core& core, const Capacities& capacity, const Outcome& least, const Outcome* frugal);

struct PricingOptions {
  Prices high;
  double tolerance = 0.25;     // see DualOptions
  std::vector<Outcome> known;  // totals of plans known beforehand
};

// The best prices of a Core of any size: large ones are first priced on a sample of their trees, and searched in full
// only around what that gave.
DualResult FindPrices(const Core& core, const Capacities& capacity, const PricingOptions& options, const Stop& stop);

// An excess that about `options` options of the Core do not exceed, besides the cheapest of every node. Estimated on a
// sample of the trees where the Core is large. At least 0.
Wide ExcessOf(const Core& core, const Prices& prices, int64_t options);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_PRICING_H_
