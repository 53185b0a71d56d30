// The changed trees make a problem of their own, their nodes in the same order: where two nodes have one tie value the
// index decides, and that order is kept. Sums are taken over all nodes anew; in integers they are the same in any
// order.

#include "server/budget/trees.h"

#include <algorithm>
#include <utility>

namespace scantling::budget {
namespace {

bool SameRows(const Problem& a, int64_t i, const Problem& b, int64_t j) {
  const int64_t row = int64_t{kLevels} * a.resources;
  return a.allowed[i] == b.allowed[j] && a.tie[i] == b.tie[j] &&
         std::equal(a.loss.begin() + i * kLevels, a.loss.begin() + (i + 1) * kLevels, b.loss.begin() + j * kLevels) &&
         std::equal(a.cost.begin() + i * row, a.cost.begin() + (i + 1) * row, b.cost.begin() + j * row);
}

// The root of every node. Parents may come in any order.
std::vector<int32_t> RootsOf(const std::vector<int32_t>& parent) {
  std::vector<int32_t> root(parent.size(), -1);
  std::vector<int32_t> path;
  for (size_t i = 0; i < parent.size(); ++i) {
    auto node = static_cast<int32_t>(i);
    path.clear();
    while (root[static_cast<size_t>(node)] < 0 && parent[static_cast<size_t>(node)] >= 0) {
      path.push_back(node);
      node = parent[static_cast<size_t>(node)];
    }
    const int32_t found = root[static_cast<size_t>(node)] < 0 ? node : root[static_cast<size_t>(node)];
    root[static_cast<size_t>(node)] = found;
    for (const int32_t on_path : path) root[static_cast<size_t>(on_path)] = found;
  }
  return root;
}

// Nodes whose tree holds a change, rising.
std::vector<int32_t> NodesOfChangedTrees(const Problem& problem, std::span<const uint8_t> changed) {
  const std::vector<int32_t> root = RootsOf(problem.parent);
  std::vector<uint8_t> has_change(root.size(), 0);
  for (size_t i = 0; i < root.size(); ++i) has_change[static_cast<size_t>(root[i])] |= changed[i];
  std::vector<int32_t> nodes;
  for (size_t i = 0; i < root.size(); ++i) {
    if (has_change[static_cast<size_t>(root[i])] != 0) nodes.push_back(static_cast<int32_t>(i));
  }
  return nodes;
}

Problem Part(const Problem& problem, const std::vector<int32_t>& nodes) {
  Problem part;
  part.resources = problem.resources;
  part.capacity.assign(problem.capacity.size(), std::nullopt);
  part.money = problem.money;
  std::vector<int32_t> number(problem.parent.size(), -1);
  const size_t row = static_cast<size_t>(kLevels) * static_cast<size_t>(problem.resources);
  for (const int32_t node : nodes) {
    const auto at = static_cast<size_t>(node);
    number[at] = static_cast<int32_t>(part.allowed.size());
    part.allowed.push_back(problem.allowed[at]);
    part.tie.push_back(problem.tie[at]);
    part.loss.insert(part.loss.end(), problem.loss.begin() + static_cast<std::ptrdiff_t>(at * kLevels),
                     problem.loss.begin() + static_cast<std::ptrdiff_t>((at + 1) * kLevels));
    part.cost.insert(part.cost.end(), problem.cost.begin() + static_cast<std::ptrdiff_t>(at * row),
                     problem.cost.begin() + static_cast<std::ptrdiff_t>((at + 1) * row));
  }
  for (const int32_t node : nodes) {
    const int32_t parent = problem.parent[static_cast<size_t>(node)];
    part.parent.push_back(parent < 0 ? -1 : number[static_cast<size_t>(parent)]);
  }
  return part;
}

Solution SumUp(const Problem& problem, std::vector<uint8_t> level) {
  Solution solution;
  const auto resources = static_cast<size_t>(problem.resources);
  solution.used.assign(resources, 0);
  for (size_t i = 0; i < level.size(); ++i) {
    const size_t at = i * kLevels + level[i];
    solution.loss += problem.loss[at];
    for (size_t k = 0; k < resources; ++k) solution.used[k] += problem.cost[at * resources + k];
  }
  solution.level = std::move(level);
  solution.bound = solution.loss;
  solution.proved_optimal = true;
  solution.price.assign(resources, 0.0);
  return solution;
}

}  // namespace

std::vector<uint8_t> ChangedTrees(const Problem& next, std::span<const int32_t> was, const Problem& old) {
  const auto size = static_cast<size_t>(next.size());
  std::vector<int32_t> children_then(static_cast<size_t>(old.size()), 0), children_now(size, 0);
  for (const int32_t parent : old.parent) {
    if (parent >= 0) ++children_then[static_cast<size_t>(parent)];
  }
  std::vector<uint8_t> changed(size);
  for (size_t i = 0; i < size; ++i) {
    const int32_t above = next.parent[i];
    if (above >= 0) ++children_now[static_cast<size_t>(above)];
    if (was[i] < 0 || !SameRows(next, static_cast<int64_t>(i), old, was[i])) {
      changed[i] = 1;
      continue;
    }
    const int32_t above_then = old.parent[static_cast<size_t>(was[i])];
    changed[i] = above < 0 ? above_then >= 0 : above_then < 0 || was[static_cast<size_t>(above)] != above_then;
  }
  const std::vector<int32_t> root = RootsOf(next.parent);
  std::vector<uint8_t> tree(size, 0);  // per root: 1 where its tree changed
  for (size_t i = 0; i < size; ++i) {
    // A child that went away changes its parent's tree too.
    const bool same = changed[i] == 0 && children_now[i] == children_then[static_cast<size_t>(was[i])];
    if (!same) tree[static_cast<size_t>(root[i])] = 1;
  }
  for (size_t i = 0; i < size; ++i) changed[i] = tree[static_cast<size_t>(root[i])];
  return changed;
}

absl::StatusOr<Solution> SolveChangedTrees(const Problem& problem, std::span<const uint8_t> changed,
                                           std::vector<uint8_t> level, const Stop& stop) {
  const auto size = static_cast<size_t>(problem.size());
  const bool limited = std::any_of(problem.capacity.begin(), problem.capacity.end(),
                                   [](const std::optional<int64_t>& capacity) { return capacity.has_value(); });
  if (limited || !problem.fixed.empty()) {
    return absl::InvalidArgumentError("got capacities or fixed costs, want none: trees would hang on one another");
  }
  if (changed.size() != size || level.size() != size) {
    return absl::InvalidArgumentError("got a change or a level for other nodes than the problem's, want one for each");
  }
  const std::vector<int32_t> nodes = NodesOfChangedTrees(problem, changed);
  if (!nodes.empty()) {
    const absl::StatusOr<Solution> part = Solve(Part(problem, nodes), Effort(), stop);
    if (!part.ok()) return part.status();
    for (size_t i = 0; i < nodes.size(); ++i) level[static_cast<size_t>(nodes[i])] = part->level[i];
  }
  return SumUp(problem, std::move(level));
}

}  // namespace scantling::budget
