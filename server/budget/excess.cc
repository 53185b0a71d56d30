// What taking an option costs over the cheapest plan (its reduced cost).
//
// Inside: the priced pass, keeping for every node what its children cost in each context. Outside: parents first, for
// each node and context the excess of the best plan that brings the context about; the excess of an option is that plus
// what the option costs over the node's best in the context. Children of one node share the outside figure, so it
// overwrites the node's own inside figures once they were read.
// Source: the inside-outside scheme on trees; Baker 1979, Trainable grammars for speech recognition.

#include <algorithm>

#include "server/budget/compact.h"

namespace scantling::budget {
namespace {

constexpr int32_t kStopEvery = 1 << 15;  // nodes between two looks at the stop
constexpr Wide kUnreachable = Wide{1} << 126;

class ExcessPass {
 public:
  ExcessPass(const Core& core, const Prices& prices, const Stop& stop) : core_(core), prices_(prices), stop_(stop) {}

  // Calls visit(node, context, level, excess) for every option in every context that can come about. visit is called
  // for a node after its parent. False where the stop came first.
  template <typename Visit>
  bool Run(Visit visit) {
    if (core_.has_trees && !Inside()) return false;
    for (int32_t i = 0; i < core_.size(); ++i) {
      if (i % kStopEvery == 0 && stop_.Requested()) return false;
      Wide price[kLevels];
      PriceNode(i, price);
      Wide outside[kContexts] = {kUnreachable, kUnreachable, kUnreachable};
      for (int context = 0; context < kContexts; ++context) {
        const int mask = LevelsIn(core_.sets[i], context);
        const Wide reach = Reach(i, context);
        if (mask == 0 || reach >= kUnreachable) continue;
        const Wide best = Least(price, mask);
        for (int level = 0; level < kLevels; ++level) {
          if (((mask >> level) & 1) == 0) continue;
          const Wide excess = reach + (price[level] - best);
          visit(i, context, level, excess);
          outside[ContextOf(level)] = std::min(outside[ContextOf(level)], excess);
        }
      }
      if (HasChildren(i)) std::copy_n(outside, kContexts, &at_[int64_t{core_.slot[i]} * kContexts]);
    }
    return true;
  }

 private:
  static Wide Least(const Wide* price, int mask) {
    Wide least = kUnreachable;
    for (int level = 0; level < kLevels; ++level) {
      if (((mask >> level) & 1) != 0) least = std::min(least, price[level]);
    }
    return least;
  }

  bool HasChildren(int32_t node) const { return (core_.sets[node] & kLone) == 0 && core_.slot[node] >= 0; }

  void PriceNode(int32_t node, Wide* price) const {
    const int64_t* loss = core_.LossRow(node);
    const bool inner = HasChildren(node);
    for (int level = 0; level < kLevels; ++level) {
      price[level] = PricedRow(prices_, loss[level], core_.CostRow(node, level), core_.resources);
      if (inner) price[level] += at_[int64_t{core_.slot[node]} * kContexts + ContextOf(level)];
    }
  }

  Wide Reach(int32_t node, int context) const {
    const int32_t above = core_.parent[node];
    if (above < 0) return context == kFree ? 0 : kUnreachable;
    return at_[int64_t{core_.slot[above]} * kContexts + context];
  }

  bool Inside() {
    at_.assign(int64_t{core_.slots} * kContexts, 0);
    Wide price[kLevels];
    for (int32_t i = core_.size() - 1; i >= 0; --i) {
      if (i % kStopEvery == 0 && stop_.Requested()) return false;
      if (core_.parent[i] < 0) continue;
      PriceNode(i, price);
      Wide* up = &at_[int64_t{core_.slot[core_.parent[i]]} * kContexts];
      for (int context = 0; context < kContexts; ++context) {
        const int mask = LevelsIn(core_.sets[i], context);
        if (mask != 0) up[context] += Least(price, mask);
      }
    }
    return true;
  }

  const Core& core_;
  const Prices& prices_;
  const Stop& stop_;
  std::vector<Wide> at_;  // [slot * kContexts + context]: inside of the children, then outside for the children
};

}  // namespace

void KeepWithin(const Core& core, const Prices& prices, Wide within, std::vector<uint8_t>* sets) {
  KeepReach(core, prices, {within, within, 1}, sets);
}

bool KeepReach(const Core& core, const Prices& prices, const Reach& reach, std::vector<uint8_t>* sets,
               const Stop& stop) {
  sets->assign(core.size(), 0);
  std::vector<uint8_t> is_far(core.size());
  for (int32_t i = 0; i < core.size(); ++i) {
    const int32_t above = core.parent[i];
    is_far[i] = above >= 0 ? is_far[above] : Mix(static_cast<uint64_t>(i)) % reach.far_step == 0;
  }
  const bool ran = ExcessPass(core, prices, stop).Run([&](int32_t node, int context, int level, Wide excess) {
    if (excess > (is_far[node] != 0 ? reach.far : reach.within)) return;
    const int bit = 1 << level;
    (*sets)[node] |= PackSets(context == kFree ? bit : 0, context == kCapped ? bit : 0, context == kBare ? bit : 0);
  });
  if (!ran) return false;
  for (int32_t i = 0; i < core.size(); ++i) (*sets)[i] |= core.sets[i] & kLone;
  ReachSets(core.parent, *sets);
  return true;
}

std::vector<Wide> Excesses(const Core& core, const Prices& prices) {
  std::vector<Wide> excesses;
  const Stop never;
  ExcessPass(core, prices, never).Run([&](int32_t, int, int, Wide excess) { excesses.push_back(excess); });
  return excesses;
}

}  // namespace scantling::budget
