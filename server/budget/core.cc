// Ordering nodes and keeping their option sets consistent.
//
// Order: a Core wants parents before children so that a bottom-up pass is a loop from the last node to the first. Where
// the caller's order has that already the rows are used in place; otherwise nodes are sorted by depth (a counting sort,
// stable) and rows are copied once.
//
// Pruning keeps one invariant that every later pass leans on: an option that is still in a node's set can be extended
// to a plan of its whole subtree. Passes therefore need no infinities.

#include "server/budget/core.h"

#include <algorithm>
#include <numeric>
#include <utility>

namespace scantling::budget {
namespace {

bool ParentsComeFirst(const std::vector<int32_t>& parent) {
  for (size_t i = 0; i < parent.size(); ++i) {
    if (parent[i] >= static_cast<int64_t>(i)) return false;
  }
  return true;
}

// Nodes by depth, then by index.
std::vector<int32_t> DepthOrder(const std::vector<int32_t>& depth) {
  const int32_t deepest = depth.empty() ? 0 : *std::max_element(depth.begin(), depth.end());
  std::vector<int32_t> start(deepest + 2, 0);
  for (const int32_t d : depth) ++start[d + 1];
  std::partial_sum(start.begin(), start.end(), start.begin());
  std::vector<int32_t> order(depth.size());
  for (size_t i = 0; i < depth.size(); ++i) order[start[depth[i]]++] = static_cast<int32_t>(i);
  return order;
}

void CopyInOrder(const Problem& problem, std::vector<int32_t> order, Core* core) {
  const int64_t n = problem.size();
  const int64_t row = int64_t{kLevels} * problem.resources;
  std::vector<int32_t> place(n);
  for (int64_t i = 0; i < n; ++i) place[order[i]] = static_cast<int32_t>(i);
  core->own_loss.resize(n * kLevels);
  core->own_cost.resize(n * row);
  for (int64_t i = 0; i < n; ++i) {
    const int64_t from = order[i];
    core->parent[i] = problem.parent[from] < 0 ? -1 : place[problem.parent[from]];
    std::copy_n(problem.loss.begin() + from * kLevels, kLevels, core->own_loss.begin() + i * kLevels);
    std::copy_n(problem.cost.begin() + from * row, row, core->own_cost.begin() + i * row);
  }
  core->UseOwnRows();
  core->origin = std::move(order);
}

}  // namespace

std::vector<int32_t> Depths(std::span<const int32_t> parent, int64_t* on_cycle) {
  constexpr int32_t kUnknown = -1, kOnPath = -2;
  std::vector<int32_t> depth(parent.size(), kUnknown);
  std::vector<int32_t> path;
  *on_cycle = -1;
  for (size_t i = 0; i < parent.size(); ++i) {
    int32_t node = static_cast<int32_t>(i);
    while (node >= 0 && depth[node] == kUnknown) {
      depth[node] = kOnPath;
      path.push_back(node);
      node = parent[node];
    }
    if (node >= 0 && depth[node] == kOnPath) {
      *on_cycle = node;
      return {};
    }
    int32_t next = node < 0 ? 0 : depth[node] + 1;
    for (; !path.empty(); path.pop_back()) depth[path.back()] = next++;
  }
  return depth;
}

Core CoreOf(const Problem& problem) {
  Core core;
  core.resources = problem.resources;
  core.has_trees =
      std::any_of(problem.parent.begin(), problem.parent.end(), [](int32_t parent) { return parent >= 0; });
  core.parent = problem.parent;
  core.loss = problem.loss;
  core.cost = problem.cost;
  if (!ParentsComeFirst(problem.parent)) {
    int64_t on_cycle;
    CopyInOrder(problem, DepthOrder(Depths(problem.parent, &on_cycle)), &core);
  }
  core.sets.resize(problem.size());
  for (int32_t i = 0; i < core.size(); ++i) {
    const int32_t from = core.origin.empty() ? i : core.origin[i];
    core.sets[i] = SpreadMask(problem.allowed[from]);
  }
  NumberNodes(&core);
  return core;
}

void RemoveOversized(const std::vector<std::optional<int64_t>>& capacity, Core* core) {
  for (int32_t i = 0; i < core->size(); ++i) {
    uint8_t mask = 15;
    for (int level = 0; level < kLevels; ++level) {
      const int64_t* cost = core->CostRow(i, level);
      for (int k = 0; k < core->resources; ++k) {
        if (capacity[k] && cost[k] > *capacity[k]) mask &= ~(1 << level);
      }
    }
    core->sets[i] &= SpreadMask(mask) | kLone;
  }
}

bool PruneSets(std::span<const int32_t> parent, std::span<uint8_t> sets) {
  // Per node, bit c: every child has a level in context c.
  std::vector<uint8_t> follows(parent.size(), 7);
  for (int64_t i = static_cast<int64_t>(parent.size()) - 1; i >= 0; --i) {
    uint8_t mask = 15;
    if ((follows[i] & 1) == 0) mask &= 0b0011;
    if ((follows[i] & 2) == 0) mask &= 0b1101;
    if ((follows[i] & 4) == 0) mask &= 0b1110;
    const uint8_t set = sets[i] & (SpreadMask(mask) | kLone);
    sets[i] = set;
    if (parent[i] < 0) {
      if (LevelsIn(set, kFree) == 0) return false;
      continue;
    }
    for (int c = 0; c < kContexts; ++c) {
      if (LevelsIn(set, c) == 0) follows[parent[i]] &= ~(1 << c);
    }
  }
  return true;
}

void ReachSets(std::span<const int32_t> parent, std::span<uint8_t> sets) {
  for (size_t i = 0; i < parent.size(); ++i) {
    const uint8_t set = sets[i];
    const uint8_t above = parent[i] < 0 ? 0b1000 : AnyLevels(sets[parent[i]]);
    sets[i] = (set & kLone) | PackSets((above & 0b1100) != 0 ? LevelsIn(set, kFree) : 0,
                                       (above & 0b0010) != 0 ? LevelsIn(set, kCapped) : 0,
                                       (above & 0b0001) != 0 ? LevelsIn(set, kBare) : 0);
  }
}

void NumberNodes(Core* core) {
  const int32_t n = core->size();
  core->has_trees = std::any_of(core->parent.begin(), core->parent.end(), [](int32_t parent) { return parent >= 0; });
  core->slots = 0;
  core->slot.assign(core->has_trees ? n : 0, -1);
  for (int32_t i = 0; i < n; ++i) core->sets[i] |= kLone;
  if (!core->has_trees) return;
  for (int32_t i = 0; i < n; ++i) {
    const int32_t above = core->parent[i];
    if (above < 0) continue;
    core->sets[i] &= static_cast<uint8_t>(~kLone);
    core->sets[above] &= static_cast<uint8_t>(~kLone);
    if (core->slot[above] < 0) core->slot[above] = core->slots++;
  }
}

}  // namespace scantling::budget
