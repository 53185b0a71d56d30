// One sweep, children before parents, so that a parent may follow once its children have gone down.
//
// `needs` holds per node the freest context its children still need: a parent may only change to a level that makes
// that context, or a freer one whose sets leave the children where they are.

#include "server/budget/polish.h"

#include <algorithm>
#include <tuple>

namespace scantling::budget {
namespace {

class Polisher {
 public:
  Polisher(const Core& core, const Problem& problem, const Capacities& capacity, Plan* plan)
      : core_(core), problem_(problem), capacity_(capacity), plan_(*plan), highest_child_(core.size(), 0) {}

  void Run() {
    for (int32_t i = core_.size() - 1; i >= 0; --i) {
      Settle(i);
      const int32_t above = core_.parent[i];
      if (above >= 0) highest_child_[above] = std::max(highest_child_[above], plan_.level[i]);
    }
  }

 private:
  int64_t MoneyOf(int32_t node, int level) const {
    int64_t money = 0;
    for (int k = 0; k < core_.resources; ++k) money += problem_.money[k] * core_.CostRow(node, level)[k];
    return money;
  }

  void Settle(int32_t node) {
    const int32_t above = core_.parent[node];
    const int context = above < 0 ? kFree : ContextOf(plan_.level[above]);
    const int mask = LevelsIn(core_.sets[node], context);
    const int64_t* loss = core_.LossRow(node);
    int best = plan_.level[node];
    for (int level = 0; level < kLevels; ++level) {
      if (((mask >> level) & 1) == 0 || loss[level] != loss[best]) continue;
      if (level < 2 && highest_child_[node] > level) continue;  // the children would have to follow
      if (std::make_tuple(MoneyOf(node, level), level) >= std::make_tuple(MoneyOf(node, best), best)) continue;
      if (FitsWith(node, level)) best = level;
    }
    Change(node, best);
  }

  bool FitsWith(int32_t node, int level) const {
    const int64_t *to = core_.CostRow(node, level), *from = core_.CostRow(node, plan_.level[node]);
    for (int k = 0; k < core_.resources; ++k) {
      if (capacity_[k] && plan_.outcome.used[k] + to[k] - from[k] > *capacity_[k]) return false;
    }
    return true;
  }

  void Change(int32_t node, int level) {
    const int64_t *to = core_.CostRow(node, level), *from = core_.CostRow(node, plan_.level[node]);
    for (int k = 0; k < core_.resources; ++k) plan_.outcome.used[k] += to[k] - from[k];
    plan_.level[node] = static_cast<uint8_t>(level);
  }

  const Core& core_;
  const Problem& problem_;
  const Capacities& capacity_;
  Plan& plan_;
  std::vector<uint8_t> highest_child_;
};

}  // namespace

void Polish(const Core& core, const Problem& problem, const Capacities& capacity, Plan* plan) {
  Polisher(core, problem, capacity, plan).Run();
}

}  // namespace scantling::budget
