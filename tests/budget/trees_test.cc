// Trees solved again: always what solving everything gives, to the last bit.

#include "server/budget/trees.h"

#include <gtest/gtest.h>

#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

// Of an earlier problem of as many nodes: which nodes are others now.
std::vector<uint8_t> Changed(const Problem& now, const Problem& then) {
  std::vector<uint8_t> changed(static_cast<size_t>(now.size()), 0);
  const size_t row = static_cast<size_t>(kLevels) * static_cast<size_t>(now.resources);
  for (size_t i = 0; i < changed.size(); ++i) {
    bool same = now.parent[i] == then.parent[i] && now.allowed[i] == then.allowed[i] && now.tie[i] == then.tie[i];
    for (size_t k = 0; k < kLevels; ++k) same = same && now.loss[i * kLevels + k] == then.loss[i * kLevels + k];
    for (size_t k = 0; k < row; ++k) same = same && now.cost[i * row + k] == then.cost[i * row + k];
    changed[i] = !same;
  }
  return changed;
}

TEST(SolveChangedTrees, GivesWhatSolvingEverythingGives) {
  const Stop stop;
  int kept = 0;
  for (uint64_t seed = 1; seed <= 400; ++seed) {
    SCOPED_TRACE(seed);
    Shape shape;
    shape.nodes = 1 + static_cast<int64_t>(seed % 60);
    shape.most = seed % 3 == 0 ? 3 : 1000;  // small figures make ties
    const Problem then = RandomForest(shape, seed);
    Problem now = then;
    Draw draw(seed + 5000);
    for (int64_t changes = draw.Below(5); changes > 0; --changes) {
      const auto node = static_cast<size_t>(draw.Below(now.size()));
      now.loss[node * kLevels + static_cast<size_t>(draw.Below(kLevels))] = draw.Below(shape.most);
      if (draw.Below(4) == 0) now.parent[node] = -1;
    }
    const auto before = Solve(then, Effort(), stop);
    const auto whole = Solve(now, Effort(), stop);
    if (!before.ok()) continue;  // the masks admit no plan
    std::vector<uint8_t> changed = Changed(now, then);
    // What a node left has changed too.
    for (size_t i = 0; i < changed.size(); ++i) {
      if (now.parent[i] != then.parent[i] && then.parent[i] >= 0) changed[static_cast<size_t>(then.parent[i])] = 1;
    }
    kept += std::count(changed.begin(), changed.end(), 0) > 0;
    const auto again = SolveChangedTrees(now, changed, before->level, stop);
    ASSERT_EQ(again.ok(), whole.ok());
    if (!whole.ok()) continue;
    EXPECT_EQ(again->level, whole->level);
    EXPECT_EQ(again->loss, whole->loss);
    EXPECT_EQ(again->used, whole->used);
    EXPECT_EQ(again->bound, whole->bound);
    EXPECT_EQ(again->proved_optimal, whole->proved_optimal);
    EXPECT_EQ(again->price, whole->price);
    EXPECT_EQ(again->paid, whole->paid);
    EXPECT_EQ(again->branched, whole->branched);
  }
  EXPECT_GT(kept, 300);
}

TEST(SolveChangedTrees, RefusesWhatHangsTogether) {
  const Stop stop;
  Problem problem = RandomForest({}, 1);
  const std::vector<uint8_t> none(static_cast<size_t>(problem.size()), 0), level = none;
  EXPECT_EQ(SolveChangedTrees(problem, {}, level, stop).status().code(), absl::StatusCode::kInvalidArgument);
  problem.capacity[0] = 5;
  EXPECT_EQ(SolveChangedTrees(problem, none, level, stop).status().code(), absl::StatusCode::kInvalidArgument);
}

}  // namespace
}  // namespace scantling::budget
