// The sweep over capacities: every point against exhaustive search or against Solve() at that point.

#include "server/budget/frontier.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <vector>

#include "server/budget/dual.h"
#include "tests/budget/expect_plan.h"
#include "tests/budget/instances.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

using Answers = std::vector<absl::StatusOr<Solution>>;

Answers Trace(const Problem& problem, const std::vector<CapacityPoint>& points, const Effort& effort) {
  Answers answers;
  const absl::Status status =
      TraceFrontier(problem, points, effort, Stop(), [&](int64_t point, const absl::StatusOr<Solution>& solution) {
        EXPECT_EQ(point, static_cast<int64_t>(answers.size()));
        answers.push_back(solution);
        return true;
      });
  EXPECT_TRUE(status.ok()) << status;
  EXPECT_EQ(answers.size(), points.size());
  return answers;
}

// Shapes cycle through 1-7 nodes and 1-3 resources.
Problem SmallForest(int i) {
  Shape shape;
  shape.nodes = 1 + i % 7;
  shape.resources = 1 + (i / 7) % 3;
  shape.container_percent = 20 + 20 * (i % 4);
  shape.in_container_percent = 30 + 10 * (i % 6);
  shape.floor_percent = i % 3 == 0 ? 0 : 30;
  shape.most = i % 2 == 0 ? 5 : 1000;
  shape.tidy = i % 5 < 2;
  return RandomForest(shape, 400'000 + i);
}

// From slack to next to nothing; now and then a limit is lifted.
std::vector<CapacityPoint> PointsFor(Problem problem, int i) {
  std::vector<CapacityPoint> points;
  for (int percent = 100; percent > 0; percent -= 9 + i % 8) {
    SetCapacities(&problem, percent);
    if ((i + percent) % 13 == 0) problem.capacity[percent % problem.resources].reset();
    points.push_back(problem.capacity);
  }
  return points;
}

TEST(TraceFrontier, EveryPointOfSmallForestsEqualsExhaustiveSearch) {
  int feasible = 0, infeasible = 0;
  for (int i = 0; i < 400; ++i) {
    Problem problem = SmallForest(i);
    const std::vector<CapacityPoint> points = PointsFor(problem, i);
    const Answers answers = Trace(problem, points, Effort{});
    for (size_t p = 0; p < answers.size(); ++p) {
      SCOPED_TRACE(testing::Message() << "problem " << i << " point " << p);
      problem.capacity = points[p];
      const Exhaustive want = SearchAll(problem);
      if (!want.feasible) {
        ++infeasible;
        EXPECT_EQ(answers[p].status().code(), absl::StatusCode::kFailedPrecondition);
        continue;
      }
      ++feasible;
      ASSERT_TRUE(answers[p].ok()) << answers[p].status();
      ExpectPlanOf(problem, *answers[p]);
      EXPECT_EQ(answers[p]->loss, want.loss);
      EXPECT_EQ(answers[p]->bound, want.loss);
    }
  }
  EXPECT_GT(feasible, 1500);
  EXPECT_GT(infeasible, 100);
}

// A target of 1 is met by any plan, so that no other solver's better plan or bound hides the sweep's own.
TEST(TraceFrontier, ItsOwnBoundsNeverExceedTheOptimum) {
  Effort effort;
  effort.target_gap = 1;
  effort.branch_nodes = 0;
  int answered = 0, with_gap = 0;
  for (int i = 0; i < 1200; ++i) {
    Problem problem = SmallForest(i);
    const std::vector<CapacityPoint> points = PointsFor(problem, i);
    const Answers answers = Trace(problem, points, effort);
    for (size_t p = 0; p < answers.size(); ++p) {
      SCOPED_TRACE(testing::Message() << "problem " << i << " point " << p);
      problem.capacity = points[p];
      const Exhaustive want = SearchAll(problem);
      if (!answers[p].ok()) {
        EXPECT_TRUE(!want.feasible ||
                    answers[p].status().message().find("proved that none") == absl::string_view::npos);
        continue;
      }
      ++answered;
      if (answers[p]->bound < answers[p]->loss) ++with_gap;
      ASSERT_TRUE(want.feasible);
      ExpectPlanOf(problem, *answers[p]);
      EXPECT_LE(answers[p]->bound, want.loss);
      EXPECT_GE(answers[p]->loss, want.loss);
    }
  }
  EXPECT_GT(answered, 4000);
  EXPECT_GT(with_gap, 300) << "the bounds are hardly put to the test";
}

// The dual of all nodes at the returned price, rounded to multiples of 2^-40: no better plan exists, whatever was
// frozen on the way. The rounding moves it by at most 2^-41 times the use beyond a capacity, under 1 for uses under
// 2^41.
int64_t CertifiedBound(const Problem& problem, const Solution& solution) {
  const Core core = CoreOf(problem);
  Prices prices;
  prices.loss_weight = int64_t{1} << 40;
  for (int k = 0; k < problem.resources; ++k) {
    prices.per_unit[k] = static_cast<int64_t>(solution.price[k] * 0x1p40 + 0.5);
  }
  PassBuffers buffers;
  Outcome outcome;
  EXPECT_TRUE(PricePass(core, prices, Stop(), &buffers, &outcome));
  return CeilingOf(LagrangianOf(prices, outcome, problem.capacity), prices.loss_weight);
}

std::vector<CapacityPoint> Shrinking(const Problem& problem, int count, bool both) {
  std::vector<CapacityPoint> points;
  for (int i = 0; i < count; ++i) {
    CapacityPoint point = problem.capacity;
    for (int k = 0; k < (both ? problem.resources : 1); ++k) point[k] = *point[k] * (2 * count - 2 * i + 1) / count;
    points.push_back(point);
  }
  return points;
}

TEST(TraceFrontier, PointsOfLargeProblemsAgreeWithSolveAndAreCertifiedOnAllNodes) {
  Effort effort;
  effort.target_gap = 3e-5;
  for (int i = 0; i < 4; ++i) {
    InstanceShape shape;
    shape.nodes = 10'000;
    shape.forest = i % 2 == 1;
    shape.correlation = i < 2 ? Correlation::kNone : Correlation::kWeak;
    Problem problem = MakeInstance(shape, 70 + i);
    const std::vector<CapacityPoint> points = Shrinking(problem, 12, i % 4 < 2);
    const Answers answers = Trace(problem, points, effort);
    int priced = 0;
    for (size_t p = 0; p < points.size(); ++p) {
      SCOPED_TRACE(testing::Message() << "instance " << i << " point " << p);
      problem.capacity = points[p];
      ASSERT_TRUE(answers[p].ok()) << answers[p].status();
      const Solution& got = *answers[p];
      ExpectPlanOf(problem, got);
      EXPECT_LE(got.gap(), effort.target_gap);
      if (got.branched == 0) {
        EXPECT_LE(got.bound, CertifiedBound(problem, got) + 1);
      }
      if (got.price[0] > 0) ++priced;
      if (p % 3 != 0) continue;
      const absl::StatusOr<Solution> fresh = Solve(problem, effort, Stop());
      ASSERT_TRUE(fresh.ok());
      EXPECT_LE(got.bound, fresh->loss);
      EXPECT_LE(fresh->bound, got.loss);
    }
    EXPECT_GT(priced, 5);
  }
}

TEST(TraceFrontier, SlackPointsGetTheUnlimitedPlanAtPriceZero) {
  InstanceShape shape;
  shape.nodes = 5'000;
  shape.forest = true;
  Problem problem = MakeInstance(shape, 5);
  std::vector<CapacityPoint> points(3, problem.capacity);
  for (auto& capacity : points[0]) capacity.reset();
  for (auto& capacity : points[1]) capacity = kMaxTotal;
  const Answers answers = Trace(problem, points, Effort{.target_gap = 1e-3});
  problem.capacity = points[0];
  const absl::StatusOr<Solution> free = Solve(problem, Effort{}, Stop());
  ASSERT_TRUE(free.ok());
  for (int p : {0, 1}) {
    ASSERT_TRUE(answers[p].ok());
    EXPECT_EQ(answers[p]->level, free->level);
    EXPECT_TRUE(answers[p]->proved_optimal);
    EXPECT_EQ(answers[p]->price, std::vector<double>(2, 0.0));
  }
  EXPECT_GT(answers[2]->price[0], 0);
}

TEST(TraceFrontier, PointsInAnyOrderAndFarApartAreStillAnswered) {
  InstanceShape shape;
  shape.nodes = 4'000;
  Problem problem = MakeInstance(shape, 9);
  std::vector<CapacityPoint> points = Shrinking(problem, 9, true);
  for (size_t p = 0; p < points.size(); ++p) points[p][p % 2] = *points[p][p % 2] / 3;
  std::swap(points[0], points[5]);
  points[3][0].reset();
  points[6][1].reset();
  Effort effort;
  effort.target_gap = 1e-3;
  const Answers answers = Trace(problem, points, effort);
  for (size_t p = 0; p < points.size(); ++p) {
    SCOPED_TRACE(p);
    problem.capacity = points[p];
    ASSERT_TRUE(answers[p].ok()) << answers[p].status();
    ExpectPlanOf(problem, *answers[p]);
    EXPECT_LE(answers[p]->gap(), effort.target_gap);
    EXPECT_LE(answers[p]->bound, CertifiedBound(problem, *answers[p]) + 1);
  }
}

TEST(TraceFrontier, CapacitiesThatRuleSingleOptionsOutAreHeard) {
  // One node of loss 900 at level 0 and 0 at level 3, cost 60, beside ten of loss 10 and cost 1. At capacity 59 its
  // level 3 alone is too dear, though half of it would do for the relaxed problem: the least loss is 900.
  Problem problem;
  problem.resources = 1;
  problem.money = {1};
  for (int i = 0; i < 11; ++i) {
    problem.parent.push_back(-1);
    problem.allowed.push_back(0b1001);
    problem.tie.push_back(i);
    problem.loss.insert(problem.loss.end(), {i == 0 ? 900 : 10, 0, 0, 0});
    problem.cost.insert(problem.cost.end(), {0, 0, 0, i == 0 ? 60 : 1});
  }
  problem.capacity = {0};
  const Answers answers = Trace(problem, {{65}, {59}, {5}, {65}}, Effort{.branch_nodes = 0});
  const int64_t loss[] = {50, 900, 950, 50};  // 65: the dear one and five others; 59: all others; 5: five others
  for (int p = 0; p < 4; ++p) {
    ASSERT_TRUE(answers[p].ok());
    EXPECT_EQ(answers[p]->loss, loss[p]) << p;
    EXPECT_EQ(answers[p]->bound, loss[p]) << p;
  }
}

TEST(TraceFrontier, WithFixedCostsEveryPointIsSolves) {
  Shape shape;
  shape.nodes = 6;
  shape.fixed_costs = 2;
  for (int i = 0; i < 30; ++i) {
    Problem problem = RandomForest(shape, 600 + i);
    std::vector<CapacityPoint> points;
    for (const int percent : {90, 50, 20}) {
      SetCapacities(&problem, percent);
      points.push_back(problem.capacity);
    }
    const Answers answers = Trace(problem, points, Effort{});
    for (size_t p = 0; p < points.size(); ++p) {
      problem.capacity = points[p];
      const Exhaustive want = SearchAll(problem);
      ASSERT_EQ(answers[p].ok(), want.feasible);
      if (want.feasible) {
        EXPECT_EQ(answers[p]->loss, want.loss);
      }
    }
  }
}

TEST(TraceFrontier, TwoSweepsAreByteIdentical) {
  InstanceShape shape;
  shape.nodes = 6'000;
  shape.forest = true;
  const Problem problem = MakeInstance(shape, 3);
  const std::vector<CapacityPoint> points = Shrinking(problem, 10, true);
  const Effort effort = {.target_gap = 1e-4};
  const Answers first = Trace(problem, points, effort), second = Trace(problem, points, effort);
  for (size_t p = 0; p < points.size(); ++p) {
    ASSERT_TRUE(first[p].ok() && second[p].ok());
    EXPECT_EQ(first[p]->level, second[p]->level);
    EXPECT_EQ(first[p]->bound, second[p]->bound);
    EXPECT_EQ(first[p]->price, second[p]->price);
  }
}

TEST(TraceFrontier, SinkEndsTheSweep) {
  InstanceShape shape;
  const Problem problem = MakeInstance(shape, 1);
  int calls = 0;
  const absl::Status status = TraceFrontier(problem, Shrinking(problem, 8, true), Effort{.target_gap = 1e-2}, Stop(),
                                            [&](int64_t point, const absl::StatusOr<Solution>&) {
                                              ++calls;
                                              return point < 2;
                                            });
  EXPECT_TRUE(status.ok());
  EXPECT_EQ(calls, 3);
}

TEST(TraceFrontier, StopBetweenPointsIsAnErrorButNotAfterTheLast) {
  InstanceShape shape;
  const Problem problem = MakeInstance(shape, 1);
  const std::vector<CapacityPoint> points = Shrinking(problem, 6, true);
  for (const int64_t at : {2, 5}) {
    Stop stop;
    int64_t calls = 0;
    const absl::Status status = TraceFrontier(problem, points, Effort{.target_gap = 1e-2}, stop,
                                              [&](int64_t point, const absl::StatusOr<Solution>&) {
                                                ++calls;
                                                if (point == at) stop.Cancel();
                                                return true;
                                              });
    EXPECT_EQ(calls, at + 1);
    EXPECT_EQ(status.code(), at == 5 ? absl::StatusCode::kOk : absl::StatusCode::kCancelled);
  }
}

TEST(TraceFrontier, StopBeforeTheFirstPointGivesNone) {
  InstanceShape shape;
  const Problem problem = MakeInstance(shape, 1);
  const auto never = [](int64_t, const absl::StatusOr<Solution>&) {
    ADD_FAILURE() << "no point may be told";
    return true;
  };
  const std::vector<CapacityPoint> points = Shrinking(problem, 6, true);
  Stop cancelled;
  cancelled.Cancel();
  EXPECT_EQ(TraceFrontier(problem, points, Effort{}, cancelled, never).code(), absl::StatusCode::kCancelled);
  const Stop late(Stop::Clock::now() - std::chrono::seconds(1));
  EXPECT_EQ(TraceFrontier(problem, points, Effort{}, late, never).code(), absl::StatusCode::kDeadlineExceeded);
}

TEST(TraceFrontier, FaultsOfPointsAreToldAllAtOnceAndOwnCapacitiesAreNotRead) {
  Problem problem = SmallForest(8);  // two resources
  ASSERT_EQ(problem.resources, 2);
  problem.capacity = {-7};
  int calls = 0;
  const auto count = [&](int64_t, const absl::StatusOr<Solution>&) { return ++calls > 0; };
  EXPECT_TRUE(TraceFrontier(problem, {}, Effort{}, Stop(), count).ok());
  const std::vector<CapacityPoint> bad = {{1, 2}, {1}, {3, -4}};
  const absl::Status status = TraceFrontier(problem, bad, Effort{}, Stop(), count);
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(status.message(), "points[1]: got 1 capacities, want 2; points[2][1]: got -4, want 0 or more");
  EXPECT_EQ(calls, 0);
  const std::vector<CapacityPoint> good = {{100'000, 100'000}};
  EXPECT_TRUE(TraceFrontier(problem, good, Effort{}, Stop(), count).ok());
  EXPECT_EQ(calls, 1);
  problem.loss[0] = -1;
  EXPECT_EQ(TraceFrontier(problem, good, Effort{}, Stop(), count).code(), absl::StatusCode::kInvalidArgument);
}

TEST(TraceFrontier, MasksWithoutAnyPlanFailEveryPoint) {
  Problem problem;
  problem.resources = 1;
  problem.money = {0};
  problem.capacity = {5};
  problem.parent = {-1, 0};
  problem.allowed = {0b0001, 0b1000};  // the parent omits, the child may not be omitted
  problem.tie = {1, 2};
  problem.loss.assign(8, 0);
  problem.cost.assign(8, 0);
  int failed = 0;
  const std::vector<CapacityPoint> points = {{9}, {1}};
  EXPECT_TRUE(TraceFrontier(problem, points, Effort{}, Stop(), [&](int64_t, const absl::StatusOr<Solution>& solution) {
                failed += absl::IsFailedPrecondition(solution.status());
                return true;
              }).ok());
  EXPECT_EQ(failed, 2);
}

}  // namespace
}  // namespace scantling::budget
