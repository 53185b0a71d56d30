// FlipOf against relaxed trees solved again at scaled prices.

#include <gtest/gtest.h>

#include <cmath>

#include "server/budget/budget.h"
#include "server/budget/core.h"
#include "server/budget/tree_pass.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

// The level of `node` in the relaxed problem at prices times `factor`, its ancestors pinned to the solution's levels.
int RelaxedPick(Problem problem, const Solution& solution, int64_t node, double factor) {
  for (int32_t above = problem.parent[node]; above >= 0; above = problem.parent[above]) {
    problem.allowed[above] = static_cast<uint8_t>(1 << solution.level[above]);
  }
  Core core = CoreOf(problem);
  EXPECT_TRUE(PruneSets(core.parent, core.sets));
  ReachSets(core.parent, core.sets);
  Prices prices;
  prices.loss_weight = int64_t{1} << 40;
  for (int k = 0; k < problem.resources; ++k) {
    prices.per_unit[k] = std::llround(solution.price[k] * factor * 0x1p40);
  }
  PassBuffers buffers;
  Outcome outcome;
  EXPECT_TRUE(PricePass(core, prices, Stop(), &buffers, &outcome));
  for (int32_t i = 0; i < core.size(); ++i) {
    if ((core.origin.empty() ? i : core.origin[i]) == node) return buffers.level[i];
  }
  return -1;
}

bool HasChildren(const Problem& problem, int64_t node) {
  return std::find(problem.parent.begin(), problem.parent.end(), node) != problem.parent.end();
}

TEST(FlipOf, FactorsAreWhereTheRelaxedPickChanges) {
  // Figures up to 1,000, so crossings at different factors lie further apart than this step.
  constexpr double kStep = 1e-7;
  int dearer = 0, cheaper = 0;
  for (int i = 0; i < 150; ++i) {
    Problem problem = RandomForest({.nodes = 30, .resources = 1 + i % 2, .most = 1000, .tidy = i % 2 == 0}, 600 + i);
    SetCapacities(&problem, 30);
    const absl::StatusOr<Solution> solution = Solve(problem, Effort{}, Stop());
    if (!solution.ok()) continue;
    for (int64_t node = 0; node < problem.size(); ++node) {
      if (HasChildren(problem, node)) continue;
      const PriceFlip flip = FlipOf(problem, *solution, node);
      if (flip.dearer_factor && *flip.dearer_factor > 1 + 1e-5) {
        const double at = *flip.dearer_factor;
        const int here = RelaxedPick(problem, *solution, node, 1 + kStep);
        EXPECT_EQ(RelaxedPick(problem, *solution, node, at * (1 - kStep)), here);
        EXPECT_EQ(RelaxedPick(problem, *solution, node, at * (1 + kStep)), flip.dearer_level);
        EXPECT_NE(here, flip.dearer_level);
        ++dearer;
      }
      if (flip.cheaper_factor && *flip.cheaper_factor < 1 - 1e-5) {
        const double at = *flip.cheaper_factor;
        const int here = RelaxedPick(problem, *solution, node, 1 - kStep);
        EXPECT_EQ(RelaxedPick(problem, *solution, node, at * (1 + kStep)), here);
        EXPECT_EQ(RelaxedPick(problem, *solution, node, at * (1 - kStep)), flip.cheaper_level);
        ++cheaper;
      }
      if (!flip.dearer_factor) {
        EXPECT_EQ(RelaxedPick(problem, *solution, node, 1 + kStep), RelaxedPick(problem, *solution, node, 1e6));
      }
    }
  }
  EXPECT_GT(dearer, 200);
  EXPECT_GT(cheaper, 200);
}

TEST(FlipOf, WorkedByHand) {
  // Loss 9, 5, 2, 0 and cost 0, 1, 4, 8 at price 1: worth 9, 6, 6, 8. Held is 2, the solution's level, of the tied 1
  // and 2. Dearer: 2 meets 1 at factor (5 - 2) / (4 - 1) = 1. Cheaper: 2 meets 3 at (2 - 0) / (8 - 4) = 0.5.
  Problem problem;
  problem.resources = 1;
  problem.parent = {-1};
  problem.allowed = {15};
  problem.tie = {0};
  problem.loss = {9, 5, 2, 0};
  problem.cost = {0, 1, 4, 8};
  problem.capacity = {4};
  problem.money = {1};
  Solution solution;
  solution.level = {2};
  solution.price = {1.0};
  const PriceFlip flip = FlipOf(problem, solution, 0);
  EXPECT_EQ(flip.dearer_factor, 1.0);
  EXPECT_EQ(flip.dearer_level, 1);
  EXPECT_EQ(flip.cheaper_factor, 0.5);
  EXPECT_EQ(flip.cheaper_level, 3);
}

TEST(FlipOf, ParentAtOneHoldsItsChildDown) {
  Problem problem;
  problem.resources = 1;
  problem.parent = {-1, 0};
  problem.allowed = {0b0010, 15};
  problem.tie = {0, 1};
  problem.loss = {0, 0, 0, 0, 9, 5, 2, 0};
  problem.cost = {0, 0, 0, 0, 0, 1, 4, 8};
  problem.capacity = {4};
  problem.money = {1};
  Solution solution;
  solution.level = {1, 1};
  solution.price = {1.0};
  const PriceFlip flip = FlipOf(problem, solution, 1);
  EXPECT_FALSE(flip.cheaper_factor);   // levels 2 and 3 are not open to it
  EXPECT_EQ(flip.dearer_factor, 4.0);  // (9 - 5) / (1 - 0)
  EXPECT_EQ(flip.dearer_level, 0);
}

TEST(FlipOf, WithoutPricesNothingFlips) {
  Problem problem = RandomForest({.nodes = 5, .resources = 1, .floor_percent = 0}, 3);
  const absl::StatusOr<Solution> solution = Solve(problem, Effort{}, Stop());
  ASSERT_TRUE(solution.ok());
  for (int64_t node = 0; node < 5; ++node) {
    const PriceFlip flip = FlipOf(problem, *solution, node);
    EXPECT_FALSE(flip.cheaper_factor);
    EXPECT_FALSE(flip.dearer_factor);
  }
}

}  // namespace
}  // namespace scantling::budget
