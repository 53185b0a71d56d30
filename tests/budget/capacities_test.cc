// LeastUse is tested beside the exhaustive search; this is SmallestCapacities.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <limits>

#include "server/budget/budget.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

// The least factor at which some whole plan fits, by trying all; infinity where a zero capacity rules all out.
double SmallestWholeFactor(const Problem& problem) {
  const int64_t n = problem.size();
  double best = std::numeric_limits<double>::infinity();
  std::vector<uint8_t> level(n);
  for (int64_t plan = 0; plan < int64_t{1} << (2 * n); ++plan) {
    for (int64_t i = 0; i < n; ++i) level[i] = (plan >> (2 * i)) & 3;
    if (!FollowsParents(problem, level)) continue;
    const std::vector<int64_t> used = UseOf(problem, level);
    double factor = 1;
    for (int k = 0; k < problem.resources; ++k) {
      if (!problem.capacity[k] || used[k] <= *problem.capacity[k]) continue;
      factor = std::max(factor, static_cast<double>(used[k]) / static_cast<double>(*problem.capacity[k]));
    }
    best = std::min(best, factor);
  }
  return best;
}

TEST(SmallestCapacities, FactorIsALowerBoundAndTheCapacitiesAdmitAPlan) {
  int grown = 0, hopeless = 0;
  for (int i = 0; i < 600; ++i) {
    Shape shape = {.nodes = 1 + i % 6, .resources = 1 + i % 3, .floor_percent = 60, .most = i % 2 == 0 ? 6 : 900};
    Problem problem = RandomForest(shape, 2000 + i);
    if (!SearchAll(problem).any_plan) continue;
    SetCapacities(&problem, 0);
    for (int k = 0; k < problem.resources; ++k) *problem.capacity[k] = *problem.capacity[k] * (i % 10) / 10;
    const double whole = SmallestWholeFactor(problem);
    const absl::StatusOr<SmallestFeasible> got = SmallestCapacities(problem, Stop());
    if (whole == std::numeric_limits<double>::infinity()) {
      ++hopeless;
      EXPECT_EQ(got.status().code(), absl::StatusCode::kFailedPrecondition) << "problem " << i;
      continue;
    }
    ASSERT_TRUE(got.ok()) << "problem " << i << ": " << got.status();
    EXPECT_GE(got->factor_at_least, 1.0);
    EXPECT_LE(got->factor_at_least, whole) << "problem " << i;
    // One resource: the relaxed factor is the whole one. To round down 8.9e-16 is given away; three roundings there and
    // one here add at most 1.1e-16 each.
    if (problem.resources == 1) {
      EXPECT_GE(got->factor_at_least, whole * (1 - 1.5e-15)) << "problem " << i;
    }
    for (int k = 0; k < problem.resources; ++k) {
      EXPECT_GE(*got->capacity[k], *problem.capacity[k]);
      if (*problem.capacity[k] == 0) {
        EXPECT_EQ(*got->capacity[k], 0);
      }
    }
    problem.capacity = got->capacity;
    EXPECT_TRUE(SearchAll(problem).feasible) << "problem " << i;
    if (whole > 1) ++grown;
  }
  EXPECT_GT(grown, 200);
  EXPECT_GT(hopeless, 10);
}

TEST(SmallestCapacities, TwoResourcesTightTogetherByHand) {
  // One node, level 0 uses (3, 1), level 1 uses (1, 3), capacities (1, 1). Half of each uses (2, 2): factor 2 relaxed.
  // Whole plans need 3.
  Problem problem;
  problem.resources = 2;
  problem.parent = {-1};
  problem.allowed = {0b0011};
  problem.tie = {0};
  problem.loss.assign(4, 0);
  problem.cost = {3, 1, 1, 3, 0, 0, 0, 0};
  problem.capacity = {1, 1};
  problem.money = {0, 0};
  const absl::StatusOr<SmallestFeasible> got = SmallestCapacities(problem, Stop());
  ASSERT_TRUE(got.ok());
  EXPECT_NEAR(got->factor_at_least, 2.0, 1e-9);  // the weights are integers of 2^59: far finer
  EXPECT_LE(got->factor_at_least, 2.0);
  EXPECT_EQ(*got->capacity[0], 3);
  EXPECT_EQ(*got->capacity[1], 3);
}

TEST(SmallestCapacities, FeasibleProblemKeepsItsCapacities) {
  Problem problem = RandomForest({.nodes = 50, .resources = 2, .floor_percent = 0, .tidy = true}, 8);
  SetCapacities(&problem, 50);
  const absl::StatusOr<SmallestFeasible> got = SmallestCapacities(problem, Stop());
  ASSERT_TRUE(got.ok());
  EXPECT_EQ(got->factor_at_least, 1.0);
  EXPECT_EQ(got->capacity, problem.capacity);
}

TEST(SmallestCapacities, StopIsObeyed) {
  Problem problem = RandomForest({.nodes = 50, .resources = 2}, 8);
  SetCapacities(&problem, 0);
  Stop stop;
  stop.Cancel();
  EXPECT_EQ(SmallestCapacities(problem, stop).status().code(), absl::StatusCode::kCancelled);
}

// Two nodes, each either at level 0 (1 of the second resource, as a share that must be kept) or at level 1 (10 of the
// first). 5 and 1 may be spent: one node must be at level 1, so the first capacity must double if it alone may grow.
TEST(SmallestCapacities, GrowsOnlyWhatMayGrow) {
  Problem problem;
  problem.resources = 2;
  problem.parent = {-1, -1};
  problem.allowed = {3, 3};
  problem.tie = {1, 2};
  problem.loss.assign(2 * kLevels, 0);
  problem.cost.assign(2 * kLevels * 2, 0);
  for (const int node : {0, 1}) {
    problem.cost[(node * kLevels + 0) * 2 + 1] = 1;
    problem.cost[(node * kLevels + 1) * 2 + 0] = 10;
  }
  problem.capacity = {5, 1};
  problem.money = {1, 0};
  const std::vector<uint8_t> first_only = {1, 0};
  const auto found = SmallestCapacities(problem, Stop(), first_only);
  ASSERT_TRUE(found.ok()) << found.status();
  EXPECT_EQ(found->capacity[0], 10);
  EXPECT_EQ(found->capacity[1], 1);
  EXPECT_LE(found->factor_at_least, 2);
  EXPECT_GT(found->factor_at_least, 1);
  const auto both = SmallestCapacities(problem, Stop());
  ASSERT_TRUE(both.ok()) << both.status();
  EXPECT_EQ(both->capacity[1], 2);
}

}  // namespace
}  // namespace scantling::budget
