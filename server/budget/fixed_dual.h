// The best prices where some costs are paid once.
//
// The same search as MaximiseDual's on another function: at each point the bound is that of a LinkedPass, and the plane
// above it is a plan in which every link holds, so that both close in on the best bound that pricing the capacities
// alone could prove.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_DUAL_H_
#define SCANTLING_SERVER_BUDGET_FIXED_DUAL_H_

#include <cstdint>
#include <optional>
#include <vector>

#include "server/budget/dual.h"
#include "server/budget/fixed_pass.h"
#include "server/budget/fixed_terms.h"
#include "server/budget/recover.h"
#include "server/units/stop.h"

namespace scantling::budget {

// A plan in which every link holds. Its totals count what it pays and what the choice pays anyway.
struct LinkedCut {
  Outcome outcome;
  std::vector<uint8_t> paid;  // per term
  double share = 0;           // its part in the mixture that is optimal for the relaxed problem
};

struct LinkedOptions {
  Prices start, low, high;  // low <= start <= high; loss_weight alike; resources without capacity all 0
  int max_passes = 40;
  int steps = 0;                 // of LinkedPass::Raise at each point
  double tolerance = 0.25;       // ends where no price in the box can raise the bound by more, in units of loss
  std::optional<Wide> enough;    // ends where the bound reaches this
  std::vector<uint8_t> guess;    // per term: expected to be paid
  Multipliers w;                 // of other prices or decisions, to start from; may be empty
  std::vector<LinkedCut> known;  // plans that the choice allows, for free
};

struct LinkedDual {
  Prices prices;                         // the best met
  Wide bound = 0;                        // at those prices, weighted
  std::vector<Wide> if_paid, if_unpaid;  // per undecided term: bounds of the plans that pay it, that do not
  std::vector<uint8_t> guess;            // per term: what w suggests at the best prices
  Multipliers w;                         // at the best prices
  std::vector<LinkedCut> cuts;
  std::optional<Plan> plan;  // the one of least loss among those met that fit, totals as of a LinkedCut
  int passes = 0;            // points evaluated
  bool interrupted = false;
  bool evaluated = false;  // at least one pass was completed, so that `bound` means something
};

// Searches inside the box. `core`: pruned and reached, without the levels that unpaid terms need. Deterministic.
LinkedDual MaximiseLinkedDual(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice,
                              const Capacities& capacity, const LinkedOptions& options, const Stop& stop);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_DUAL_H_
