// What every answer must be, however it was found.

#ifndef SCANTLING_TESTS_BUDGET_EXPECT_PLAN_H_
#define SCANTLING_TESTS_BUDGET_EXPECT_PLAN_H_

#include <gtest/gtest.h>

#include "server/budget/budget.h"
#include "tests/budget/problems.h"

namespace scantling::budget {

// A plan of the problem, its sums right, within the capacities, its bound not above its loss.
inline void ExpectPlanOf(const Problem& problem, const Solution& got) {
  ASSERT_EQ(static_cast<int64_t>(got.level.size()), problem.size());
  EXPECT_TRUE(FollowsParents(problem, got.level));
  EXPECT_EQ(got.loss, LossOf(problem, got.level));
  EXPECT_EQ(got.used, UseOf(problem, got.level));
  for (int k = 0; k < problem.resources; ++k) {
    if (problem.capacity[k]) {
      EXPECT_LE(got.used[k], *problem.capacity[k]);
    }
  }
  EXPECT_LE(got.bound, got.loss);
}

}  // namespace scantling::budget

#endif  // SCANTLING_TESTS_BUDGET_EXPECT_PLAN_H_
