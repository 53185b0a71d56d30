// Sums per node and context, passed up as differences.
//
// A node's own sum in a context is that of its best level there: its row, and what its children come to in the context
// that level makes. Children without a plan in a context are counted, so that a level is open only where that count is
// 0. A changed mask changes the node's three sums, and with them its parent's, until nothing changes or the root is
// reached.

#include "server/budget/least_plan.h"

#include <algorithm>
#include <numeric>

namespace scantling::budget {
namespace {

uint8_t OpenIn(uint8_t mask, int context) { return LevelsIn(SpreadMask(mask), context); }

void Add(const LeastPlan::Sum& from, int sign, int resources, LeastPlan::Sum* to) {
  to->weighted += sign * from.weighted;
  to->blocked += sign * from.blocked;
  for (int k = 0; k < resources; ++k) to->used[k] += sign * from.used[k];
}

bool Same(const LeastPlan::Sum& a, const LeastPlan::Sum& b) {
  return a.weighted == b.weighted && a.blocked == b.blocked && a.used == b.used;
}

}  // namespace

LeastPlan::LeastPlan(const Problem& problem, const Prices& weights)
    : problem_(problem),
      weights_(weights),
      mask_(problem.allowed),
      order_(static_cast<size_t>(problem.size())),
      below_(static_cast<size_t>(problem.size()) * kContexts),
      own_(static_cast<size_t>(problem.size()) * kContexts) {
  int64_t on_cycle;
  const std::vector<int32_t> depth = Depths(problem.parent, &on_cycle);
  std::iota(order_.begin(), order_.end(), 0);
  std::stable_sort(order_.begin(), order_.end(), [&](int32_t a, int32_t b) { return depth[a] < depth[b]; });
  for (auto node = order_.rbegin(); node != order_.rend(); ++node) Settle(*node);
}

void LeastPlan::SetMask(int32_t node, uint8_t mask) {
  if (mask_[node] == mask) return;
  mask_[node] = mask;
  while (node >= 0 && Settle(node)) node = problem_.parent[node];
}

std::vector<uint8_t> LeastPlan::Levels() const {
  std::vector<uint8_t> level(mask_.size(), 0);
  for (const int32_t node : order_) {
    const int32_t above = problem_.parent[node];
    level[node] = static_cast<uint8_t>(std::max(0, BestOf(node, above < 0 ? kFree : ContextOf(level[above]))));
  }
  return level;
}

LeastPlan::Sum LeastPlan::SumOf(int32_t node, int level) const {
  Sum sum = below_[int64_t{node} * kContexts + ContextOf(level)];
  const int64_t* cost = problem_.cost.data() + (int64_t{node} * kLevels + level) * problem_.resources;
  for (int k = 0; k < problem_.resources; ++k) {
    sum.used[k] += cost[k];
    sum.weighted += Wide{weights_.per_unit[k]} * cost[k];
  }
  return sum;
}

int LeastPlan::BestOf(int32_t node, int context) const {
  int best = -1;
  Wide least = 0;
  const uint8_t open = OpenIn(mask_[node], context);
  for (int level = 0; level < kLevels; ++level) {
    if (((open >> level) & 1) == 0) continue;
    const Sum& below = below_[int64_t{node} * kContexts + ContextOf(level)];
    if (below.blocked > 0) continue;
    Wide weighted = below.weighted;
    const int64_t* cost = problem_.cost.data() + (int64_t{node} * kLevels + level) * problem_.resources;
    for (int k = 0; k < problem_.resources; ++k) weighted += Wide{weights_.per_unit[k]} * cost[k];
    if (best < 0 || weighted < least) best = level, least = weighted;
  }
  return best;
}

bool LeastPlan::Settle(int32_t node) {
  const int32_t above = problem_.parent[node];
  bool changed = false;
  for (int context = 0; context < kContexts; ++context) {
    Sum now;
    const int level = BestOf(node, context);
    if (level < 0) {
      now.blocked = 1;
    } else {
      now = SumOf(node, level);
    }
    Sum& own = own_[int64_t{node} * kContexts + context];
    if (Same(now, own)) continue;
    changed = true;
    if (above >= 0 || context == kFree) {
      Sum& to = above >= 0 ? below_[int64_t{above} * kContexts + context] : total_;
      Add(own, -1, problem_.resources, &to);
      Add(now, 1, problem_.resources, &to);
    }
    own = now;
  }
  return changed;
}

}  // namespace scantling::budget
