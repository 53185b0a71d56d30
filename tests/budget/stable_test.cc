// Plans that keep to an earlier one, against exhaustive search over loss and margins together.

#include "server/budget/stable.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <utility>
#include <vector>

#include "tests/budget/instances.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

constexpr Effort kFully = {.target_gap = 0, .branch_nodes = 200'000, .branch_size = 4'000};

Shape ShapeOf(uint64_t seed) {
  return {.nodes = 6, .resources = static_cast<int>(seed % 4), .fixed_costs = static_cast<int>(seed % 5 == 0)};
}

Problem Drawn(uint64_t seed, Draw* draw) {
  Problem problem = RandomForest(ShapeOf(seed), seed);
  SetCapacities(&problem, static_cast<int>(draw->Between(25, 80)));
  return problem;
}

Earlier RandomEarlier(const Problem& problem, int64_t most_margin, Draw* draw) {
  Earlier earlier;
  for (int64_t i = 0; i < problem.size(); ++i) {
    earlier.level.push_back(draw->Below(5) == 0 ? kNoLevel : static_cast<uint8_t>(draw->Below(4)));
    earlier.margin.push_back(draw->Between(0, most_margin));
  }
  return earlier;
}

// Loss and the margins of what was changed, from the definition; an earlier level the mask forbids counts as none.
int64_t LossAndMargins(const Problem& problem, const Earlier& earlier, const std::vector<uint8_t>& level) {
  int64_t sum = LossOf(problem, level);
  for (int64_t i = 0; i < problem.size(); ++i) {
    if (earlier.level[i] == kNoLevel || ((problem.allowed[i] >> earlier.level[i]) & 1) == 0) continue;
    if (level[i] != earlier.level[i]) sum += earlier.margin[i];
  }
  return sum;
}

bool Fits(const Problem& problem, const std::vector<uint8_t>& level) {
  const std::vector<int64_t> used = UseOf(problem, level);
  for (int k = 0; k < problem.resources; ++k) {
    if (problem.capacity[k] && used[k] > *problem.capacity[k]) return false;
  }
  return true;
}

struct Least {
  int64_t loss = -1, loss_and_margins = -1;  // each over all plans; -1: no plan
};

Least SearchBoth(const Problem& problem, const Earlier& earlier) {
  Least least;
  std::vector<uint8_t> level(problem.size());
  for (int64_t plan = 0; plan < int64_t{1} << (2 * problem.size()); ++plan) {
    for (int64_t i = 0; i < problem.size(); ++i) level[i] = (plan >> (2 * i)) & 3;
    if (!FollowsParents(problem, level) || !Fits(problem, level)) continue;
    const int64_t loss = LossOf(problem, level), both = LossAndMargins(problem, earlier, level);
    if (least.loss < 0 || loss < least.loss) least.loss = loss;
    if (least.loss_and_margins < 0 || both < least.loss_and_margins) least.loss_and_margins = both;
  }
  return least;
}

int64_t ChangedFrom(const Earlier& earlier, const std::vector<uint8_t>& level) {
  int64_t changed = 0;
  for (size_t i = 0; i < level.size(); ++i) changed += earlier.level[i] != kNoLevel && earlier.level[i] != level[i];
  return changed;
}

TEST(SolveStable, LeastLossWithMarginsOnSmallForests) {
  int plans = 0, kept_more = 0, cost_something = 0;
  for (uint64_t seed = 1; seed <= 400; ++seed) {
    Draw draw(seed);
    const Problem problem = Drawn(seed, &draw);
    const Earlier earlier = RandomEarlier(problem, 12, &draw);
    const Least least = SearchBoth(problem, earlier);
    const auto stable = SolveStable(problem, earlier, kFully, Stop());
    ASSERT_EQ(stable.ok(), least.loss >= 0) << "seed " << seed << " " << stable.status();
    if (!stable.ok()) continue;
    ++plans;
    const Solution& solution = stable->solution;
    EXPECT_TRUE(FollowsParents(problem, solution.level) && Fits(problem, solution.level)) << "seed " << seed;
    EXPECT_EQ(LossAndMargins(problem, earlier, solution.level), least.loss_and_margins) << "seed " << seed;
    EXPECT_EQ(solution.loss, LossOf(problem, solution.level)) << "seed " << seed;
    EXPECT_EQ(solution.used, UseOf(problem, solution.level)) << "seed " << seed;
    EXPECT_LE(solution.bound, least.loss) << "seed " << seed;
    EXPECT_EQ(stable->free.loss, least.loss) << "seed " << seed;
    EXPECT_EQ(solution.proved_optimal, solution.loss == solution.bound) << "seed " << seed;
    EXPECT_EQ(stable->changed, ChangedFrom(earlier, solution.level)) << "seed " << seed;
    EXPECT_EQ(stable->free_changed, ChangedFrom(earlier, stable->free.level)) << "seed " << seed;
    kept_more += stable->changed < stable->free_changed;
    cost_something += solution.loss > stable->free.loss;
  }
  EXPECT_GT(plans, 250);
  EXPECT_GT(kept_more, 50);       // the margins do hold decisions
  EXPECT_GT(cost_something, 30);  // and that costs loss
}

TEST(SolveStable, WithoutMarginsItIsSolve) {
  for (uint64_t seed = 1; seed <= 100; ++seed) {
    Draw draw(seed);
    const Problem problem = Drawn(seed, &draw);
    const Earlier earlier = RandomEarlier(problem, 0, &draw);
    const auto plain = Solve(problem, kFully, Stop());
    const auto stable = SolveStable(problem, earlier, kFully, Stop());
    ASSERT_EQ(plain.ok(), stable.ok()) << "seed " << seed;
    if (!plain.ok()) continue;
    EXPECT_EQ(stable->solution.level, plain->level) << "seed " << seed;
    EXPECT_EQ(stable->solution.bound, plain->bound) << "seed " << seed;
    EXPECT_EQ(stable->solution.price, plain->price) << "seed " << seed;
  }
}

TEST(SolveStable, LargeMarginsKeepAnEarlierPlanThatFits) {
  int moved = 0;
  for (uint64_t seed = 1; seed <= 100; ++seed) {
    Draw draw(seed);
    Problem problem = Drawn(seed, &draw);
    const auto first = Solve(problem, kFully, Stop());
    if (!first.ok()) continue;
    // Losses are drawn anew, so that another plan is best; the earlier one still fits. The margin is above any loss.
    for (int64_t& loss : problem.loss) loss = draw.Between(0, 20);
    const Earlier earlier = {first->level, std::vector<int64_t>(problem.size(), 1'000'000)};
    const auto stable = SolveStable(problem, earlier, kFully, Stop());
    ASSERT_TRUE(stable.ok());
    EXPECT_EQ(stable->solution.level, first->level) << "seed " << seed;
    EXPECT_EQ(stable->changed, 0) << "seed " << seed;
    moved += stable->free_changed > 0;
  }
  EXPECT_GT(moved, 50);
}

TEST(SolveStable, ThousandNodesGiveUpLessAndTheBoundHolds) {
  Problem problem = MakeInstance({.nodes = 1'000, .forest = true}, 5);
  const Effort effort = {.target_gap = 1e-4, .branch_nodes = 200, .branch_size = 4'000};
  const auto first = Solve(problem, effort, Stop());
  ASSERT_TRUE(first.ok());
  for (auto& capacity : problem.capacity) *capacity -= *capacity / 50;
  Earlier earlier = {first->level, {}};
  for (int64_t i = 0; i < problem.size(); ++i) earlier.margin.push_back(problem.loss[i * kLevels] / 20);
  const auto stable = SolveStable(problem, earlier, effort, Stop());
  ASSERT_TRUE(stable.ok());
  EXPECT_TRUE(Fits(problem, stable->solution.level));
  EXPECT_GT(stable->free_changed, 0);
  EXPECT_GE(stable->solution.bound, stable->free.bound);
  EXPECT_LE(stable->solution.bound, stable->free.loss);  // `free` fits, so its loss is above any true bound
  EXPECT_LT(LossAndMargins(problem, earlier, stable->solution.level),
            LossAndMargins(problem, earlier, stable->free.level));
}

// One node, no capacity: level 3 loses 5, level 2 loses 7. Earlier 2, margin 1: 5 + 1 < 7, so it moves; margin 3:
// 5 + 3 > 7, so it stays and is 2 above the bound of 5.
TEST(SolveStable, ChangesOnlyForMoreThanTheMargin) {
  Problem problem;
  problem.parent = {-1};
  problem.allowed = {0b1100};
  problem.tie = {0};
  problem.loss = {90, 80, 7, 5};
  const auto moved = SolveStable(problem, {{2}, {1}}, kFully, Stop());
  ASSERT_TRUE(moved.ok());
  EXPECT_EQ(moved->solution.level[0], 3);
  EXPECT_TRUE(moved->solution.proved_optimal);
  EXPECT_EQ(moved->changed, 1);
  const auto stayed = SolveStable(problem, {{2}, {3}}, kFully, Stop());
  ASSERT_TRUE(stayed.ok());
  EXPECT_EQ(stayed->solution.level[0], 2);
  EXPECT_EQ(stayed->solution.loss, 7);
  EXPECT_EQ(stayed->solution.bound, 5);
  EXPECT_FALSE(stayed->solution.proved_optimal);
  EXPECT_EQ(stayed->changed, 0);
  EXPECT_EQ(stayed->free_changed, 1);
}

TEST(SolveStable, SaysWhatIsWrongWithTheEarlierPlan) {
  Draw draw(1);
  const Problem problem = Drawn(4, &draw);
  const auto message = [&](Earlier earlier) {
    return std::string(SolveStable(problem, earlier, kFully, Stop()).status().message());
  };
  EXPECT_EQ(message({{1}, {1, 2}}), "got 1 earlier levels and 2 margins, want one per node, 6");
  EXPECT_EQ(message({{3, 3, 3, 3, 3, 3}, {0, 0, -5, 0, 0, 0}}), "margin of node 2: got -5, want 0 or more");
  EXPECT_EQ(message({{3, 4, 3, 3, 3, 3}, {0, 0, 0, 0, 0, 0}}), "earlier level of node 1: got 4, want 0 to 3 or none");
}

TEST(SolveStable, RefusesMarginsThatNoLongerAddUp) {
  Problem problem;
  problem.parent = {-1, -1};
  problem.allowed = {15, 15};
  problem.tie = {0, 1};
  problem.loss = {9, 5, 3, 0, 1, 1, 1, 1};
  const int64_t most = kMaxTotal - 10;  // the largest losses are 9 and 1
  EXPECT_TRUE(SolveStable(problem, {{0, kNoLevel}, {most, kMaxTotal}}, kFully, Stop()).ok());
  const auto refused = SolveStable(problem, {{0, 1}, {most, 1}}, kFully, Stop());
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_NE(refused.status().message().find("beside losses of 10, want both together at most"), std::string::npos)
      << refused.status();
}

TEST(SolveStable, StopInTheSecondSearchLeavesTheFirstPlan) {
  Draw draw(1);
  Problem problem;
  problem.parent = {-1};
  problem.allowed = {15};
  problem.tie = {0};
  problem.loss = {9, 5, 3, 0};
  int calls = 0;
  const SolveBy solve = [&](const Problem& asked) -> absl::StatusOr<Solution> {
    if (++calls == 2) return absl::DeadlineExceededError("late");
    return Solve(asked, kFully, Stop());
  };
  const auto stable = SolveStable(problem, {{1}, {100}}, solve);
  ASSERT_TRUE(stable.ok());
  EXPECT_EQ(calls, 2);
  EXPECT_TRUE(stable->solution.interrupted);
  EXPECT_EQ(stable->solution.level[0], 3);
  EXPECT_EQ(stable->changed, 1);
}

}  // namespace
}  // namespace scantling::budget
