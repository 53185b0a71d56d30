// Moves and what follows from them.
//
// Only where a node's new level gives its children another context do they follow, each to its cheapest level there; a
// change from 3 to 2 leaves them as they are. The walk is an explicit stack, for trees may be chains.

#include "server/budget/moves.h"

namespace scantling::budget {

MoveMaker::MoveMaker(const Core& core, const Prices& prices, const Stop& stop) : core_(core), prices_(prices) {
  tree_.resize(core.size());
  for (int32_t i = 0; i < core.size(); ++i) tree_[i] = core.parent[i] < 0 ? i : tree_[core.parent[i]];
  if (!core.has_trees) return;
  first_child_.assign(core.size(), -1);
  next_sibling_.assign(core.size(), -1);
  for (int32_t i = core.size() - 1; i >= 0; --i) {
    if (core.parent[i] < 0) continue;
    next_sibling_[i] = first_child_[core.parent[i]];
    first_child_[core.parent[i]] = i;
  }
  Outcome outcome;
  // An interrupted pass leaves arbitrary but allowed choices only where it did not come; then nobody asks for moves.
  PricePass(core, prices, stop, &buffers_, &outcome);
}

void MoveMaker::Follow(int32_t node, int level, const std::vector<uint8_t>& plan,
                       std::vector<std::pair<int32_t, uint8_t>>* changes) const {
  changes->clear();
  changes->emplace_back(node, static_cast<uint8_t>(level));
  if (first_child_.empty()) return;
  for (size_t next = 0; next < changes->size(); ++next) {
    const auto [at, to] = (*changes)[next];
    const int context = ContextOf(to);
    if (context == ContextOf(plan[at])) continue;
    for (int32_t child = first_child_[at]; child >= 0; child = next_sibling_[child]) {
      const int follows = CheapestIn(child, context);
      if (follows != plan[child]) changes->emplace_back(child, static_cast<uint8_t>(follows));
    }
  }
}

std::vector<Move> MoveMaker::All(const Plan& plan) const {
  std::vector<Move> moves;
  std::vector<std::pair<int32_t, uint8_t>> changes;
  for (int32_t i = 0; i < core_.size(); ++i) {
    const int context = core_.parent[i] < 0 ? kFree : ContextOf(plan.level[core_.parent[i]]);
    const int mask = LevelsIn(core_.sets[i], context);
    for (int level = 0; level < kLevels; ++level) {
      if (((mask >> level) & 1) == 0 || level == plan.level[i]) continue;
      Move move;
      move.node = i;
      move.tree = tree_[i];
      move.level = level;
      Follow(i, level, plan.level, &changes);
      for (const auto& [node, to] : changes) {
        const int from = plan.level[node];
        move.loss += core_.LossRow(node)[to] - core_.LossRow(node)[from];
        const int64_t *cost_to = core_.CostRow(node, to), *cost_from = core_.CostRow(node, from);
        for (int k = 0; k < core_.resources; ++k) move.used[k] += cost_to[k] - cost_from[k];
      }
      move.excess = PricedRow(prices_, move.loss, move.used.data(), core_.resources);
      moves.push_back(move);
    }
  }
  return moves;
}

void MoveMaker::Apply(const Move& move, Plan* plan) const {
  std::vector<std::pair<int32_t, uint8_t>> changes;
  Follow(move.node, move.level, plan->level, &changes);
  for (const auto& [node, to] : changes) plan->level[node] = to;
  plan->outcome.loss += move.loss;
  for (int k = 0; k < core_.resources; ++k) plan->outcome.used[k] += move.used[k];
}

}  // namespace scantling::budget
