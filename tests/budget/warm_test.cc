// Series of changes: every answer against exhaustive search or a fresh Solve().

#include "server/budget/warm.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <numeric>
#include <utility>
#include <vector>

#include "server/budget/dual.h"
#include "server/budget/warm_state.h"
#include "tests/budget/expect_plan.h"
#include "tests/budget/instances.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

// Shapes cycle through 1-7 nodes and 1-3 resources.
Shape SmallShape(int i) {
  Shape shape;
  shape.nodes = 1 + i % 7;
  shape.resources = 1 + (i / 7) % 3;
  shape.container_percent = 20 + 20 * (i % 4);
  shape.in_container_percent = 30 + 10 * (i % 6);
  shape.floor_percent = i % 3 == 0 ? 0 : 30;
  shape.most = i % 2 == 0 ? 6 : 1000;
  shape.tidy = i % 5 < 2;
  return shape;
}

// The same problem with its nodes in another order; new_place[i]: where node i goes.
Problem Reordered(const Problem& problem, const std::vector<int32_t>& new_place) {
  Problem other = problem;
  const int64_t row = int64_t{kLevels} * problem.resources;
  for (int64_t i = 0; i < problem.size(); ++i) {
    const int32_t to = new_place[i];
    other.parent[to] = problem.parent[i] < 0 ? -1 : new_place[problem.parent[i]];
    other.allowed[to] = problem.allowed[i];
    other.tie[to] = problem.tie[i];
    std::copy_n(problem.loss.begin() + i * kLevels, kLevels, other.loss.begin() + int64_t{to} * kLevels);
    std::copy_n(problem.cost.begin() + i * row, row, other.cost.begin() + to * row);
  }
  return other;
}

// Children before parents where `i` is odd.
Problem SmallProblem(int i) {
  Problem problem = RandomForest(SmallShape(i), 800'000 + i);
  std::vector<int32_t> place(problem.size());
  std::iota(place.begin(), place.end(), 0);
  if (i % 2 == 1) std::reverse(place.begin(), place.end());
  problem = Reordered(problem, place);
  SetCapacities(&problem, 30 + i % 50);
  return problem;
}

// New rows for some nodes, drawn as the generator draws them; now and then a new mask.
std::vector<RowChange> SomeChanges(const Problem& problem, int64_t most, int64_t count, Draw* draw) {
  std::vector<RowChange> changes;
  std::vector<int32_t> nodes;
  for (int64_t c = 0; c < count; ++c) nodes.push_back(static_cast<int32_t>(draw->Below(problem.size())));
  std::sort(nodes.begin(), nodes.end());
  nodes.erase(std::unique(nodes.begin(), nodes.end()), nodes.end());
  for (const int32_t node : nodes) {
    RowChange change;
    change.node = node;
    change.allowed = draw->Below(4) == 0 ? static_cast<uint8_t>(draw->Between(1, 15)) : 15;
    for (int64_t& loss : change.loss) loss = draw->Between(0, most);
    for (int c = 0; c < kLevels * problem.resources; ++c) change.cost.push_back(draw->Between(0, most));
    if (draw->Below(2) == 0) std::sort(change.loss.rbegin(), change.loss.rend());
    changes.push_back(std::move(change));
  }
  return changes;
}

std::vector<std::optional<int64_t>> SomeCapacities(const Problem& problem, Draw* draw) {
  Problem other = problem;
  if (draw->Below(2) == 0) return other.capacity;
  SetCapacities(&other, static_cast<int>(draw->Between(5, 95)));
  if (draw->Below(5) == 0) other.capacity[draw->Below(problem.resources)].reset();
  return other.capacity;
}

void Apply(const std::vector<RowChange>& changes, const std::vector<std::optional<int64_t>>& capacity,
           Problem* problem) {
  const int64_t row = int64_t{kLevels} * problem->resources;
  for (const RowChange& change : changes) {
    problem->allowed[change.node] = change.allowed;
    std::copy(change.loss.begin(), change.loss.end(), problem->loss.begin() + int64_t{change.node} * kLevels);
    std::copy(change.cost.begin(), change.cost.end(), problem->cost.begin() + change.node * row);
  }
  problem->capacity = capacity;
}

// One node leaves (its children go to its parent), one joins, one moves, the order is turned round; `was` says so.
Problem Rebuilt(const Problem& problem, int64_t most, Draw* draw, std::vector<int32_t>* was) {
  const int64_t n = problem.size();
  const int32_t gone = n > 1 && draw->Below(2) == 0 ? static_cast<int32_t>(draw->Below(n)) : -1;
  const int32_t moved = static_cast<int32_t>(draw->Below(n));
  Shape one;
  one.nodes = 1;
  one.resources = problem.resources;
  one.most = most;
  const bool joins = draw->Below(2) == 0;
  const Problem extra = RandomForest(one, draw->Next());
  Problem next;
  next.resources = problem.resources;
  next.capacity = problem.capacity;
  next.money = problem.money;
  std::vector<int32_t> place(n, -1);
  was->clear();
  for (int64_t i = n - 1; i >= 0; --i) {
    if (i == gone) continue;
    place[i] = static_cast<int32_t>(was->size());
    was->push_back(static_cast<int32_t>(i));
  }
  const int64_t row = int64_t{kLevels} * problem.resources;
  const auto add = [&](const Problem& from, int64_t i, int32_t parent) {
    next.parent.push_back(parent);
    next.allowed.push_back(from.allowed[i]);
    next.tie.push_back(from.tie[i]);
    next.loss.insert(next.loss.end(), from.loss.begin() + i * kLevels, from.loss.begin() + (i + 1) * kLevels);
    next.cost.insert(next.cost.end(), from.cost.begin() + i * row, from.cost.begin() + (i + 1) * row);
  };
  for (const int32_t i : *was) {
    int32_t parent = problem.parent[i];
    if (parent == gone && gone >= 0) parent = problem.parent[gone];
    if (i == moved) parent = -1;
    add(problem, i, parent < 0 ? -1 : place[parent]);
  }
  if (joins) {
    add(extra, 0, was->empty() || draw->Below(2) == 0 ? -1 : static_cast<int32_t>(draw->Below(next.size())));
    was->push_back(-1);
  }
  return next;
}

TEST(WarmSolver, SeriesOnSmallForestsEqualExhaustiveSearch) {
  int solved = 0, infeasible = 0;
  for (int i = 0; i < 700; ++i) {
    absl::StatusOr<WarmSolver> warm = WarmSolver::Start(SmallProblem(i), Effort{}, Stop());
    if (!warm.ok()) continue;
    Draw draw(i);
    Problem problem = warm->problem();
    const int64_t most = SmallShape(i).most;
    for (int step = 0; step < 5; ++step) {
      SCOPED_TRACE(testing::Message() << "series " << i << " step " << step);
      absl::Status status;
      if (step % 3 == 2) {
        std::vector<int32_t> was;
        problem = Rebuilt(problem, most, &draw, &was);
        status = warm->Rebase(problem, was, Stop());
      } else {
        const std::vector<RowChange> changes = SomeChanges(problem, most, draw.Below(3), &draw);
        const auto capacity = SomeCapacities(problem, &draw);
        Apply(changes, capacity, &problem);
        status = warm->Resolve(changes, capacity, Stop());
      }
      const Exhaustive want = SearchAll(problem);
      ASSERT_EQ(status.ok(), want.feasible) << status;
      if (!want.feasible) {
        ++infeasible;
        EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
        continue;
      }
      ++solved;
      ExpectPlanOf(problem, warm->solution());
      EXPECT_EQ(warm->solution().loss, want.loss);
      EXPECT_EQ(warm->solution().bound, want.loss);
    }
  }
  EXPECT_GT(solved, 1500);
  EXPECT_GT(infeasible, 100);
}

// On the saved state itself, so that no fresh solve hides what it says.
TEST(WarmCore, BoundsAfterChangesNeverExceedTheOptimum) {
  int answered = 0, with_gap = 0, given_up = 0;
  for (int i = 0; i < 1500; ++i) {
    Problem problem = SmallProblem(i);
    const absl::StatusOr<Solution> first = Solve(problem, Effort{}, Stop());
    WarmCore warm;
    if (!first.ok() || !warm.Prepare(problem, *first, Stop())) continue;
    Draw draw(70'000 + i);
    for (int step = 0; step < 6; ++step) {
      SCOPED_TRACE(testing::Message() << "series " << i << " step " << step);
      const std::vector<RowChange> changes = SomeChanges(problem, SmallShape(i).most, draw.Below(2) + step % 2, &draw);
      std::vector<int32_t> nodes;
      for (const RowChange& change : changes) nodes.push_back(change.node);
      auto capacity = problem.capacity;
      for (auto& limit : capacity) {
        if (limit) limit = *limit * draw.Between(85, 110) / 100;
      }
      warm.TakeOut(nodes);
      Apply(changes, capacity, &problem);
      if (!warm.PutBack(problem)) break;
      const std::optional<Solution> got = warm.Solve(problem, Effort{}, Excuse(), Stop());
      if (!got) {
        ++given_up;
        continue;
      }
      ++answered;
      if (got->bound < got->loss) ++with_gap;
      const Exhaustive want = SearchAll(problem);
      ASSERT_TRUE(want.feasible);
      ExpectPlanOf(problem, *got);
      EXPECT_LE(got->bound, want.loss);
      EXPECT_GE(got->loss, want.loss);
    }
  }
  EXPECT_GT(answered, 2000);
  EXPECT_GT(with_gap, 300) << "the bounds are hardly put to the test";
  EXPECT_GT(given_up, 50);
}

TEST(WarmCore, SlackSeriesKeepsTheUnlimitedPlanTiesAndAll) {
  for (int i = 0; i < 400; ++i) {
    Problem problem = SmallProblem(i);
    for (auto& limit : problem.capacity) limit.reset();
    const absl::StatusOr<Solution> first = Solve(problem, Effort{}, Stop());
    WarmCore warm;
    if (!first.ok() || !warm.Prepare(problem, *first, Stop())) continue;
    Draw draw(i);
    for (int step = 0; step < 3; ++step) {
      const std::vector<RowChange> changes = SomeChanges(problem, 2, 2, &draw);  // nearly everything ties
      std::vector<int32_t> nodes;
      for (const RowChange& change : changes) nodes.push_back(change.node);
      warm.TakeOut(nodes);
      Apply(changes, problem.capacity, &problem);
      if (!warm.PutBack(problem)) break;
      const std::optional<Solution> got = warm.Solve(problem, Effort{}, Excuse(), Stop());
      ASSERT_TRUE(got.has_value());
      EXPECT_EQ(got->level, SearchAll(problem).level) << "series " << i << " step " << step;
    }
  }
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

Problem LargeProblem(int i) {
  InstanceShape shape;
  shape.nodes = 10'000;
  shape.forest = i % 2 == 1;
  shape.correlation = i % 4 < 2 ? Correlation::kNone : Correlation::kWeak;
  return MakeInstance(shape, 30 + i);
}

// Rows of other nodes, so that figures stay alike.
std::vector<RowChange> Borrowed(const Problem& problem, int64_t count, Draw* draw) {
  std::vector<RowChange> changes;
  const int64_t row = int64_t{kLevels} * problem.resources;
  const int64_t stride = problem.size() / count;
  for (int64_t c = 0; c < count; ++c) {
    RowChange change;
    change.node = static_cast<int32_t>(c * stride + draw->Below(stride));
    const int64_t from = draw->Below(problem.size());
    change.allowed = problem.allowed[change.node];
    if (draw->Below(8) == 0) change.allowed = static_cast<uint8_t>(draw->Between(1, 15)) | 0b0001;
    std::copy_n(problem.loss.begin() + from * kLevels, kLevels, change.loss.begin());
    change.cost.assign(problem.cost.begin() + from * row, problem.cost.begin() + (from + 1) * row);
    changes.push_back(std::move(change));
  }
  return changes;
}

// Some nodes leave their containers, some change places, a few are new.
Problem LargeRebuilt(const Problem& problem, Draw* draw, std::vector<int32_t>* was) {
  std::vector<int32_t> place(problem.size());
  std::iota(place.begin(), place.end(), 0);
  for (int s = 0; s < 2'000; ++s) std::swap(place[draw->Below(problem.size())], place[draw->Below(problem.size())]);
  Problem next = Reordered(problem, place);
  was->assign(problem.size(), -1);
  for (int32_t i = 0; i < problem.size(); ++i) (*was)[place[i]] = i;
  for (int m = 0; m < 10; ++m) next.parent[draw->Below(next.size())] = -1;
  for (int m = 0; m < 5; ++m) (*was)[draw->Below(next.size())] = -1;
  return next;
}

TEST(WarmSolver, SeriesOnLargeForestsAgreeWithFreshSolvesAndAreCertifiedOnAllNodes) {
  Effort effort;
  effort.target_gap = 3e-5;
  for (int i = 0; i < 4; ++i) {
    absl::StatusOr<WarmSolver> warm = WarmSolver::Start(LargeProblem(i), effort, Stop());
    ASSERT_TRUE(warm.ok());
    Draw draw(i);
    Problem problem = warm->problem();
    for (int step = 0; step < 8; ++step) {
      SCOPED_TRACE(testing::Message() << "series " << i << " step " << step);
      if (step % 4 == 3) {
        std::vector<int32_t> was;
        problem = LargeRebuilt(problem, &draw, &was);
        ASSERT_TRUE(warm->Rebase(problem, was, Stop()).ok());
      } else {
        const std::vector<RowChange> changes = Borrowed(problem, step == 5 ? 2'000 : 20, &draw);
        auto capacity = problem.capacity;
        if (step % 2 == 1) capacity[0] = *capacity[0] * draw.Between(97, 103) / 100;
        Apply(changes, capacity, &problem);
        ASSERT_TRUE(warm->Resolve(changes, capacity, Stop()).ok());
      }
      const Solution& got = warm->solution();
      ExpectPlanOf(problem, got);
      EXPECT_LE(got.gap(), effort.target_gap);
      if (got.branched == 0) {
        EXPECT_LE(got.bound, CertifiedBound(problem, got) + 1);
      }
      const absl::StatusOr<Solution> fresh = Solve(problem, effort, Stop());
      ASSERT_TRUE(fresh.ok());
      EXPECT_LE(got.bound, fresh->loss);
      EXPECT_LE(fresh->bound, got.loss);
    }
  }
}

TEST(WarmCore, AnswersAFewChangesOfALargeForestByItself) {
  const Effort effort = {.target_gap = 1e-4};
  for (int i = 0; i < 4; ++i) {
    Problem problem = LargeProblem(i);
    const absl::StatusOr<Solution> first = Solve(problem, effort, Stop());
    WarmCore warm;
    ASSERT_TRUE(first.ok() && warm.Prepare(problem, *first, Stop()));
    Draw draw(i);
    for (int step = 0; step < 10; ++step) {
      const std::vector<RowChange> changes = Borrowed(problem, 10, &draw);
      std::vector<int32_t> nodes;
      for (const RowChange& change : changes) nodes.push_back(change.node);
      warm.TakeOut(nodes);
      Apply(changes, problem.capacity, &problem);
      ASSERT_TRUE(warm.PutBack(problem));
      const std::optional<Solution> got = warm.Solve(problem, effort, Excuse(), Stop());
      ASSERT_TRUE(got.has_value()) << "instance " << i << " step " << step;
      EXPECT_LE(got->gap(), effort.target_gap);
      EXPECT_LE(got->bound, CertifiedBound(problem, *got) + 1);
    }
  }
}

// Deep trees with masks, large enough that most nodes are frozen: what stays open must follow every change in a tree.
TEST(WarmCore, DeepForestsAreCertifiedOnAllNodes) {
  const Effort effort = {.target_gap = 1e-3};
  int answered = 0;
  for (int i = 0; i < 6; ++i) {
    Shape shape;
    shape.nodes = 20'000;
    shape.resources = 1 + i % 3;
    shape.in_container_percent = 60;
    shape.most = 100'000;
    shape.tidy = i < 3;
    Problem problem = RandomForest(shape, 50 + i);
    std::vector<int32_t> place(problem.size());
    std::iota(place.begin(), place.end(), 0);
    if (i % 2 == 1) std::reverse(place.begin(), place.end());
    problem = Reordered(problem, place);
    for (uint8_t& mask : problem.allowed) mask |= 1;  // every container may be left out, so that there are plans
    SetCapacities(&problem, 40);
    const absl::StatusOr<Solution> first = Solve(problem, effort, Stop());
    WarmCore warm;
    ASSERT_TRUE(first.ok() && warm.Prepare(problem, *first, Stop()));
    Draw draw(i);
    for (int step = 0; step < 8; ++step) {
      SCOPED_TRACE(testing::Message() << "instance " << i << " step " << step);
      std::vector<RowChange> changes = SomeChanges(problem, shape.most, 8, &draw);
      std::vector<int32_t> nodes;
      for (RowChange& change : changes) {
        change.allowed |= 1;
        nodes.push_back(change.node);
      }
      auto capacity = problem.capacity;
      for (auto& limit : capacity) limit = *limit / 1000 * draw.Between(990, 1010);
      warm.TakeOut(nodes);
      Apply(changes, capacity, &problem);
      if (!warm.PutBack(problem)) break;
      const std::optional<Solution> got = warm.Solve(problem, effort, Excuse(), Stop());
      if (!got) continue;
      ++answered;
      ExpectPlanOf(problem, *got);
      EXPECT_LE(got->bound, CertifiedBound(problem, *got) + 1);
    }
  }
  EXPECT_GT(answered, 36);
}

TEST(WarmSolver, TheSameSeriesTwiceIsByteIdentical) {
  std::vector<Solution> runs[2];
  for (std::vector<Solution>& run : runs) {
    absl::StatusOr<WarmSolver> warm = WarmSolver::Start(LargeProblem(1), Effort{.target_gap = 1e-4}, Stop());
    ASSERT_TRUE(warm.ok());
    Draw draw(4);
    for (int step = 0; step < 4; ++step) {
      const Problem problem = warm->problem();
      if (step == 2) {
        std::vector<int32_t> was;
        const Problem next = LargeRebuilt(problem, &draw, &was);
        ASSERT_TRUE(warm->Rebase(next, was, Stop()).ok());
      } else {
        ASSERT_TRUE(warm->Resolve(Borrowed(problem, 30, &draw), problem.capacity, Stop()).ok());
      }
      run.push_back(warm->solution());
    }
  }
  for (size_t s = 0; s < runs[0].size(); ++s) {
    EXPECT_EQ(runs[0][s].level, runs[1][s].level);
    EXPECT_EQ(runs[0][s].loss, runs[1][s].loss);
    EXPECT_EQ(runs[0][s].bound, runs[1][s].bound);
    EXPECT_EQ(runs[0][s].price, runs[1][s].price);
  }
}

TEST(WarmSolver, RowsThatDifferFromWhatWasSaysCountAsChanged) {
  Problem problem = LargeProblem(1);
  const Effort effort = {.target_gap = 1e-4};
  absl::StatusOr<WarmSolver> warm = WarmSolver::Start(problem, effort, Stop());
  ASSERT_TRUE(warm.ok());
  std::vector<int32_t> was(problem.size());
  std::iota(was.begin(), was.end(), 0);
  Draw draw(1);
  Apply(Borrowed(problem, 40, &draw), problem.capacity, &problem);  // `was` says nothing changed
  problem.parent[5'000] = problem.parent[5'000] < 0 ? 0 : -1;
  ASSERT_TRUE(warm->Rebase(problem, was, Stop()).ok());
  ExpectPlanOf(problem, warm->solution());
  EXPECT_LE(warm->solution().bound, CertifiedBound(problem, warm->solution()) + 1);
}

TEST(WarmSolver, FaultyChangesAreToldAllAtOnceAndChangeNothing) {
  Problem problem = RandomForest({.nodes = 3, .resources = 1}, 1);
  SetCapacities(&problem, 80);
  absl::StatusOr<WarmSolver> warm = WarmSolver::Start(problem, Effort{}, Stop());
  ASSERT_TRUE(warm.ok());
  const Solution before = warm->solution();
  const RowChange good = {0, 15, {4, 3, 2, 1}, {1, 2, 3, 4}};
  const std::vector<RowChange> bad = {
      {3, 16, {1, -2, 3, 4}, {1, 2, 3}}, {-1, 0, {1, 2, 3, 4}, {1, 2, 3, -4}}, good, good, good};
  const absl::Status status = warm->Resolve(bad, {-5}, Stop());
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(status.message(),
            "changes[0].node: got 3, want 0 to 2; changes[0].allowed: got 16, want 1 to 15; changes[0].loss[1]: got "
            "-2, want 0 or more; changes[0].cost: got 3 entries, want 4; changes[1].node: got -1, want 0 to 2; "
            "changes[1].allowed: got 0, want 1 to 15; changes[1].cost[3]: got -4, want 0 or more; changes: got node 0 "
            "more than once, want each node once; capacity[0]: got -5, want 0 or more");
  EXPECT_EQ(warm->Resolve({}, {}, Stop()).message(), "capacity: got 0 entries, want 1");
  const RowChange heavy = {1, 15, {kMaxTotal, 0, 0, 0}, {0, 0, 0, 0}};
  EXPECT_EQ(warm->Resolve({{heavy, {2, 15, {1, 1, 1, 1}, {0, 0, 0, 0}}}}, problem.capacity, Stop()).message(),
            "loss: the largest total exceeds 2^61, want coarser units");
  const RowChange costly = {1, 15, {0, 0, 0, 0}, {0, 0, 0, kMaxTotal}};
  EXPECT_EQ(warm->Resolve({{costly, {2, 15, {1, 1, 1, 1}, {9, 9, 9, 9}}}}, problem.capacity, Stop()).message(),
            "cost of resource 0: the largest total exceeds 2^61, want coarser units");
  EXPECT_EQ(warm->problem().loss, problem.loss);
  EXPECT_EQ(warm->problem().capacity, problem.capacity);
  EXPECT_EQ(warm->solution().level, before.level);
}

TEST(WarmSolver, FaultyRebasesChangeNothing) {
  Problem problem = RandomForest({.nodes = 3, .resources = 1}, 1);
  SetCapacities(&problem, 80);
  absl::StatusOr<WarmSolver> warm = WarmSolver::Start(problem, Effort{}, Stop());
  ASSERT_TRUE(warm.ok());
  EXPECT_EQ(warm->Rebase(problem, std::vector<int32_t>{0, 1}, Stop()).message(), "was: got 2 entries, want 3");
  EXPECT_EQ(warm->Rebase(problem, std::vector<int32_t>{1, 1, 3}, Stop()).message(),
            "was: got node 1 more than once, want each node once; was[2]: got 3, want -1 or a node below 3");
  Problem broken = problem;
  broken.loss[2] = -1;
  EXPECT_EQ(warm->Rebase(broken, std::vector<int32_t>{0, 1, 2}, Stop()).code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(warm->problem().loss, problem.loss);
  EXPECT_EQ(warm->solution().loss, Solve(problem, Effort{}, Stop())->loss);
}

TEST(WarmSolver, StartsAfreshAfterACapacityNothingMeetsAndAfterAStop) {
  Problem problem = LargeProblem(1);
  const Effort effort = {.target_gap = 1e-3};
  absl::StatusOr<WarmSolver> warm = WarmSolver::Start(problem, effort, Stop());
  ASSERT_TRUE(warm.ok());
  Draw draw(2);
  std::vector<RowChange> costly = Borrowed(problem, 1, &draw);
  std::fill(costly[0].cost.begin(), costly[0].cost.end(), 50);
  Apply(costly, {{10, 10}}, &problem);
  EXPECT_EQ(warm->Resolve(costly, problem.capacity, Stop()).code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_TRUE(warm->solution().level.empty());
  const std::vector<RowChange> changes = Borrowed(problem, 10, &draw);
  const Problem fits = LargeProblem(1);
  Apply(changes, fits.capacity, &problem);
  ASSERT_TRUE(warm->Resolve(changes, fits.capacity, Stop()).ok());
  ExpectPlanOf(problem, warm->solution());

  Stop cancelled;
  cancelled.Cancel();
  const std::vector<RowChange> more = Borrowed(problem, 10, &draw);
  Apply(more, fits.capacity, &problem);
  EXPECT_EQ(warm->Resolve(more, fits.capacity, cancelled).code(), absl::StatusCode::kCancelled);
  EXPECT_TRUE(warm->solution().level.empty());
  const Stop late(Stop::Clock::now() - std::chrono::seconds(1));
  EXPECT_EQ(warm->Resolve({}, fits.capacity, late).code(), absl::StatusCode::kDeadlineExceeded);
  ASSERT_TRUE(warm->Resolve({}, fits.capacity, Stop()).ok());
  ExpectPlanOf(problem, warm->solution());
  EXPECT_LE(warm->solution().gap(), effort.target_gap);
}

TEST(WarmSolver, MovedSolversGoOn) {
  Problem problem = LargeProblem(0);
  absl::StatusOr<WarmSolver> warm = WarmSolver::Start(problem, Effort{.target_gap = 1e-3}, Stop());
  ASSERT_TRUE(warm.ok());
  WarmSolver other = *std::move(warm);
  Draw draw(1);
  const std::vector<RowChange> changes = Borrowed(problem, 10, &draw);
  Apply(changes, problem.capacity, &problem);
  ASSERT_TRUE(other.Resolve(changes, problem.capacity, Stop()).ok());
  ExpectPlanOf(problem, other.solution());
}

TEST(WarmSolver, WithFixedCostsEveryAnswerIsSolves) {
  for (int i = 0; i < 60; ++i) {
    Problem problem = RandomForest({.nodes = 6, .fixed_costs = 2}, 900 + i);
    SetCapacities(&problem, 60);
    absl::StatusOr<WarmSolver> warm = WarmSolver::Start(problem, Effort{}, Stop());
    if (!warm.ok()) continue;
    Draw draw(i);
    for (int step = 0; step < 3; ++step) {
      const std::vector<RowChange> changes = SomeChanges(problem, 20, 2, &draw);
      Apply(changes, problem.capacity, &problem);
      const Exhaustive want = SearchAll(problem);
      ASSERT_EQ(warm->Resolve(changes, problem.capacity, Stop()).ok(), want.feasible);
      if (!want.feasible) continue;
      EXPECT_EQ(warm->solution().loss, want.loss);
      EXPECT_EQ(warm->solution().paid, PaysFor(problem, warm->solution().level));
    }
  }
}

TEST(WarmSolver, ProblemsWithoutNodesOrResourcesAreSolved) {
  Problem empty;
  absl::StatusOr<WarmSolver> warm = WarmSolver::Start(empty, Effort{}, Stop());
  ASSERT_TRUE(warm.ok());
  EXPECT_TRUE(warm->Resolve({}, {}, Stop()).ok());
  Problem one = RandomForest({.nodes = 2, .resources = 0, .floor_percent = 0}, 3);
  ASSERT_TRUE(warm->Rebase(one, std::vector<int32_t>{-1, -1}, Stop()).ok());
  EXPECT_EQ(warm->solution().loss, SearchAll(one).loss);
  const RowChange change = {1, 15, {7, 7, 7, 7}, {}};
  Apply({change}, {}, &one);
  ASSERT_TRUE(warm->Resolve({{change}}, {}, Stop()).ok());
  EXPECT_EQ(warm->solution().loss, SearchAll(one).loss);
}

}  // namespace
}  // namespace scantling::budget
