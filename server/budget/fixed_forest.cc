// Up and down paths only.
//
// A node's inside is what its subtree costs at least in a context. Add() carries the change of the insides from the
// node to its root, as far as there is one. Worth() and Excess() carry two or more versions of the insides up without
// keeping them: what the total would be is read at the root. A version that has no plan is kNever and stays it. Source:
// min-marginals on trees, Kolmogorov 2006, Convergent tree-reweighted message passing, IEEE PAMI 28, 1568-1583.

#include "server/budget/fixed_forest.h"

#include <algorithm>

namespace scantling::budget {
namespace {

constexpr int32_t kStopEvery = 1 << 15;  // nodes between two looks at the stop

Wide Least(const Wide* value, int mask) {
  Wide least = kNever;
  for (int level = 0; level < kLevels; ++level) {
    if (((mask >> level) & 1) != 0) least = std::min(least, value[level]);
  }
  return least;
}

// What a node's values become where the inside of one child changes from `from` to `to`.
void Exchange(const Wide* from, const Wide* to, const Wide* value, Wide* changed) {
  for (int level = 0; level < kLevels; ++level) {
    const int c = ContextOf(level);
    changed[level] = to[c] >= kNever ? kNever : value[level] + (to[c] - from[c]);
  }
}

}  // namespace

void PricedForest::PriceRows(const Prices& prices) {
  price_.resize(int64_t{core_.size()} * kLevels);
  constant_ = PricedRow(prices, core_.base_loss, core_.base_used.data(), core_.resources);
  for (int32_t i = 0; i < core_.size(); ++i) {
    const int64_t* loss = core_.LossRow(i);
    for (int level = 0; level < kLevels; ++level) {
      price_[int64_t{i} * kLevels + level] = PricedRow(prices, loss[level], core_.CostRow(i, level), core_.resources);
    }
  }
}

void PricedForest::AddToRow(int32_t node, uint8_t levels, Wide amount) {
  for (int level = 0; level < kLevels; ++level) {
    if (((levels >> level) & 1) != 0) price_[int64_t{node} * kLevels + level] += amount;
  }
}

bool PricedForest::SumUp(const Stop& stop) {
  below_.assign(int64_t{core_.slots} * kContexts, 0);
  total_ = constant_;
  for (int32_t i = core_.size() - 1; i >= 0; --i) {
    if (i % kStopEvery == 0 && stop.Requested()) return false;
    Wide inside[kContexts];
    Insides(i, inside);
    if (core_.parent[i] < 0) {
      total_ += inside[kFree];
      continue;
    }
    Wide* up = &below_[int64_t{core_.slot[core_.parent[i]]} * kContexts];
    for (int c = 0; c < kContexts; ++c) up[c] += inside[c];
  }
  return true;
}

void PricedForest::Plan(std::vector<uint8_t>* level) const {
  level->resize(core_.size());
  for (int32_t i = 0; i < core_.size(); ++i) {
    const int32_t above = core_.parent[i];
    const int mask = LevelsIn(core_.sets[i], above < 0 ? kFree : ContextOf((*level)[above]));
    Wide value[kLevels];
    Values(i, value);
    const Wide least = Least(value, mask);
    int chosen = 0;
    while (((mask >> chosen) & 1) == 0 || value[chosen] != least) ++chosen;
    (*level)[i] = static_cast<uint8_t>(chosen);
  }
}

void PricedForest::Values(int32_t node, Wide* value) const {
  std::copy_n(&price_[int64_t{node} * kLevels], kLevels, value);
  if (!HasChildren(node)) return;
  const Wide* below = &below_[int64_t{core_.slot[node]} * kContexts];
  for (int level = 0; level < kLevels; ++level) value[level] += below[ContextOf(level)];
}

// 0 in contexts that cannot come about, which nothing reads.
void PricedForest::Insides(int32_t node, Wide* inside) const {
  Wide value[kLevels];
  Values(node, value);
  for (int c = 0; c < kContexts; ++c) {
    const int mask = LevelsIn(core_.sets[node], c);
    inside[c] = mask == 0 ? 0 : Least(value, mask);
  }
}

void PricedForest::Add(int32_t node, uint8_t levels, Wide amount) {
  if (amount == 0) return;
  Wide before[kContexts], after[kContexts], next[kContexts];
  Insides(node, before);
  AddToRow(node, levels, amount);
  for (;;) {
    Insides(node, after);
    const int32_t above = core_.parent[node];
    if (above < 0) {
      total_ += after[kFree] - before[kFree];
      return;
    }
    if (std::equal(before, before + kContexts, after)) return;
    Insides(above, next);
    Wide* up = &below_[int64_t{core_.slot[above]} * kContexts];
    for (int c = 0; c < kContexts; ++c) up[c] += after[c] - before[c];
    std::copy_n(next, kContexts, before);
    node = above;
  }
}

Wide PricedForest::Worth(int32_t node, uint8_t levels) const {
  Wide with[kContexts], without[kContexts], value[kLevels], changed[kLevels];
  Values(node, value);
  for (int level = 0; level < kLevels; ++level) changed[level] = ((levels >> level) & 1) != 0 ? kNever : value[level];
  for (;;) {
    for (int c = 0; c < kContexts; ++c) {
      const int mask = LevelsIn(core_.sets[node], c);
      with[c] = mask == 0 ? 0 : Least(value, mask);
      without[c] = mask == 0 ? 0 : Least(changed, mask);
    }
    const int32_t above = core_.parent[node];
    if (above < 0) return without[kFree] >= kNever ? kNever : without[kFree] - with[kFree];
    if (std::equal(with, with + kContexts, without)) return 0;
    Values(above, value);
    Exchange(with, without, value, changed);
    node = above;
  }
}

void PricedForest::Excess(int32_t node, Wide* excess) const {
  Wide value[kLevels], changed[kLevels][kLevels];
  Values(node, value);
  for (int only = 0; only < kLevels; ++only) {
    for (int level = 0; level < kLevels; ++level) changed[only][level] = level == only ? value[level] : kNever;
  }
  for (;;) {
    Wide with[kContexts], to[kLevels][kContexts];
    for (int c = 0; c < kContexts; ++c) {
      const int mask = LevelsIn(core_.sets[node], c);
      with[c] = mask == 0 ? 0 : Least(value, mask);
      for (int only = 0; only < kLevels; ++only) to[only][c] = mask == 0 ? 0 : Least(changed[only], mask);
    }
    const int32_t above = core_.parent[node];
    if (above < 0) {
      for (int only = 0; only < kLevels; ++only) {
        excess[only] = to[only][kFree] >= kNever ? kNever : to[only][kFree] - with[kFree];
      }
      return;
    }
    Values(above, value);
    for (int only = 0; only < kLevels; ++only) Exchange(with, to[only], value, changed[only]);
    node = above;
  }
}

}  // namespace scantling::budget
