// Moves and what follows from them.
//
// What a move changes is found without walking the subtree: for every node the sums of its children's cheapest plans in
// each context are kept, and for a plan at hand the sums of its children as they are; a move that changes the
// children's context exchanges the one for the other. A change from 3 to 2 leaves the children alone. Only Apply()
// walks, with an explicit stack, for trees may be chains.

#include "server/budget/moves.h"

namespace scantling::budget {

MoveMaker::MoveMaker(const Core& core, const Prices& prices, const Stop& stop) : core_(core), prices_(prices) {
  NumberDepthFirst();
  if (!core.has_trees) return;
  first_child_.assign(core.size(), -1);
  next_sibling_.assign(core.size(), -1);
  for (int32_t i = core.size() - 1; i >= 0; --i) {
    if (core.parent[i] < 0) continue;
    next_sibling_[i] = first_child_[core.parent[i]];
    first_child_[core.parent[i]] = i;
  }
  Outcome outcome;
  // Where the stop cuts this short the choices are incomplete, but then nobody asks for moves any more.
  if (PricePass(core, prices, stop, &buffers_, &outcome)) SumCheapest();
}

void MoveMaker::NumberDepthFirst() {
  const int32_t n = core_.size();
  size_.assign(n, 1);
  for (int32_t i = n - 1; i >= 0; --i) {
    if (core_.parent[i] >= 0) size_[core_.parent[i]] += size_[i];
  }
  tree_.resize(n);
  first_.resize(n);
  std::vector<int32_t> next(n);  // where a node's next child goes
  int32_t next_root = 0;
  for (int32_t i = 0; i < n; ++i) {
    const int32_t above = core_.parent[i];
    int32_t& place = above < 0 ? next_root : next[above];
    first_[i] = place;
    place += size_[i];
    next[i] = first_[i] + 1;
    tree_[i] = above < 0 ? i : tree_[above];
  }
}

void MoveMaker::AddRow(int32_t node, int level, int64_t* sums) const {
  sums[0] += core_.LossRow(node)[level];
  const int64_t* cost = core_.CostRow(node, level);
  for (int k = 0; k < core_.resources; ++k) sums[1 + k] += cost[k];
}

void MoveMaker::SumCheapest() {
  cheapest_.assign(At(core_.size(), 0), 0);
  for (int32_t i = core_.size() - 1; i >= 0; --i) {
    if (core_.parent[i] < 0) continue;
    for (int context = 0; context < kContexts; ++context) {
      if (LevelsIn(core_.sets[i], context) == 0) continue;
      const int level = CheapestIn(i, context);
      int64_t* up = &cheapest_[At(core_.parent[i], context)];
      const int64_t* own = &cheapest_[At(i, ContextOf(level))];
      for (int j = 0; j <= core_.resources; ++j) up[j] += own[j];
      AddRow(i, level, up);
    }
  }
}

std::vector<Move> MoveMaker::All(const Plan& plan) const {
  const int width = 1 + core_.resources;
  std::vector<int64_t> below;  // per node: sums of its descendants as the plan has them
  if (core_.has_trees) {
    if (cheapest_.empty()) return {};
    below.assign(int64_t{core_.size()} * width, 0);
    for (int32_t i = core_.size() - 1; i >= 0; --i) {
      if (core_.parent[i] < 0) continue;
      int64_t* up = &below[int64_t{core_.parent[i]} * width];
      for (int j = 0; j < width; ++j) up[j] += below[int64_t{i} * width + j];
      AddRow(i, plan.level[i], up);
    }
  }
  std::vector<Move> moves;
  for (int32_t i = 0; i < core_.size(); ++i) {
    const int from = plan.level[i];
    const int context = core_.parent[i] < 0 ? kFree : ContextOf(plan.level[core_.parent[i]]);
    const int mask = LevelsIn(core_.sets[i], context);
    for (int level = 0; level < kLevels; ++level) {
      if (((mask >> level) & 1) == 0 || level == from) continue;
      Move move;
      move.node = i;
      move.tree = tree_[i];
      move.first = first_[i];
      move.last = first_[i] + size_[i] - 1;
      move.level = level;
      move.loss = core_.LossRow(i)[level] - core_.LossRow(i)[from];
      const int64_t *cost_to = core_.CostRow(i, level), *cost_from = core_.CostRow(i, from);
      for (int k = 0; k < core_.resources; ++k) move.used[k] = cost_to[k] - cost_from[k];
      if (size_[i] > 1 && ContextOf(level) != ContextOf(from)) {
        const int64_t *after = &cheapest_[At(i, ContextOf(level))], *before = &below[int64_t{i} * width];
        move.loss += after[0] - before[0];
        for (int k = 0; k < core_.resources; ++k) move.used[k] += after[1 + k] - before[1 + k];
      }
      move.excess = PricedRow(prices_, move.loss, move.used.data(), core_.resources);
      moves.push_back(move);
    }
  }
  return moves;
}

void MoveMaker::Apply(const Move& move, Plan* plan) const {
  const bool children_follow = size_[move.node] > 1 && ContextOf(move.level) != ContextOf(plan->level[move.node]);
  plan->level[move.node] = static_cast<uint8_t>(move.level);
  plan->outcome.loss += move.loss;
  for (int k = 0; k < core_.resources; ++k) plan->outcome.used[k] += move.used[k];
  if (!children_follow) return;
  std::vector<int32_t> open = {move.node};
  while (!open.empty()) {
    const int32_t at = open.back();
    open.pop_back();
    const int context = ContextOf(plan->level[at]);
    for (int32_t child = first_child_[at]; child >= 0; child = next_sibling_[child]) {
      plan->level[child] = static_cast<uint8_t>(CheapestIn(child, context));
      open.push_back(child);
    }
  }
}

}  // namespace scantling::budget
