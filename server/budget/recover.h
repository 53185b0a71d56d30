// From a relaxed plan to one within the capacities, by exchanging a few choices at a time.

#ifndef SCANTLING_SERVER_BUDGET_RECOVER_H_
#define SCANTLING_SERVER_BUDGET_RECOVER_H_

#include <cstdint>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/dual.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

struct Plan {
  std::vector<uint8_t> level;
  Outcome outcome;
};

struct RecoverOptions {
  int moves = 200;     // moves looked at together; work grows with the square
  int rounds = 20;     // exchanges at most
  int patience = 3;    // rounds without gain after which to give up
  int64_t enough = 0;  // ends where the loss is at most this
};

// Changes *plan, a plan of `core` whether it fits or not, into one that fits and has less loss. True where it fits at
// the end; a plan that fitted before is never made worse. `prices` should be near the best ones: moves are looked at in
// the order of what they cost at those prices. Resources of the Core beyond those `capacity` names are unlimited,
// though they may have a price. Deterministic.
bool Recover(const Core& core, const Capacities& capacity, const Prices& prices, const RecoverOptions& options,
             const Stop& stop, Plan* plan);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_RECOVER_H_
