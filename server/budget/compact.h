// Making a Core smaller: decided nodes become constants, nodes that only follow their parent are folded into its rows.

#ifndef SCANTLING_SERVER_BUDGET_COMPACT_H_
#define SCANTLING_SERVER_BUDGET_COMPACT_H_

#include <cstdint>
#include <span>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

// The Core that is left when nodes of `core` may take only `sets` (a subset of core.sets, pruned and reached). Its
// plans are exactly the plans of `core` within `sets`, with the same sums; its `origin` indexes `core`. O(n * K).
Core Compact(const Core& core, std::span<const uint8_t> sets);

// The plan of `core` that a plan of Compact(core, sets) stands for. O(n).
std::vector<uint8_t> Expand(const Core& core, std::span<const uint8_t> sets, const Core& small,
                            std::span<const uint8_t> small_level);

// Priced loss that plans must pay over the least one to take an option.
//
// Keeps in *sets the options that some plan of priced loss at most least + `within` takes; every such plan stays
// possible. With `within` = (best known loss * weight) - bound nothing is lost. O(n * K).
void KeepWithin(const Core& core, const Prices& prices, Wide within, std::vector<uint8_t>* sets);

// The same with two limits: `far` for every `far_step`-th tree (by hash of its root), `within` for the others.
struct Reach {
  Wide within = 0;
  Wide far = 0;
  uint64_t far_step = 1;
};
// False where the stop was requested; *sets is then void.
bool KeepReach(const Core& core, const Prices& prices, const Reach& reach, std::vector<uint8_t>* sets,
               const Stop& stop = Stop());

// The same figure for each option, the least over its contexts: (excess, node) of every option that is not the cheapest
// in all of them. Unsorted. O(n * K).
std::vector<Wide> Excesses(const Core& core, const Prices& prices);

// Keeps in *sets the options that are cheapest at some price between `low` and `high` (loss_weight alike): what is left
// single is frozen. At equal price everywhere the lower level is kept. O(n * K).
// False where the stop was requested; *sets is then void.
bool KeepCheapestSomewhere(const Core& core, const Prices& low, const Prices& high, std::vector<uint8_t>* sets,
                           const Stop& stop = Stop());

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_COMPACT_H_
