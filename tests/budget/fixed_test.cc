// Fixed costs against a search of all plans, by hand, and on problems too large for either.

#include "server/budget/fixed.h"

#include <gtest/gtest.h>

#include "server/budget/budget.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

// Shapes cycle through 1-7 nodes, 1-3 resources and 1-5 fixed costs; a third has a keep share.
Shape ShapeOf(int i) {
  Shape shape;
  shape.nodes = 1 + i % 7;
  shape.resources = 1 + (i / 7) % 3;
  shape.fixed_costs = 1 + (i / 21) % 5;
  shape.container_percent = 20 + 20 * (i % 4);
  shape.in_container_percent = 30 + 10 * (i % 6);
  shape.floor_percent = i % 3 == 0 ? 0 : 30;
  shape.most = i % 2 == 0 ? 4 : 1000;
  shape.tidy = i % 5 < 2;
  shape.keep_share = shape.resources > 1 && i % 3 == 1;
  return shape;
}

void ExpectConsistent(const Problem& problem, const Solution& got, int i) {
  ASSERT_EQ(static_cast<int64_t>(got.level.size()), problem.size()) << "problem " << i;
  EXPECT_TRUE(FollowsParents(problem, got.level)) << "problem " << i;
  EXPECT_EQ(got.loss, LossOf(problem, got.level)) << "problem " << i;
  EXPECT_EQ(got.used, UseOf(problem, got.level)) << "problem " << i;
  EXPECT_EQ(got.paid, PaysFor(problem, got.level)) << "problem " << i;
  EXPECT_EQ(static_cast<int>(got.price.size()), problem.resources) << "problem " << i;
  EXPECT_LE(got.bound, got.loss) << "problem " << i;
  for (int k = 0; k < problem.resources; ++k) {
    if (!problem.capacity[k]) continue;
    EXPECT_LE(got.used[k], *problem.capacity[k]) << "problem " << i << " resource " << k;
  }
}

TEST(SolveWithFixedCosts, LossEqualsExhaustiveSearchUnderBindingCapacities) {
  int feasible = 0, infeasible = 0, paid = 0, unpaid = 0;
  for (int i = 0; i < 3000; ++i) {
    Problem problem = RandomForest(ShapeOf(i), 1000 + i);
    SetCapacities(&problem, 10 + (i * 7) % 50);
    if (i % 11 == 0) problem.capacity[0].reset();
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<Solution> got = SolveWithFixedCosts(problem, Effort{}, Stop());
    if (!want.feasible) {
      ++infeasible;
      EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition) << "problem " << i;
      EXPECT_EQ(got.status().message().find("though none was proved"), absl::string_view::npos) << "problem " << i;
      continue;
    }
    ++feasible;
    ASSERT_TRUE(got.ok()) << "problem " << i << ": " << got.status();
    ExpectConsistent(problem, *got, i);
    EXPECT_EQ(got->loss, want.loss) << "problem " << i;
    EXPECT_EQ(got->bound, want.loss) << "problem " << i;
    EXPECT_TRUE(got->proved_optimal) << "problem " << i;
    for (const uint8_t one : got->paid) ++(one != 0 ? paid : unpaid);
  }
  // The generator must go on making all kinds, or the test would pass on nothing.
  EXPECT_GT(feasible, 1500);
  EXPECT_GT(infeasible, 200);
  EXPECT_GT(paid, 1000);
  EXPECT_GT(unpaid, 1000);
}

TEST(SolveWithFixedCosts, BoundNeverExceedsTheOptimumWithoutBranching) {
  Effort effort;
  effort.branch_nodes = 0;
  int solved = 0, open = 0;
  for (int i = 0; i < 2000; ++i) {
    Problem problem = RandomForest(ShapeOf(i), 50000 + i);
    SetCapacities(&problem, 10 + (i * 13) % 50);
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<Solution> got = SolveWithFixedCosts(problem, effort, Stop());
    if (!got.ok()) {
      // Without branching a plan may be missed, but never a wrong proof given that there is none.
      EXPECT_TRUE(!want.feasible || got.status().message().find("proved that none") == absl::string_view::npos)
          << "problem " << i << ": " << got.status();
      continue;
    }
    ++solved;
    ASSERT_TRUE(want.feasible) << "problem " << i;
    ExpectConsistent(problem, *got, i);
    EXPECT_LE(got->bound, want.loss) << "problem " << i;
    EXPECT_GE(got->loss, want.loss) << "problem " << i;
    if (got->bound < got->loss) ++open;
  }
  EXPECT_GT(solved, 300);
  EXPECT_GT(open, 50) << "the generator no longer makes problems with a gap at the root";
}

TEST(SolveWithFixedCosts, TiesAreSettledInOrderWhereNoCapacityBinds) {
  int changed = 0;
  for (int i = 0; i < 3000; ++i) {
    Shape shape = ShapeOf(i);
    shape.most = 1 + i % 3;  // nearly everything ties
    Problem problem = RandomForest(shape, 90000 + i);
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<Solution> got = SolveWithFixedCosts(problem, Effort{}, Stop());
    if (!want.any_plan) {
      EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition) << "problem " << i;
      continue;
    }
    ASSERT_TRUE(got.ok()) << "problem " << i << ": " << got.status();
    ExpectConsistent(problem, *got, i);
    EXPECT_EQ(got->level, want.level) << "problem " << i;
    EXPECT_TRUE(got->proved_optimal);
    problem.fixed.clear();
    if (SearchAll(problem).level != want.level) ++changed;
  }
  EXPECT_GT(changed, 200) << "fixed costs no longer change any plan";
}

TEST(SolveWithFixedCosts, SlackCapacitiesChangeNothing) {
  for (int i = 0; i < 500; ++i) {
    Problem problem = RandomForest(ShapeOf(i), 70000 + i);
    const absl::StatusOr<Solution> open = SolveWithFixedCosts(problem, Effort{}, Stop());
    if (!open.ok()) continue;
    for (int k = 0; k < problem.resources; ++k) problem.capacity[k] = open->used[k];
    const absl::StatusOr<Solution> capped = SolveWithFixedCosts(problem, Effort{}, Stop());
    ASSERT_TRUE(capped.ok());
    EXPECT_EQ(capped->level, open->level);
    EXPECT_EQ(capped->price, std::vector<double>(problem.resources, 0.0));
  }
}

TEST(LeastUseWithFixedCosts, EqualsExhaustiveSearch) {
  for (int i = 0; i < 1000; ++i) {
    const Problem problem = RandomForest(ShapeOf(i), 30000 + i);
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<std::vector<int64_t>> got = LeastUseWithFixedCosts(problem);
    if (!want.any_plan) {
      EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition);
      continue;
    }
    ASSERT_TRUE(got.ok());
    EXPECT_EQ(*got, want.least_use) << "problem " << i;
  }
}

// Three alike extras share one cycle: each loses 5 without it (level 2) and costs 1 either way; the cycle costs 4.
TEST(SolveWithFixedCosts, SharedCycleByHand) {
  Problem problem;
  problem.resources = 1;
  problem.money = {1};
  for (int i = 0; i < 3; ++i) {
    problem.parent.push_back(-1);
    problem.allowed.push_back(0b1100);
    problem.tie.push_back(i);
    problem.loss.insert(problem.loss.end(), {9, 9, 5, 0});
    problem.cost.insert(problem.cost.end(), {0, 0, 1, 1});
  }
  problem.fixed = {{{4}, {{0, 0b1000}, {1, 0b1000}, {2, 0b1000}}}};
  problem.capacity = {7};  // 3 * 1 + 4: just enough
  absl::StatusOr<Solution> got = SolveWithFixedCosts(problem, Effort{}, Stop());
  ASSERT_TRUE(got.ok()) << got.status();
  EXPECT_EQ(got->loss, 0);
  EXPECT_EQ(got->used, std::vector<int64_t>{7});
  EXPECT_EQ(got->paid, std::vector<uint8_t>{1});
  problem.capacity = {6};  // not enough for the cycle: nobody has it
  got = SolveWithFixedCosts(problem, Effort{}, Stop());
  ASSERT_TRUE(got.ok()) << got.status();
  EXPECT_EQ(got->loss, 15);
  EXPECT_EQ(got->used, std::vector<int64_t>{3});
  EXPECT_EQ(got->paid, std::vector<uint8_t>{0});
  EXPECT_TRUE(got->proved_optimal);
  problem.allowed[1] = 0b1000;  // one must have it: then all might as well, but 7 is too much
  got = SolveWithFixedCosts(problem, Effort{}, Stop());
  EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition);
}

TEST(SolveWithFixedCosts, StopIsObeyed) {
  Problem problem = RandomForest({.nodes = 50, .resources = 2, .floor_percent = 0, .fixed_costs = 3}, 8);
  SetCapacities(&problem, 30);
  Stop stop;
  stop.Cancel();
  EXPECT_EQ(SolveWithFixedCosts(problem, Effort{}, stop).status().code(), absl::StatusCode::kCancelled);
}

}  // namespace
}  // namespace scantling::budget
