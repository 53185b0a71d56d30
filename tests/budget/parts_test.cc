// The parts of the solver on their own: the small linear programme, compaction, freezing, excesses, and the two exact
// searches, which Solve() only comes to where exchanges leave a gap.

#include <gtest/gtest.h>

#include <algorithm>

#include "server/budget/branch.h"
#include "server/budget/compact.h"
#include "server/budget/merge.h"
#include "server/budget/pricing.h"
#include "server/budget/small_lp.h"
#include "server/budget/tree_pass.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

TEST(SmallLp, TextbookProgramme) {
  // Source: Chvatal, Linear Programming, 1983, p. 13: maximise 5x + 4y + 3z; optimum 13 at (2, 0, 1), duals (1, 0, 1).
  SmallLp lp(3);
  lp.objective = {5, 4, 3};
  lp.AddRow({2, 3, 1}, 5);
  lp.AddRow({4, 1, 2}, 11);
  lp.AddRow({3, 4, 2}, 8);
  const SmallLpSolution solution = Maximise(lp);
  ASSERT_TRUE(solution.bounded);
  // Three pivots on figures of size 10: errors of a few units in the last place.
  EXPECT_NEAR(solution.value, 13, 1e-13);
  EXPECT_NEAR(solution.x[0], 2, 1e-13);
  EXPECT_NEAR(solution.x[1], 0, 1e-13);
  EXPECT_NEAR(solution.x[2], 1, 1e-13);
  EXPECT_NEAR(solution.shadow_price[0], 1, 1e-13);
  EXPECT_NEAR(solution.shadow_price[1], 0, 1e-13);
  EXPECT_NEAR(solution.shadow_price[2], 1, 1e-13);
}

TEST(SmallLp, UnboundedIsSaid) {
  SmallLp lp(2);
  lp.objective = {1, 1};
  lp.AddRow({1, -1}, 1);
  EXPECT_FALSE(Maximise(lp).bounded);
}

Core CoreFor(const Problem& problem, bool* feasible) {
  Core core = CoreOf(problem);
  *feasible = PruneSets(core.parent, core.sets);
  if (*feasible) ReachSets(core.parent, core.sets);
  return core;
}

Prices RandomPrices(Draw* draw, int resources) {
  Prices prices;
  prices.loss_weight = 64;
  for (int k = 0; k < resources; ++k) prices.per_unit[k] = draw->Below(100);
  return prices;
}

Wide LeastPriced(const Core& core, const Prices& prices) {
  PassBuffers buffers;
  Outcome outcome;
  EXPECT_TRUE(PricePass(core, prices, Stop(), &buffers, &outcome));
  const Outcome again = Total(core, buffers.level);
  EXPECT_EQ(again.loss, outcome.loss);
  EXPECT_EQ(again.used, outcome.used);
  return PricedLoss(prices, outcome, core.resources);
}

Shape PartShape(int i) {
  return {.nodes = 2 + i % 6,
          .resources = 1 + i % 2,
          .container_percent = 60,
          .in_container_percent = 70,
          .floor_percent = i % 3 * 20,
          .most = i % 2 == 0 ? 5 : 300};
}

TEST(PricePass, EqualsExhaustiveSearchOfPricedLosses) {
  for (int i = 0; i < 400; ++i) {
    Problem problem = RandomForest(PartShape(i), 40 + i);
    bool feasible;
    const Core core = CoreFor(problem, &feasible);
    const Exhaustive all = SearchAll(problem);
    ASSERT_EQ(feasible, all.any_plan);
    if (!feasible) continue;
    Draw draw(i);
    const Prices prices = RandomPrices(&draw, problem.resources);
    Problem priced = problem;  // the priced loss as a loss of its own
    for (size_t row = 0; row < problem.loss.size(); ++row) {
      priced.loss[row] = 64 * problem.loss[row];
      for (int k = 0; k < problem.resources; ++k) {
        priced.loss[row] += prices.per_unit[k] * problem.cost[row * problem.resources + k];
      }
    }
    EXPECT_EQ(static_cast<int64_t>(LeastPriced(core, prices)), SearchAll(priced).loss) << "problem " << i;
  }
}

TEST(KeepCheapestSomewhere, CompactedCoreHasTheSameLeastAtEveryPriceOfTheBox) {
  int64_t before = 0, after = 0;
  for (int i = 0; i < 600; ++i) {
    Shape shape = PartShape(i);
    shape.nodes = 40;
    const Problem problem = RandomForest(shape, 900 + i);
    bool feasible;
    const Core core = CoreFor(problem, &feasible);
    if (!feasible) continue;
    Draw draw(i);
    const Prices low = RandomPrices(&draw, problem.resources);
    Prices high = low;
    for (int k = 0; k < problem.resources; ++k) high.per_unit[k] += draw.Below(30);
    std::vector<uint8_t> sets;
    KeepCheapestSomewhere(core, low, high, &sets);
    const Core small = Compact(core, sets);
    before += core.size();
    after += small.size();
    for (int trial = 0; trial < 5; ++trial) {
      Prices prices = low;
      for (int k = 0; k < problem.resources; ++k) {
        prices.per_unit[k] = draw.Between(low.per_unit[k], high.per_unit[k]);
      }
      EXPECT_TRUE(LeastPriced(core, prices) == LeastPriced(small, prices)) << "problem " << i;
      PassBuffers buffers;
      Outcome outcome;
      ASSERT_TRUE(PricePass(small, prices, Stop(), &buffers, &outcome));
      const std::vector<uint8_t> level = Expand(core, sets, small, buffers.level);
      const Outcome expanded = Total(core, level);
      EXPECT_EQ(expanded.loss, outcome.loss);
      EXPECT_EQ(expanded.used, outcome.used);
    }
  }
  EXPECT_LT(after, before / 2) << "freezing no longer freezes";
}

TEST(KeepWithin, KeepsEveryPlanWithinTheExcess) {
  for (int i = 0; i < 300; ++i) {
    Shape shape = PartShape(i);
    shape.nodes = 2 + i % 5;
    const Problem problem = RandomForest(shape, 300 + i);
    bool feasible;
    const Core core = CoreFor(problem, &feasible);
    if (!feasible) continue;
    Draw draw(i);
    const Prices prices = RandomPrices(&draw, problem.resources);
    const Wide within = draw.Below(64 * 6);
    std::vector<uint8_t> sets;
    KeepWithin(core, prices, within, &sets);
    const Wide least = LeastPriced(core, prices);
    const int64_t n = core.size();
    std::vector<uint8_t> kept(n, 0);
    std::vector<uint8_t> level(n), of_problem(n);
    for (int64_t plan = 0; plan < int64_t{1} << (2 * n); ++plan) {
      for (int64_t j = 0; j < n; ++j) level[j] = (plan >> (2 * j)) & 3;
      for (int64_t j = 0; j < n; ++j) of_problem[core.origin.empty() ? j : core.origin[j]] = level[j];
      if (!FollowsParents(problem, of_problem)) continue;
      if (PricedLoss(prices, Total(core, level), core.resources) - least > within) continue;
      for (int64_t j = 0; j < n; ++j) {
        const int context = core.parent[j] < 0 ? kFree : ContextOf(level[core.parent[j]]);
        EXPECT_TRUE((LevelsIn(sets[j], context) >> level[j]) & 1) << "problem " << i;
        kept[j] |= static_cast<uint8_t>(1 << level[j]);
      }
    }
    // And no option is kept that no such plan takes.
    for (int64_t j = 0; j < n; ++j) EXPECT_EQ(AnyLevels(sets[j]), kept[j]) << "problem " << i;
  }
}

// Capacities in the middle; copies of a few nodes in every third problem, so that counts are split.
Problem SearchProblem(int i) {
  Shape shape = PartShape(i);
  shape.resources = 1 + i % 3;
  Problem problem = RandomForest(shape, 7000 + i);
  for (int64_t node = 1; i % 3 == 0 && node < problem.size(); ++node) {
    const int64_t row = int64_t{kLevels} * problem.resources;
    std::copy_n(problem.cost.begin() + node % 2 * row, row, problem.cost.begin() + node * row);
  }
  SetCapacities(&problem, 20 + i % 50);
  return problem;
}

TEST(Branch, ExhaustedTreeHasTheLeastLoss) {
  int feasible = 0, split = 0;
  for (int i = 0; i < 1500; ++i) {
    const Problem problem = SearchProblem(i);
    const Exhaustive want = SearchAll(problem);
    bool any;
    const Core core = CoreFor(problem, &any);
    if (!any) continue;
    Outcome least;
    least.loss = core.base_loss;
    BranchOptions options;
    options.high = HighestPrices(core, problem.capacity, least, nullptr);
    options.start.loss_weight = options.high.loss_weight;
    options.nodes = 100'000;
    std::optional<Plan> best;
    const BranchResult result = Branch(core, problem.capacity, options, Stop(), &best);
    EXPECT_TRUE(result.exhausted) << "problem " << i;
    ASSERT_EQ(best.has_value(), want.feasible) << "problem " << i;
    if (!best) continue;
    ++feasible;
    if (result.visited > 1) ++split;
    EXPECT_EQ(best->outcome.loss, want.loss) << "problem " << i;
    EXPECT_EQ(result.bound, want.loss) << "problem " << i;
    const Outcome again = Total(core, best->level);
    EXPECT_EQ(again.loss, best->outcome.loss) << "problem " << i;
    EXPECT_EQ(again.used, best->outcome.used) << "problem " << i;
    EXPECT_TRUE(Fits(again, problem.capacity)) << "problem " << i;
  }
  EXPECT_GT(feasible, 700);
  EXPECT_GT(split, 200);
}

TEST(MergeLists, FindsTheBestPlanOfTheWindow) {
  int found = 0, none = 0;
  for (int i = 0; i < 1500; ++i) {
    const Problem problem = SearchProblem(i);
    const Exhaustive want = SearchAll(problem);
    bool any;
    const Core core = CoreFor(problem, &any);
    if (!any) continue;
    Draw draw(i);
    const Prices prices = RandomPrices(&draw, problem.resources);
    PassBuffers buffers;
    Outcome outcome;
    ASSERT_TRUE(PricePass(core, prices, Stop(), &buffers, &outcome));
    const Wide bound = LagrangianOf(prices, outcome, problem.capacity);
    const Wide window = Wide{64} * draw.Below(i % 2 == 0 ? 20 : 2000);
    const MergeResult result = MergeLists(core, problem.capacity, prices, window, 1'000'000, Stop());
    EXPECT_TRUE(result.finished);
    const bool inside = want.feasible && Wide{64} * want.loss <= bound + window;
    if (!inside) {
      EXPECT_FALSE(result.best.has_value()) << "problem " << i;
      ++none;
      continue;
    }
    ++found;
    ASSERT_TRUE(result.best.has_value()) << "problem " << i;
    EXPECT_EQ(result.best->outcome.loss, want.loss) << "problem " << i;
    EXPECT_TRUE(Fits(result.best->outcome, problem.capacity));
    std::vector<uint8_t> level(core.size());
    for (int32_t j = 0; j < core.size(); ++j) level[core.origin.empty() ? j : core.origin[j]] = result.best->level[j];
    EXPECT_TRUE(FollowsParents(problem, level)) << "problem " << i;
    EXPECT_EQ(LossOf(problem, level), want.loss) << "problem " << i;
  }
  EXPECT_GT(found, 300);
  EXPECT_GT(none, 300);
}

TEST(MergeLists, GivesUpAtItsLimit) {
  Problem problem = RandomForest({.nodes = 40, .resources = 2, .floor_percent = 0, .most = 1'000'000}, 1);
  SetCapacities(&problem, 50);
  bool any;
  const Core core = CoreFor(problem, &any);
  Prices prices;
  const MergeResult result = MergeLists(core, problem.capacity, prices, Wide{1} << 100, 10'000, Stop());
  EXPECT_FALSE(result.finished);
  EXPECT_LE(result.made, 10'001);
}

TEST(Depths, FindsTheNodeOnACycle) {
  int64_t on_cycle;
  EXPECT_EQ(Depths(std::vector<int32_t>{2, -1, 1}, &on_cycle), (std::vector<int32_t>{2, 0, 1}));
  EXPECT_EQ(on_cycle, -1);
  EXPECT_TRUE(Depths(std::vector<int32_t>{1, 2, 1}, &on_cycle).empty());
  EXPECT_TRUE(on_cycle == 1 || on_cycle == 2);
}

}  // namespace
}  // namespace scantling::budget
