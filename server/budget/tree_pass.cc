// The priced pass.
//
// For each node, from the last to the first, the price of each level is its row's priced loss plus what the children
// cost in the context that level makes (`below`). The best level per context goes into one byte, its price up to the
// parent. A second sweep, parents first, reads the levels off and adds up the exact sums. Nodes without parent and
// children, the bulk of most problems, are settled in the first sweep and touch no buffer but their level.

#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr int32_t kStopEvery = 1 << 15;  // nodes between two looks at the stop: well under a millisecond

// Resources known at compile time let the compiler unroll the rows; 0: read from the Core.
template <int kResources>
int ResourcesOf(const Core& core) {
  return kResources > 0 ? kResources : core.resources;
}

// The level of least price in `mask` (not empty), the lower at ties.
inline int Cheapest(const Wide* price, int mask) {
  int best = std::countr_zero(static_cast<unsigned>(mask));
  for (int level = best + 1; level < kLevels; ++level) {
    if (((mask >> level) & 1) != 0 && price[level] < price[best]) best = level;
  }
  return best;
}

template <int kResources>
inline void AddRow(const Core& core, int32_t node, int level, Outcome* outcome) {
  const int resources = ResourcesOf<kResources>(core);
  outcome->loss += core.LossRow(node)[level];
  const int64_t* cost = core.cost.data() + (int64_t{node} * kLevels + level) * resources;
  for (int k = 0; k < resources; ++k) outcome->used[k] += cost[k];
}

template <int kResources>
inline void PriceRows(const Core& core, const Prices& prices, int32_t node, Wide* price) {
  const int resources = ResourcesOf<kResources>(core);
  const int64_t* loss = core.LossRow(node);
  const int64_t* cost = core.cost.data() + int64_t{node} * kLevels * resources;
  for (int level = 0; level < kLevels; ++level) {
    price[level] = PricedRow(prices, loss[level], cost + level * resources, resources);
  }
}

// Settles one node of a tree: its choice in every context, its price to the parent.
inline void SettleInTree(const Core& core, int32_t node, Wide* price, PassBuffers* buffers) {
  if (core.slot[node] >= 0) {
    Wide* below = &buffers->below[int64_t{core.slot[node]} * kContexts];
    for (int level = 0; level < kLevels; ++level) price[level] += below[ContextOf(level)];
    below[kFree] = below[kCapped] = below[kBare] = 0;
  }
  const uint8_t set = core.sets[node];
  Wide* up = core.parent[node] < 0 ? nullptr : &buffers->below[int64_t{core.slot[core.parent[node]]} * kContexts];
  uint8_t choice = 0;
  if (const int free = LevelsIn(set, kFree); free != 0) {
    const int best = Cheapest(price, free);
    choice = static_cast<uint8_t>(best);
    if (up != nullptr) up[kFree] += price[best];
  }
  if (const int capped = LevelsIn(set, kCapped); capped != 0 && up != nullptr) {
    const int best = Cheapest(price, capped);
    choice |= static_cast<uint8_t>(best << 2);
    up[kCapped] += price[best];
  }
  if (LevelsIn(set, kBare) != 0 && up != nullptr) up[kBare] += price[0];
  buffers->choice[node] = choice;
}

template <int kResources>
bool Pass(const Core& core, const Prices& prices, const Stop& stop, PassBuffers* buffers, Outcome* outcome) {
  Wide price[kLevels];
  uint8_t* level = buffers->level.data();
  for (int32_t i = core.size() - 1; i >= 0; --i) {
    if (i % kStopEvery == 0 && stop.Requested()) {
      buffers->below.assign(buffers->below.size(), 0);
      return false;
    }
    PriceRows<kResources>(core, prices, i, price);
    if ((core.sets[i] & kLone) == 0) {
      SettleInTree(core, i, price, buffers);
      continue;
    }
    level[i] = static_cast<uint8_t>(Cheapest(price, LevelsIn(core.sets[i], kFree)));
    AddRow<kResources>(core, i, level[i], outcome);
  }
  if (!core.has_trees) return true;
  for (int32_t i = 0; i < core.size(); ++i) {
    if ((core.sets[i] & kLone) != 0) continue;
    const int context = core.parent[i] < 0 ? kFree : ContextOf(level[core.parent[i]]);
    level[i] = static_cast<uint8_t>(ChoiceIn(buffers->choice[i], context));
    AddRow<kResources>(core, i, level[i], outcome);
  }
  return true;
}

}  // namespace

Wide PricedLoss(const Prices& prices, const Outcome& outcome, int resources) {
  return PricedRow(prices, outcome.loss, outcome.used.data(), resources);
}

bool PricePass(const Core& core, const Prices& prices, const Stop& stop, PassBuffers* buffers, Outcome* outcome) {
  buffers->level.resize(core.size());
  if (core.has_trees) {
    buffers->choice.resize(core.size());
    buffers->below.resize(int64_t{core.slots} * kContexts, 0);
  }
  outcome->loss = core.base_loss;
  outcome->used = core.base_used;
  switch (core.resources) {
    case 1:
      return Pass<1>(core, prices, stop, buffers, outcome);
    case 2:
      return Pass<2>(core, prices, stop, buffers, outcome);
    case 3:
      return Pass<3>(core, prices, stop, buffers, outcome);
    case 4:
      return Pass<4>(core, prices, stop, buffers, outcome);
    default:
      return Pass<0>(core, prices, stop, buffers, outcome);
  }
}

Outcome Total(const Core& core, const std::vector<uint8_t>& level) {
  Outcome outcome;
  outcome.loss = core.base_loss;
  outcome.used = core.base_used;
  for (int32_t i = 0; i < core.size(); ++i) AddRow<0>(core, i, level[i], &outcome);
  return outcome;
}

}  // namespace scantling::budget
