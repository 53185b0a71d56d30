// Which options can be cheapest somewhere in a box of prices.
//
// A row's priced loss is linear in the prices, so over a box the difference of two rows lies in an interval found by
// taking each price at whichever end suits. Bottom-up, each node passes its parent intervals of what it costs in a
// capped and in a bare context over what it costs when free; the parent adds them to its own rows' differences. An
// option that costs no less than another over the whole box goes (at equality the higher level goes, so the lower is
// always kept).

#include <algorithm>

#include "server/budget/compact.h"

namespace scantling::budget {
namespace {

constexpr int32_t kStopEvery = 1 << 15;  // nodes between two looks at the stop

struct Interval {
  Wide low = 0, high = 0;
};

class Freezer {
 public:
  Freezer(const Core& core, const Prices& low, const Prices& high) : core_(core), low_(low), high_(high) {
    middle_.loss_weight = low.loss_weight;
    for (int k = 0; k < core.resources; ++k) middle_.per_unit[k] = low.per_unit[k] / 2 + high.per_unit[k] / 2;
    if (core.has_trees) below_.resize(int64_t{core.slots} * 2);
  }

  bool Run(std::vector<uint8_t>* sets, const Stop& stop) {
    sets->resize(core_.size());
    for (int32_t i = core_.size() - 1; i >= 0; --i) {
      if (i % kStopEvery == 0 && stop.Requested()) return false;
      const uint8_t set = core_.sets[i];
      if ((set & kLone) != 0) {
        (*sets)[i] = static_cast<uint8_t>(kLone | UndominatedLone(i, set & 15));
        continue;
      }
      Compare(i);
      const int free = Undominated(LevelsIn(set, kFree));
      const int capped = Undominated(LevelsIn(set, kCapped)), bare = LevelsIn(set, kBare);
      (*sets)[i] = PackSets(free, capped, bare);
      if (core_.parent[i] >= 0) PassUp(i, free, capped, bare);
    }
    ReachSets(core_.parent, *sets);
    return true;
  }

 private:
  // Fills over_[t][u] with the interval of price(t) - price(u), both with their subtrees, for the allowed pairs t > u.
  void Compare(int32_t node) {
    const int any = AnyLevels(core_.sets[node]);
    const bool inner = core_.slot[node] >= 0;
    for (int t = 1; t < kLevels; ++t) {
      if (((any >> t) & 1) == 0) continue;
      for (int u = 0; u < t; ++u) {
        if (((any >> u) & 1) == 0) continue;
        Interval over = RowsOver(node, t, u);
        if (inner) {
          const Interval a = Below(node, ContextOf(t)), b = Below(node, ContextOf(u));
          if (ContextOf(t) != ContextOf(u)) {
            over.low += a.low - b.high;
            over.high += a.high - b.low;
          }
        }
        over_[t][u] = over;
        over_[u][t] = {-over.high, -over.low};
      }
    }
  }

  Interval RowsOver(int32_t node, int t, int u) const {
    const int64_t* loss = core_.LossRow(node);
    const int64_t *cost_t = core_.CostRow(node, t), *cost_u = core_.CostRow(node, u);
    Interval over;
    over.low = over.high = Wide{low_.loss_weight} * (loss[t] - loss[u]);
    for (int k = 0; k < core_.resources; ++k) {
      const int64_t more = cost_t[k] - cost_u[k];
      const Wide at_low = Wide{low_.per_unit[k]} * more, at_high = Wide{high_.per_unit[k]} * more;
      over.low += more >= 0 ? at_low : at_high;
      over.high += more >= 0 ? at_high : at_low;
    }
    return over;
  }

  Interval Below(int32_t node, int context) const {
    return context == kFree ? Interval{} : below_[int64_t{core_.slot[node]} * 2 + context - 1];
  }

  int Undominated(int mask) const {
    int kept = mask;
    for (int t = 0; t < kLevels; ++t) {
      if (((mask >> t) & 1) == 0) continue;
      for (int u = 0; u < kLevels; ++u) {
        if (u == t || ((mask >> u) & 1) == 0) continue;
        if (over_[t][u].low > 0 || (over_[t][u].low == 0 && u < t)) kept &= ~(1 << t);
      }
    }
    return kept;
  }

  // The same for a node on its own, measured against its cheapest level in the middle of the box alone: half the work,
  // and next to nothing stays that the other levels would have ruled out.
  int UndominatedLone(int32_t node, int mask) const {
    const int64_t* loss = core_.LossRow(node);
    int cheapest = -1;
    Wide least = 0;
    for (int t = 0; t < kLevels; ++t) {
      if (((mask >> t) & 1) == 0) continue;
      const Wide price = PricedRow(middle_, loss[t], core_.CostRow(node, t), core_.resources);
      if (cheapest >= 0 && price >= least) continue;
      cheapest = t;
      least = price;
    }
    int kept = 1 << cheapest;
    for (int t = 0; t < kLevels; ++t) {
      if (t == cheapest || ((mask >> t) & 1) == 0) continue;
      const Wide low = RowsOver(node, t, cheapest).low;
      if (low < 0 || (low == 0 && t < cheapest)) kept |= 1 << t;
    }
    return kept;
  }

  // Interval of (cheapest of `mask`) - (cheapest of `free`).
  Interval CheapestOver(int mask, int free) const {
    Interval result;
    bool first_u = true;
    for (int u = 0; u < kLevels; ++u) {  // low = max over u of min over t
      if (((free >> u) & 1) == 0) continue;
      const Wide low = LeastOver(mask, u);
      result.low = first_u ? low : std::max(result.low, low);
      first_u = false;
    }
    bool first_t = true;
    for (int t = 0; t < kLevels; ++t) {  // high = min over t of max over u
      if (((mask >> t) & 1) == 0) continue;
      const Wide high = -LeastOver(free, t);
      result.high = first_t ? high : std::min(result.high, high);
      first_t = false;
    }
    return result;
  }

  // Least over t in `mask` of the low end of price(t) - price(u).
  Wide LeastOver(int mask, int u) const {
    bool first = true;
    Wide least = 0;
    for (int t = 0; t < kLevels; ++t) {
      if (((mask >> t) & 1) == 0) continue;
      const Wide value = t == u ? 0 : over_[t][u].low;
      least = first ? value : std::min(least, value);
      first = false;
    }
    return least;
  }

  void PassUp(int32_t node, int free, int capped, int bare) {
    Interval* up = &below_[int64_t{core_.slot[core_.parent[node]]} * 2];
    // A context whose set is empty is one no option of the parent makes, for it and all its siblings alike; where that
    // is the free one the capped one is what the bare one is measured against.
    const int against = free != 0 ? free : capped;
    if (against == 0) return;
    const int masks[2] = {capped, bare};
    for (int c = 0; c < 2; ++c) {
      if (masks[c] == 0) continue;
      const Interval over = CheapestOver(masks[c], against);
      up[c].low += over.low;
      up[c].high += over.high;
    }
  }

  const Core& core_;
  const Prices& low_;
  const Prices& high_;
  Prices middle_;
  std::vector<Interval> below_;  // [slot * 2 + (capped, bare)]: over the freest context, children summed
  Interval over_[kLevels][kLevels];
};

}  // namespace

bool KeepCheapestSomewhere(const Core& core, const Prices& low, const Prices& high, std::vector<uint8_t>* sets,
                           const Stop& stop) {
  return Freezer(core, low, high).Run(sets, stop);
}

}  // namespace scantling::budget
