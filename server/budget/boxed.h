// Solving inside a box of prices, for problems met again and again with small changes.
//
// A Core frozen over a box of prices (KeepCheapestSomewhere) is small, and at any price inside the box its cheapest
// plan costs exactly what the whole Core's does: a bound found there is proved for the whole. Where the best price lies
// on the border of the box the bound still holds, but a better one may lie outside.

#ifndef SCANTLING_SERVER_BUDGET_BOXED_H_
#define SCANTLING_SERVER_BUDGET_BOXED_H_

#include <cstdint>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/dual.h"
#include "server/budget/recover.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

struct PriceBox {
  Prices low, high;  // loss_weight alike
};

// The least box around two prices (loss_weight alike).
PriceBox BoxAround(const Prices& a, const Prices& b);

// Moves every side out by `share` of the box's own width and of its highest price, and where a capacity has next to no
// price by a part of what the others weigh, so that it may come to bind. Never below 0 or above kMaxWeight. Resources
// without capacity keep their sides.
void Widen(const Capacities& capacity, double share, PriceBox* box);

// Half-width, as a share of the price, of a box over which some 1,500 of `nodes` stay open on instances without much
// structure (measured on the generated ones of tests/bench/budget): what one set of exchanges needs.
double UsualShare(int64_t nodes);

// Whether some plan of prices for `capacity` lies in the box: limits without capacity have price 0.
bool Covers(const PriceBox& box, const Capacities& capacity);

// Whether a limited resource's price lies on a side of the box that is no side of [0, highest].
bool OnBorder(const Prices& prices, const PriceBox& box, const Prices& highest, const Capacities& capacity);

// The options that are cheapest somewhere in the box, and those of excess at most `within` at `at` (none where
// `within` < 0), that exchanges may have them. `core` must be pruned and reached. False where the stop was requested.
struct Nearby {
  Prices at;
  Wide within = -1;
};
bool FreezeOver(const Core& core, const PriceBox& box, const Nearby& nearby, std::vector<uint8_t>* sets,
                const Stop& stop);

// The best prices inside the box, started at `start` clipped to it. `known`: totals of plans, cuts for free.
struct BoxedSearch {
  PriceBox box;
  Prices start;
  double tolerance = 0.25;  // see DualOptions
  std::vector<Outcome> known;
};
DualResult PriceInBox(const Core& core, const Capacities& capacity, const BoxedSearch& search, const Stop& stop);

// The part of the target gap that prices may miss the best bound by, as a tolerance of the dual.
double ToleranceOf(double target_gap, int64_t loss);

// The greatest loss within a relative gap of the bound.
int64_t EnoughFor(int64_t bound, double target_gap);

// What Solve() could not close: where it missed the target gap nearby, about as large a gap is taken without asking it
// again. In units of loss, for what stays open is a part of one node's loss, however large the whole is.
class Excuse {
 public:
  void Note(const Solution& solved, double target_gap);  // an answer of Solve(), or one no worse
  int64_t EnoughWith(int64_t bound, double target_gap) const;

 private:
  int64_t open_ = 0;  // the gap it left, where above the target
};

// A plan that fits, by exchanges from the relaxed plans at the prices and a little off them, with ever more moves until
// its loss is at most `enough`. `core`: one of a few thousand nodes; work grows with it. False where none was found;
// *plan is then as before. Deterministic.
bool ExchangeNear(const Core& core, const Capacities& capacity, const Prices& prices, int64_t enough, const Stop& stop,
                  Plan* plan);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_BOXED_H_
