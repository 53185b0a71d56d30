// The solver against CBC, a general mixed-integer solver, on instances of a few hundred nodes.

#include <gtest/gtest.h>

#include <cmath>

#include "server/budget/budget.h"
#include "tests/budget/instances.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

constexpr int kCapS = 60;  // CBC's time; it needs a few seconds at most on these

// CBC proves its optimum within `ratio` and writes eight decimals; its own integrality tolerance of 1e-6 per binary may
// hide a loss of a unit or two among losses of 1e5 each. Ours is proved within 1e-6.
void ExpectSameOptimum(const Problem& problem, const char* name) {
  const OtherAnswer cbc = RunCbc(problem, 0, kCapS);
  ASSERT_TRUE(cbc.ran) << name << ": the program cbc is missing or failed; install coinor-cbc";
  ASSERT_TRUE(cbc.optimal) << name << ": CBC did not prove its optimum in " << kCapS << " s";
  const absl::StatusOr<Solution> ours = Solve(problem, {.target_gap = 1e-6, .branch_nodes = 200'000}, Stop());
  ASSERT_TRUE(ours.ok()) << name << ": " << ours.status();
  EXPECT_TRUE(FollowsParents(problem, ours->level)) << name;
  EXPECT_LE(ours->gap(), 1e-6) << name;
  const double tolerance = 2e-6 * cbc.objective + 2;
  EXPECT_NEAR(static_cast<double>(ours->loss), cbc.objective, tolerance) << name;
  EXPECT_LE(static_cast<double>(ours->bound), cbc.objective + 2) << name;
}

TEST(AgainstCbc, FlatInstances) {
  for (const Correlation correlation : {Correlation::kNone, Correlation::kWeak}) {
    const InstanceShape shape = {.nodes = 300, .correlation = correlation};
    ExpectSameOptimum(MakeInstance(shape, 1), Name(shape).c_str());
  }
}

TEST(AgainstCbc, Forests) {
  for (const Correlation correlation : {Correlation::kNone, Correlation::kWeak}) {
    const InstanceShape shape = {.nodes = 300, .correlation = correlation, .forest = true, .percent = 30};
    ExpectSameOptimum(MakeInstance(shape, 2), Name(shape).c_str());
  }
}

TEST(AgainstCbc, OneResource) {
  const InstanceShape shape = {.nodes = 500, .resources = 1, .correlation = Correlation::kWeak, .forest = true};
  ExpectSameOptimum(MakeInstance(shape, 3), Name(shape).c_str());
}

TEST(AgainstCbc, DeepForestWithFloorsAndThreeResources) {
  // Figures of a few units: losses are small integers, so the optima must agree exactly.
  Problem problem = RandomForest({.nodes = 200,
                                  .resources = 3,
                                  .container_percent = 50,
                                  .in_container_percent = 70,
                                  .floor_percent = 0,
                                  .most = 30,
                                  .tidy = true},
                                 17);
  for (size_t i = 0; i < problem.allowed.size(); i += 5) problem.allowed[i] = 0b1110;  // may not be left out
  for (size_t i = 0; i < problem.allowed.size(); i += 5) {                             // so neither may what holds it
    for (int32_t above = problem.parent[i]; above >= 0; above = problem.parent[above]) problem.allowed[above] &= 0b1110;
  }
  SetCapacities(&problem, 45);
  const OtherAnswer cbc = RunCbc(problem, 0, kCapS);
  ASSERT_TRUE(cbc.ran) << "the program cbc is missing or failed; install coinor-cbc";
  ASSERT_TRUE(cbc.optimal);
  const absl::StatusOr<Solution> ours = Solve(problem, {.target_gap = 0, .branch_nodes = 200'000}, Stop());
  ASSERT_TRUE(ours.ok()) << ours.status();
  EXPECT_EQ(ours->loss, std::llround(cbc.objective));
  EXPECT_LE(ours->bound, std::llround(cbc.objective));
}

TEST(AgainstCbc, InfeasibleForBoth) {
  Problem problem = RandomForest({.nodes = 30, .resources = 2, .floor_percent = 0, .most = 30, .tidy = true}, 4);
  SetCapacities(&problem, 0);
  for (int k = 0; k < 2; ++k) *problem.capacity[k] -= 1;
  const OtherAnswer cbc = RunCbc(problem, 0, kCapS);
  ASSERT_TRUE(cbc.ran) << "the program cbc is missing or failed; install coinor-cbc";
  EXPECT_FALSE(cbc.optimal);
  EXPECT_EQ(Solve(problem, Effort{}, Stop()).status().code(), absl::StatusCode::kFailedPrecondition);
}

}  // namespace
}  // namespace scantling::budget
