// Every figure of Solve() against a search of all plans, on thousands of small forests.

#include <gtest/gtest.h>

#include <algorithm>

#include "server/budget/budget.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

// Shapes cycle through 1-8 nodes and 0-3 resources; small figures make ties common, large ones make them rare.
Shape ShapeOf(int i) {
  Shape shape;
  shape.nodes = i % 40 == 0 ? 8 : 1 + i % 7;
  shape.resources = (i / 8) % 4;
  shape.container_percent = 20 + 20 * (i % 4);
  shape.in_container_percent = 30 + 10 * (i % 6);
  shape.floor_percent = i % 3 == 0 ? 0 : 30;
  shape.most = i % 2 == 0 ? 4 : 1000;
  shape.tidy = i % 5 < 2;
  return shape;
}

TEST(SolveSmallForests, LossEqualsExhaustiveSearchUnderBindingCapacities) {
  int feasible = 0, infeasible = 0, binding = 0;
  for (int i = 0; i < 3000; ++i) {
    Problem problem = RandomForest(ShapeOf(i), 1000 + i);
    const std::vector<uint8_t> free_best = SearchAll(problem).level;
    SetCapacities(&problem, 10 + (i * 7) % 70);
    if (i % 11 == 0 && problem.resources > 0) problem.capacity[0].reset();
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<Solution> got = Solve(problem, Effort{}, Stop());
    if (!want.feasible) {
      ++infeasible;
      EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition) << "problem " << i;
      continue;
    }
    ++feasible;
    ASSERT_TRUE(got.ok()) << "problem " << i << ": " << got.status();
    EXPECT_EQ(got->loss, want.loss) << "problem " << i;
    EXPECT_EQ(got->bound, want.loss) << "problem " << i;
    EXPECT_TRUE(got->proved_optimal) << "problem " << i;
    EXPECT_TRUE(FollowsParents(problem, got->level)) << "problem " << i;
    EXPECT_EQ(got->loss, LossOf(problem, got->level)) << "problem " << i;
    EXPECT_EQ(got->used, UseOf(problem, got->level)) << "problem " << i;
    if (free_best != want.level) ++binding;
  }
  // The generator must go on making all three kinds, or the test would pass on nothing.
  EXPECT_GT(feasible, 1500);
  EXPECT_GT(infeasible, 200);
  EXPECT_GT(binding, 500);
}

// The last resource is a keep share: it costs 1 at level 0 of every member, so its cost rises as the level falls.
void AddKeepShare(Problem* problem, Draw* draw) {
  const int old = problem->resources++;
  std::vector<int64_t> cost;
  int64_t members = 0;
  for (int64_t i = 0; i < problem->size(); ++i) {
    const bool member = draw->Below(3) != 0;
    if (member) ++members;
    for (int level = 0; level < kLevels; ++level) {
      const auto row = problem->cost.begin() + (i * kLevels + level) * old;
      cost.insert(cost.end(), row, row + old);
      cost.push_back(member && level == 0 ? 1 : 0);
    }
  }
  problem->cost = cost;
  problem->money.push_back(0);
  problem->capacity.push_back(draw->Between(0, members));
}

TEST(SolveSmallForests, LossEqualsExhaustiveSearchWithKeepShares) {
  int feasible = 0, shares_bind = 0;
  for (int i = 0; i < 3000; ++i) {
    Shape shape = ShapeOf(i);
    shape.resources = 1 + i % 3;
    shape.nodes = std::min<int64_t>(shape.nodes, 6);
    Problem problem = RandomForest(shape, 120000 + i);
    SetCapacities(&problem, 10 + (i * 7) % 60);
    Problem without = problem;
    Draw draw(i);
    for (int shares = 1 + i % 3; shares > 0; --shares) AddKeepShare(&problem, &draw);
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<Solution> got = Solve(problem, Effort{}, Stop());
    if (!want.feasible) {
      EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition) << "problem " << i;
      continue;
    }
    ++feasible;
    ASSERT_TRUE(got.ok()) << "problem " << i << ": " << got.status();
    EXPECT_EQ(got->loss, want.loss) << "problem " << i;
    EXPECT_EQ(got->bound, want.loss) << "problem " << i;
    EXPECT_EQ(got->used, UseOf(problem, got->level)) << "problem " << i;
    EXPECT_TRUE(FollowsParents(problem, got->level)) << "problem " << i;
    if (SearchAll(without).loss < want.loss) ++shares_bind;
  }
  // The generator must go on making both kinds.
  EXPECT_GT(feasible, 1500);
  EXPECT_GT(shares_bind, 300);
}

TEST(SolveSmallForests, BoundNeverExceedsTheOptimumWithoutBranching) {
  Effort effort;
  effort.branch_nodes = 0;
  int open = 0;
  for (int i = 0; i < 1500; ++i) {
    Problem problem = RandomForest(ShapeOf(i), 50000 + i);
    SetCapacities(&problem, 15 + (i * 13) % 60);
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<Solution> got = Solve(problem, effort, Stop());
    if (!got.ok()) {
      // Without branching a plan may be missed, but never a wrong proof given that there is none.
      EXPECT_TRUE(!want.feasible || got.status().message().find("proved that none") == absl::string_view::npos)
          << "problem " << i << ": " << got.status();
      continue;
    }
    EXPECT_LE(got->bound, want.loss) << "problem " << i;
    EXPECT_GE(got->loss, want.loss) << "problem " << i;
    if (got->bound < got->loss) ++open;
  }
  EXPECT_GT(open, 20) << "the generator no longer makes problems with a gap at the root";
}

TEST(SolveSmallForests, TiesAreSettledInOrderWhereNoCapacityBinds) {
  for (int i = 0; i < 3000; ++i) {
    Shape shape = ShapeOf(i);
    shape.most = 1 + i % 3;  // nearly everything ties
    const Problem problem = RandomForest(shape, 90000 + i);
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<Solution> got = Solve(problem, Effort{}, Stop());
    if (!want.any_plan) {
      EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition) << "problem " << i;
      continue;
    }
    ASSERT_TRUE(got.ok()) << "problem " << i << ": " << got.status();
    EXPECT_EQ(got->level, want.level) << "problem " << i;
    EXPECT_TRUE(got->proved_optimal);
  }
}

TEST(SolveSmallForests, SlackCapacitiesChangeNothing) {
  for (int i = 0; i < 500; ++i) {
    Problem problem = RandomForest(ShapeOf(i), 70000 + i);
    const absl::StatusOr<Solution> open = Solve(problem, Effort{}, Stop());
    if (!open.ok()) continue;
    for (int k = 0; k < problem.resources; ++k) problem.capacity[k] = open->used[k];
    const absl::StatusOr<Solution> capped = Solve(problem, Effort{}, Stop());
    ASSERT_TRUE(capped.ok());
    EXPECT_EQ(capped->level, open->level);
    EXPECT_EQ(capped->price, std::vector<double>(problem.resources, 0.0));
  }
}

TEST(LeastUse, EqualsExhaustiveSearch) {
  for (int i = 0; i < 1000; ++i) {
    const Problem problem = RandomForest(ShapeOf(i), 30000 + i);
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<std::vector<int64_t>> got = LeastUse(problem);
    if (!want.any_plan) {
      EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition);
      continue;
    }
    ASSERT_TRUE(got.ok());
    EXPECT_EQ(*got, want.least_use) << "problem " << i;
  }
}

}  // namespace
}  // namespace scantling::budget
