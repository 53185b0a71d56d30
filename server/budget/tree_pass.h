// One bottom-up pass over a Core: the plan of least priced loss.
//
// Priced loss of a plan: loss_weight * loss + sum over resources of per_unit[k] * used[k], in exact 128-bit integers.
// With a real price p[k] = per_unit[k] / loss_weight its least value less p . capacity is a lower bound on the loss of
// every plan within the capacities (Lagrange), proved because nothing was rounded.

#ifndef SCANTLING_SERVER_BUDGET_TREE_PASS_H_
#define SCANTLING_SERVER_BUDGET_TREE_PASS_H_

#include <cstdint>
#include <vector>

#include "server/budget/core.h"
#include "server/units/stop.h"

namespace scantling::budget {

struct Prices {
  int64_t loss_weight = 1;  // 0..kMaxWeight
  PerResource per_unit{};   // each 0..kMaxWeight
};

// Sums of one plan, constants of the Core included.
struct Outcome {
  int64_t loss = 0;
  PerResource used{};
};

Wide PricedLoss(const Prices& prices, const Outcome& outcome, int resources);

// Priced loss of one row.
inline Wide PricedRow(const Prices& prices, int64_t loss, const int64_t* cost, int resources) {
  Wide value = Wide{prices.loss_weight} * loss;
  for (int k = 0; k < resources; ++k) value += Wide{prices.per_unit[k]} * cost[k];
  return value;
}

// Buffers that passes over one Core share, so that a search allocates once.
struct PassBuffers {
  std::vector<Wide> below;      // [slot * kContexts + context]: what children cost; all zero between passes
  std::vector<uint8_t> choice;  // per node: the chosen level in each context, see ChoiceIn
  std::vector<uint8_t> level;   // per node: the plan of the last pass
};

// bits 0-1: level when free; bit 2: when capped. When bare it is 0.
constexpr int ChoiceIn(uint8_t choice, int context) {
  return context == kFree ? choice & 3 : context == kCapped ? (choice >> 2) & 1 : 0;
}

// Least priced loss over all plans; ties to the lower level at each node. buffers->level holds the plan. `core` must be
// pruned. False where the stop was requested before the pass ended. O(n * kLevels * K).
bool PricePass(const Core& core, const Prices& prices, const Stop& stop, PassBuffers* buffers, Outcome* outcome);

// Sums of a given plan. O(n * K).
Outcome Total(const Core& core, const std::vector<uint8_t>& level);

// The plan of least loss; then least money, then least sum of levels, then by tie, as budget.h orders them, capacities
// unheard. `core` must be pruned. O(n * K), and where two plans of a subtree tie in all three sums O(subtree) for each
// such tie. False where the stop was requested.
bool LexicographicPass(const Core& core, const Problem& problem, const Stop& stop, std::vector<uint8_t>* level);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_TREE_PASS_H_
