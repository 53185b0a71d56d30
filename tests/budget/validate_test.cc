// Every refusal of Validate(), word for word.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "server/budget/budget.h"

namespace scantling::budget {
namespace {

using ::testing::HasSubstr;

// Two nodes, the second under the first, one resource.
Problem Sound() {
  Problem problem;
  problem.resources = 1;
  problem.parent = {-1, 0};
  problem.allowed = {15, 15};
  problem.tie = {1, 2};
  problem.loss = {9, 5, 2, 0, 9, 5, 2, 0};
  problem.cost = {0, 1, 4, 8, 0, 1, 4, 8};
  problem.capacity = {10};
  problem.money = {1};
  return problem;
}

std::string Refusal(const Problem& problem) {
  const absl::Status status = Validate(problem);
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  // Every entry point refuses alike.
  EXPECT_EQ(Solve(problem, Effort{}, Stop()).status(), status);
  EXPECT_EQ(LeastUse(problem).status(), status);
  EXPECT_EQ(SmallestCapacities(problem, Stop()).status(), status);
  return std::string(status.message());
}

TEST(Validate, AcceptsASoundProblemAndAnEmptyOne) {
  EXPECT_TRUE(Validate(Sound()).ok());
  EXPECT_TRUE(Validate(Problem{}).ok());
}

TEST(Validate, RefusesResourcesOutOfRange) {
  Problem problem = Sound();
  problem.resources = 17;
  EXPECT_EQ(Refusal(problem), "resources: got 17, want 0 to 16");
  problem.resources = -1;
  EXPECT_EQ(Refusal(problem), "resources: got -1, want 0 to 16");
}

TEST(Validate, NamesEveryColumnOfWrongLength) {
  Problem problem = Sound();
  problem.allowed.pop_back();
  problem.tie.pop_back();
  problem.loss.pop_back();
  problem.cost.pop_back();
  problem.capacity.clear();
  problem.money.push_back(3);
  EXPECT_EQ(Refusal(problem),
            "allowed: got 1 entries, want 2; tie: got 1 entries, want 2; loss: got 7 entries, want 8; "
            "cost: got 7 entries, want 8; capacity: got 0 entries, want 1; money: got 2 entries, want 1");
}

TEST(Validate, RefusesParentsOutOfRange) {
  Problem problem = Sound();
  problem.parent = {-2, 2};
  EXPECT_EQ(Refusal(problem),
            "parent[0]: got -2, want -1 or a node below 2; parent[1]: got 2, want -1 or a node below 2");
}

TEST(Validate, RefusesCycles) {
  Problem problem = Sound();
  problem.parent = {1, 0};
  EXPECT_EQ(Refusal(problem), "parent: node 0 is its own ancestor, want a forest");
  problem.parent = {-1, 1};
  EXPECT_EQ(Refusal(problem), "parent: node 1 is its own ancestor, want a forest");
}

TEST(Validate, RefusesMasksWithoutLevelsOrWithUnknownOnes) {
  Problem problem = Sound();
  problem.allowed = {0, 16};
  EXPECT_EQ(Refusal(problem), "allowed[0]: got 0, want 1 to 15; allowed[1]: got 16, want 1 to 15");
}

TEST(Validate, RefusesNegativeFigures) {
  Problem problem = Sound();
  problem.loss[6] = -3;
  problem.cost[1] = -4;
  problem.capacity[0] = -5;
  problem.money[0] = -6;
  EXPECT_EQ(
      Refusal(problem),
      "cost of node 0 level 1 resource 0: got -4, want 0 or more; loss of node 1 level 2: got -3, want 0 or more; "
      "capacity[0]: got -5, want 0 or more; money[0]: got -6, want 0 or more");
}

TEST(Validate, RefusesTotalsBeyondTheLimit) {
  Problem problem = Sound();
  problem.loss[0] = kMaxTotal;  // with 9 of the other node: one step too much
  EXPECT_EQ(Refusal(problem), "loss: the largest total exceeds 2^61, want coarser units");
  problem = Sound();
  problem.cost[3] = kMaxTotal;
  EXPECT_EQ(Refusal(problem), "cost of resource 0: the largest total exceeds 2^61, want coarser units");
  problem = Sound();
  problem.money[0] = kMaxTotal / 8;  // costs total 16: twice the limit
  EXPECT_EQ(Refusal(problem), "money up to resource 0: the largest total exceeds 2^61, want coarser units");
}

TEST(Validate, RefusesFixedCostsThatNobodyCanPay) {
  Problem problem = Sound();
  problem.fixed = {{{3}, {{0, 8}, {1, 15}}}, {{1, 2}, {}}, {{-7}, {{2, 0}, {-1, 16}, {0, 1}, {0, 2}}}};
  EXPECT_EQ(Refusal(problem),
            "fixed[1].cost: got 2 entries, want 1; fixed[1].users: got none, want at least one; "
            "fixed[2].cost[0]: got -7, want 0 or more; "
            "fixed[2].users[0]: got node 2, want 0 to 1; fixed[2].users[0]: got levels 0, want 1 to 15; "
            "fixed[2].users[1]: got node -1, want 0 to 1; fixed[2].users[1]: got levels 16, want 1 to 15; "
            "fixed[2].users: got node 0 twice, want each node once");
  problem.fixed.resize(1);
  EXPECT_TRUE(Validate(problem).ok());
}

TEST(Validate, CountsFixedCostsToTheTotals) {
  Problem problem = Sound();
  problem.fixed = {{{kMaxTotal - 16}, {{0, 8}}}};  // the nodes' dearest levels cost 16 together: just at the limit
  problem.money[0] = 0;
  EXPECT_TRUE(Validate(problem).ok());
  problem.fixed.push_back({{1}, {{1, 8}}});
  EXPECT_EQ(Refusal(problem), "cost of resource 0: the largest total exceeds 2^61, want coarser units");
  problem = Sound();
  problem.fixed = {{{kMaxTotal / 4}, {{0, 8}}}};
  problem.money[0] = 5;
  EXPECT_EQ(Refusal(problem), "money up to resource 0: the largest total exceeds 2^61, want coarser units");
}

TEST(Validate, AcceptsTotalsAtTheLimit) {
  Problem problem = Sound();
  problem.loss[0] = kMaxTotal - 9;
  problem.cost[3] = kMaxTotal - 8;
  problem.capacity[0] = kMaxTotal;
  EXPECT_TRUE(Validate(problem).ok());
  const absl::StatusOr<Solution> solution = Solve(problem, Effort{}, Stop());
  ASSERT_TRUE(solution.ok());
  EXPECT_EQ(solution->loss, 0);
}

TEST(Validate, ListsTwentyFaultsAndCountsTheRest) {
  Problem problem;
  problem.parent.assign(50, -1);
  problem.allowed.assign(50, 0);
  problem.tie.assign(50, 0);
  problem.loss.assign(200, 0);
  const std::string text = Refusal(problem);
  EXPECT_THAT(text, HasSubstr("allowed[19]"));
  EXPECT_THAT(text, Not(HasSubstr("allowed[20]")));
  EXPECT_THAT(text, HasSubstr("; and 30 more"));
}

}  // namespace
}  // namespace scantling::budget
