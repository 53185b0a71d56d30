// Petersen's seven knapsacks: 5 or 10 constraints each, all of them dualised at once.
//
// An item is a node that may take level 0 (left: its profit is lost) or level 1 (taken: its weights are used), so that
// loss = total profit - profit taken. Profits carry up to one decimal and are taken times ten.
// Source: Petersen 1967, Management Science 13(9) 736-750; numbers and optima from OR-Library, mknap1.

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <numeric>
#include <string>
#include <vector>

#include "server/budget/budget.h"

namespace scantling::budget {
namespace {

struct Knapsack {
  Problem problem;
  int64_t least_loss = 0;
};

std::vector<Knapsack> ReadAll() {
  std::ifstream file(std::string(SCANTLING_SOURCE_DIR) + "/tests/data/mknap1.txt");
  int count = 0;
  file >> count;
  std::vector<Knapsack> all(count);
  for (Knapsack& knapsack : all) {
    int items, constraints;
    double optimum;
    file >> items >> constraints >> optimum;
    std::vector<int64_t> profit(items);
    for (int64_t& p : profit) {
      double value;
      file >> value;
      p = std::llround(value * 10);
    }
    Problem& problem = knapsack.problem;
    problem.resources = constraints;
    problem.parent.assign(items, -1);
    problem.allowed.assign(items, 0b0011);
    problem.tie.resize(items);
    std::iota(problem.tie.begin(), problem.tie.end(), 0);
    problem.money.assign(constraints, 0);
    problem.loss.assign(items * kLevels, 0);
    problem.cost.assign(items * kLevels * constraints, 0);
    for (int i = 0; i < items; ++i) problem.loss[i * kLevels] = profit[i];
    for (int k = 0; k < constraints; ++k) {
      for (int i = 0; i < items; ++i) file >> problem.cost[(i * kLevels + 1) * constraints + k];
    }
    for (int k = 0; k < constraints; ++k) {
      int64_t capacity;
      file >> capacity;
      problem.capacity.push_back(capacity);
    }
    knapsack.least_loss = std::accumulate(profit.begin(), profit.end(), int64_t{0}) - std::llround(optimum * 10);
  }
  EXPECT_TRUE(file.good() || file.eof());
  return all;
}

TEST(PetersenKnapsacks, OptimumOfAllSevenIsFoundAndProved) {
  const std::vector<Knapsack> all = ReadAll();
  ASSERT_EQ(all.size(), 7u);
  for (size_t i = 0; i < all.size(); ++i) {
    const absl::StatusOr<Solution> solution = Solve(all[i].problem, {.target_gap = 0}, Stop());
    ASSERT_TRUE(solution.ok()) << "problem " << i + 1 << ": " << solution.status();
    EXPECT_EQ(solution->loss, all[i].least_loss) << "problem " << i + 1;
    EXPECT_TRUE(solution->proved_optimal) << "problem " << i + 1;
  }
}

TEST(PetersenKnapsacks, RootBoundIsValidWithEveryConstraintDualised) {
  const std::vector<Knapsack> all = ReadAll();
  for (size_t i = 0; i < all.size(); ++i) {
    const absl::StatusOr<Solution> solution = Solve(all[i].problem, {.target_gap = 0, .branch_nodes = 0}, Stop());
    ASSERT_TRUE(solution.ok());
    EXPECT_LE(solution->bound, all[i].least_loss) << "problem " << i + 1;
    EXPECT_GT(solution->bound, 0) << "problem " << i + 1;
    EXPECT_GE(solution->loss, all[i].least_loss) << "problem " << i + 1;
  }
}

}  // namespace
}  // namespace scantling::budget
