// Fixed costs against a search of all plans, by hand, and on problems too large for either.

#include "server/budget/fixed.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>

#include "server/budget/budget.h"
#include "tests/budget/fixed_instances.h"
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
  int solved = 0;
  for (int i = 0; i < 500; ++i) {
    Problem problem = RandomForest(ShapeOf(i), 70000 + i);
    const absl::StatusOr<Solution> open = SolveWithFixedCosts(problem, Effort{}, Stop());
    if (!open.ok()) continue;
    ++solved;
    for (int k = 0; k < problem.resources; ++k) problem.capacity[k] = open->used[k];
    const absl::StatusOr<Solution> capped = SolveWithFixedCosts(problem, Effort{}, Stop());
    ASSERT_TRUE(capped.ok());
    EXPECT_EQ(capped->level, open->level);
    EXPECT_EQ(capped->price, std::vector<double>(problem.resources, 0.0));
  }
  EXPECT_GT(solved, 300);
}

// The same problem with its nodes in another order, in which children come before their parents.
Problem Reversed(const Problem& problem) {
  Problem reversed = problem;
  const int64_t n = problem.size();
  for (int64_t i = 0; i < n; ++i) {
    const int64_t from = n - 1 - i;
    const int64_t row = int64_t{kLevels} * problem.resources;
    reversed.parent[i] = problem.parent[from] < 0 ? -1 : static_cast<int32_t>(n - 1 - problem.parent[from]);
    reversed.allowed[i] = problem.allowed[from];
    reversed.tie[i] = problem.tie[from];
    std::copy_n(problem.loss.begin() + from * kLevels, kLevels, reversed.loss.begin() + i * kLevels);
    std::copy_n(problem.cost.begin() + from * row, row, reversed.cost.begin() + i * row);
  }
  for (FixedCost& fixed : reversed.fixed) {
    for (FixedCost::User& user : fixed.users) user.node = static_cast<int32_t>(n - 1 - user.node);
  }
  return reversed;
}

TEST(SolveWithFixedCosts, ChildrenMayComeBeforeTheirParents) {
  int feasible = 0;
  for (int i = 0; i < 600; ++i) {
    Problem problem = Reversed(RandomForest(ShapeOf(i), 40000 + i));
    const Exhaustive open = SearchAll(problem);
    const absl::StatusOr<Solution> unseen = SolveWithFixedCosts(problem, Effort{}, Stop());
    ASSERT_EQ(unseen.ok(), open.any_plan) << "problem " << i;
    if (!unseen.ok()) continue;
    EXPECT_EQ(unseen->level, open.level) << "problem " << i;
    EXPECT_EQ(*LeastUseWithFixedCosts(problem), open.least_use) << "problem " << i;
    SetCapacities(&problem, 20 + (i * 7) % 40);
    const Exhaustive want = SearchAll(problem);
    const absl::StatusOr<Solution> got = SolveWithFixedCosts(problem, Effort{}, Stop());
    ASSERT_EQ(got.ok(), want.feasible) << "problem " << i;
    if (!got.ok()) continue;
    ++feasible;
    ExpectConsistent(problem, *got, i);
    EXPECT_EQ(got->loss, want.loss) << "problem " << i;
  }
  EXPECT_GT(feasible, 200);
}

TEST(LeastUseWithFixedCosts, EqualsExhaustiveSearch) {
  for (int i = 0; i < 3000; ++i) {
    Shape shape = ShapeOf(i);
    if (i % 3 != 0) shape.most = 12;
    const Problem problem = RandomForest(shape, 30000 + i);
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

// Costs that do not matter: free ones, ones that are paid whatever is chosen, and two in place of one of their sum.
TEST(SolveWithFixedCosts, EqualProblemsHaveEqualPlans) {
  for (int i = 0; i < 300; ++i) {
    Problem problem = RandomForest(ShapeOf(i), 60000 + i);
    SetCapacities(&problem, 30);
    Problem other = problem;
    FixedCost free = problem.fixed[0];
    free.cost.assign(problem.resources, 0);
    other.fixed.push_back(free);
    FixedCost& half = other.fixed[0];
    other.fixed.push_back(half);
    for (int k = 0; k < problem.resources; ++k) {
      other.fixed[0].cost[k] = problem.fixed[0].cost[k] / 3;
      other.fixed.back().cost[k] = problem.fixed[0].cost[k] - other.fixed[0].cost[k];
    }
    FixedCost always = {{}, {{0, problem.allowed[0]}}};
    for (int k = 0; k < problem.resources; ++k) {
      always.cost.push_back(17);
      *other.capacity[k] += 17;
    }
    other.fixed.push_back(always);
    const absl::StatusOr<Solution> a = SolveWithFixedCosts(problem, Effort{}, Stop());
    const absl::StatusOr<Solution> b = SolveWithFixedCosts(other, Effort{}, Stop());
    ASSERT_EQ(a.ok(), b.ok()) << "problem " << i;
    if (!a.ok()) continue;
    EXPECT_EQ(a->loss, b->loss) << "problem " << i;
    EXPECT_EQ(a->bound, b->bound) << "problem " << i;
    ExpectConsistent(other, *b, i);
  }
}

struct Large {
  const char* name;
  FixedShape shape;
  double gap;  // reached with room to spare; a change that loses a factor is noticed
};

void ExpectSane(const Large& large) {
  const Problem problem = MakeFixedInstance(large.shape, 1);
  const Effort effort = {.branch_nodes = 200};
  const absl::StatusOr<Solution> got = SolveWithFixedCosts(problem, effort, Stop());
  ASSERT_TRUE(got.ok()) << large.name << ": " << got.status();
  ExpectConsistent(problem, *got, 0);
  EXPECT_FALSE(got->interrupted);
  EXPECT_LE(got->gap(), large.gap) << large.name;
  const absl::StatusOr<Solution> again = SolveWithFixedCosts(problem, effort, Stop());
  EXPECT_EQ(again->level, got->level) << large.name;
  EXPECT_EQ(again->bound, got->bound) << large.name;
  EXPECT_EQ(again->price, got->price) << large.name;
}

TEST(SolveWithFixedCosts, RigsOfTwoHundredAssetsOverFiveThousandNodes) {
  ExpectSane({"rigs", {.base = {.nodes = 5000}, .assets = 200}, 1e-5});
}

TEST(SolveWithFixedCosts, RigsCyclesAndContainersOverSixHundredNodes) {
  FixedShape shape = {.base = {.nodes = 600, .forest = true}, .assets = 30, .fixed_percent = 60, .cycles = true};
  ExpectSane({"containers", shape, 1e-4});
}

// Memory of an asset in a frame: rows do not use the resource at all.
TEST(SolveWithFixedCosts, AThousandFixedCostsOfOneResource) {
  FixedShape shape = {.base = {.nodes = 1500, .resources = 1}, .assets = 400, .rigs = false, .memory = true};
  ExpectSane({"memory", shape, 1e-3});
}

TEST(SolveWithFixedCosts, BoundOfTheRootIsNeverAboveALaterPlan) {
  for (uint64_t seed = 1; seed <= 2; ++seed) {
    FixedShape shape = {
        .base = {.nodes = 400, .forest = seed % 2 == 0}, .assets = 25, .fixed_percent = 60, .cycles = true};
    const Problem problem = MakeFixedInstance(shape, seed);
    const absl::StatusOr<Solution> root = SolveWithFixedCosts(problem, {.branch_nodes = 0}, Stop());
    const absl::StatusOr<Solution> full = SolveWithFixedCosts(problem, Effort{}, Stop());
    ASSERT_TRUE(root.ok() && full.ok());
    EXPECT_LE(root->bound, full->loss);
    EXPECT_LE(full->bound, root->loss);
    EXPECT_LE(full->loss, root->loss);
  }
}

TEST(SolveWithFixedCosts, DeadlineLeavesAPlanWithItsTrueBound) {
  const FixedShape shape = {
      .base = {.nodes = 3000, .forest = true}, .assets = 150, .fixed_percent = 60, .cycles = true};
  const Problem problem = MakeFixedInstance(shape, 1);
  const absl::StatusOr<Solution> full = SolveWithFixedCosts(problem, Effort{}, Stop());
  ASSERT_TRUE(full.ok());
  int cut_short = 0;
  for (const int ms : {5, 20, 80, 320}) {
    const Stop stop(Stop::Clock::now() + std::chrono::milliseconds(ms));
    const absl::StatusOr<Solution> got = SolveWithFixedCosts(problem, Effort{}, stop);
    if (!got.ok()) {
      EXPECT_EQ(got.status().code(), absl::StatusCode::kDeadlineExceeded);
      continue;
    }
    ExpectConsistent(problem, *got, ms);
    EXPECT_LE(got->bound, full->loss);
    EXPECT_LE(full->bound, got->loss);
    cut_short += got->interrupted ? 1 : 0;
  }
  EXPECT_GT(cut_short, 0);
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
