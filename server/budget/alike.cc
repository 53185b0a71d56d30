// One pass to give every group and every lone node a number in the order of its first node, one to add the rows up.
//
// The merged problem is valid because the original is: members of a group share their parent, so a tree stays a tree;
// and a merged node's largest row is at most the sum of its members' largest, so no total grows. The map from groups to
// nodes is only looked up, never walked, so the answer does not hang on its order.

#include "server/budget/alike.h"

#include <algorithm>
#include <unordered_map>

#include "absl/strings/str_cat.h"

namespace scantling::budget {
namespace {

class Merging {
 public:
  Merging(const Problem& problem, std::span<const int32_t> group) : from_(problem), group_(group) {}

  absl::StatusOr<Alike> Run() {
    Number();
    const auto count = static_cast<size_t>(first_of_.size());
    Problem& to = alike_.problem;
    to.resources = from_.resources;
    to.capacity = from_.capacity;
    to.money = from_.money;
    to.parent.assign(count, -1);
    to.allowed.assign(count, (1 << kLevels) - 1);
    to.tie.assign(count, ~uint64_t{0});
    to.loss.assign(count * kLevels, 0);
    to.cost.assign(count * kLevels * static_cast<size_t>(from_.resources), 0);
    for (int32_t i = 0; i < from_.size(); ++i) {
      if (absl::Status added = Add(i); !added.ok()) return added;
    }
    for (const FixedCost& fixed : from_.fixed) to.fixed.push_back(Merged(fixed));
    return std::move(alike_);
  }

 private:
  void Number() {
    std::unordered_map<int32_t, int32_t> merged_of_group;
    alike_.merged_of.resize(static_cast<size_t>(from_.size()));
    for (int32_t i = 0; i < from_.size(); ++i) {
      const auto next = static_cast<int32_t>(first_of_.size());
      int32_t merged = next;
      if (group_[i] >= 0) merged = merged_of_group.try_emplace(group_[i], next).first->second;
      if (merged == next) first_of_.push_back(i);
      alike_.merged_of[i] = merged;
    }
  }

  absl::Status Add(int32_t node) {
    Problem& to = alike_.problem;
    const auto merged = static_cast<size_t>(alike_.merged_of[node]);
    const int32_t first = first_of_[merged];
    if (from_.parent[node] != from_.parent[first]) {
      return absl::InvalidArgumentError(absl::StrCat("nodes ", first, " and ", node, " of group ", group_[node],
                                                     " have different parents, ", from_.parent[first], " and ",
                                                     from_.parent[node], ", want one"));
    }
    to.parent[merged] = from_.parent[node] < 0 ? -1 : alike_.merged_of[from_.parent[node]];
    to.allowed[merged] &= from_.allowed[node];
    if (to.allowed[merged] == 0) {
      return absl::InvalidArgumentError(
          absl::StrCat("node ", node, " has no level in common with the others of group ", group_[node]));
    }
    to.tie[merged] = std::min(to.tie[merged], from_.tie[node]);
    for (size_t level = 0; level < kLevels; ++level) {
      to.loss[merged * kLevels + level] += from_.loss[static_cast<size_t>(node) * kLevels + level];
    }
    const size_t row = kLevels * static_cast<size_t>(from_.resources);
    for (size_t j = 0; j < row; ++j) to.cost[merged * row + j] += from_.cost[static_cast<size_t>(node) * row + j];
    return absl::OkStatus();
  }

  FixedCost Merged(const FixedCost& fixed) const {
    FixedCost merged;
    merged.cost = fixed.cost;
    std::unordered_map<int32_t, size_t> place;
    for (const FixedCost::User& user : fixed.users) {
      const int32_t node = alike_.merged_of[user.node];
      const auto [at, is_new] = place.try_emplace(node, merged.users.size());
      if (is_new) merged.users.push_back({node, 0});
      merged.users[at->second].levels |= user.levels;
    }
    return merged;
  }

  const Problem& from_;
  const std::span<const int32_t> group_;
  std::vector<int32_t> first_of_;  // per merged node: its first member
  Alike alike_;
};

}  // namespace

absl::StatusOr<Alike> MergeAlike(const Problem& problem, std::span<const int32_t> group) {
  if (absl::Status valid = Validate(problem); !valid.ok()) return valid;
  if (group.size() != static_cast<size_t>(problem.size())) {
    return absl::InvalidArgumentError(
        absl::StrCat("group has ", group.size(), " entries, want one per node, ", problem.size()));
  }
  return Merging(problem, group).Run();
}

Solution SpreadAlike(const Alike& alike, const Solution& merged) {
  Solution solution = merged;
  solution.level.resize(alike.merged_of.size());
  for (size_t i = 0; i < alike.merged_of.size(); ++i) {
    solution.level[i] = merged.level[static_cast<size_t>(alike.merged_of[i])];
  }
  return solution;
}

}  // namespace scantling::budget
