// Capacities at which a node's level changes, against relaxed plans found in other ways.
//
// The oracle lists every plan of a small forest and solves the relaxed problem over them: with one limited resource
// exactly, on the lower hull of (use, loss) in integers; with more as a linear programme over prices. A capacity stands
// for itself and a part of a unit, as budget.h says; with one resource which part makes no difference.

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <limits>
#include <map>
#include <optional>
#include <tuple>
#include <utility>
#include <vector>

#include "server/budget/budget.h"
#include "server/budget/core.h"
#include "server/budget/pricing.h"
#include "server/budget/small_lp.h"
#include "server/budget/tree_pass.h"
#include "tests/budget/instances.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

struct Listed {
  std::vector<uint8_t> level;
  int64_t loss;
  std::vector<int64_t> used;
};

std::vector<Listed> ListPlans(const Problem& problem) {
  std::vector<Listed> plans;
  std::vector<uint8_t> level(problem.size());
  for (int64_t plan = 0; plan < int64_t{1} << (2 * problem.size()); ++plan) {
    for (int64_t i = 0; i < problem.size(); ++i) level[i] = (plan >> (2 * i)) & 3;
    if (FollowsParents(problem, level)) plans.push_back({level, LossOf(problem, level), UseOf(problem, level)});
  }
  return plans;
}

// The node's level in the lowest of the tied plans, parents first.
uint8_t LowestOf(const Problem& problem, std::vector<const Listed*> tied, int64_t node) {
  std::vector<int64_t> way;
  for (int64_t i = node; i >= 0; i = problem.parent[i]) way.insert(way.begin(), i);
  for (const int64_t i : way) {
    uint8_t least = 3;
    for (const Listed* plan : tied) least = std::min(least, plan->level[i]);
    std::erase_if(tied, [&](const Listed* plan) { return plan->level[i] != least; });
  }
  return tied.front()->level[node];
}

// One limited resource, the first. Twice the uses make B + 1/2 whole. The best price is the slope of the hull's edge
// over 2 B + 1, as a fraction rise / run; 0 where some plan of least loss fits. nullopt: no plan fits.
std::optional<uint8_t> ExactLevel(const Problem& problem, const std::vector<Listed>& plans, int64_t capacity,
                                  int64_t node) {
  const int64_t at = 2 * capacity + 1;
  std::map<int64_t, int64_t> least_loss;  // by twice the use
  for (const Listed& plan : plans) {
    const auto [place, is_new] = least_loss.emplace(2 * plan.used[0], plan.loss);
    if (!is_new) place->second = std::min(place->second, plan.loss);
  }
  std::optional<int64_t> flat;  // the least loss of what fits
  for (const auto& [used, loss] : least_loss) {
    if (used <= at && (!flat || loss < *flat)) flat = loss;
  }
  if (!flat) return std::nullopt;
  int64_t best_rise = 0, best_run = 1, best_value = *flat;  // value of an edge over `at`, times its run
  for (const auto& [left, loss] : least_loss) {
    for (const auto& [right, lower] : least_loss) {
      if (left > at || right < at || lower >= loss) continue;
      const int64_t run = right - left, rise = loss - lower, value = loss * run - rise * (at - left);
      if (value * best_run < best_value * run) best_rise = rise, best_run = run, best_value = value;
    }
  }
  const auto priced = [&](const Listed& plan) { return plan.loss * best_run + 2 * plan.used[0] * best_rise; };
  int64_t least = priced(plans.front());
  for (const Listed& plan : plans) least = std::min(least, priced(plan));
  std::vector<const Listed*> tied;
  for (const Listed& plan : plans) {
    if (priced(plan) == least) tied.push_back(&plan);
  }
  return LowestOf(problem, tied, node);
}

TEST(CapacityFlipOf, OneResourceFindsTheNearestFlipsToTheUnit) {
  int less = 0, more = 0;
  for (uint64_t seed = 1; seed <= 600; ++seed) {
    Draw draw(seed);
    // Odd seeds: forests, in which a level may come back as the capacity goes on; even ones flat, where the nearest
    // flip is found.
    const Shape shape = {.nodes = 5, .resources = 1, .container_percent = seed % 2 == 0 ? 0 : 40, .most = 30};
    Problem problem = RandomForest(shape, seed);
    SetCapacities(&problem, static_cast<int>(draw.Between(10, 90)));
    const std::vector<Listed> plans = ListPlans(problem);
    const int64_t node = draw.Below(problem.size());
    if (plans.empty()) continue;
    const int64_t own = *problem.capacity[0];
    const auto before = ExactLevel(problem, plans, own, node);
    if (!before) continue;
    std::optional<int64_t> want_less, want_more;
    for (int64_t at = own - 1; at >= 0 && !want_less; --at) {
      const auto level = ExactLevel(problem, plans, at, node);
      if (!level) break;
      if (*level != *before) want_less = at;
    }
    for (int64_t at = own + 1; at <= 5 * 30 && !want_more; ++at) {
      if (*ExactLevel(problem, plans, at, node) != *before) want_more = at;
    }
    const auto flip = CapacityFlipOf(problem, node, 0, Stop());
    ASSERT_TRUE(flip.ok()) << flip.status();
    if (seed % 2 == 0) {
      EXPECT_EQ(flip->less, want_less) << "seed " << seed;
      EXPECT_EQ(flip->more, want_more) << "seed " << seed;
    }
    for (const auto& [at, level, back] :
         {std::tuple(flip->less, flip->less_level, 1), {flip->more, flip->more_level, -1}}) {
      if (!at) continue;
      EXPECT_NE(level, *before) << "seed " << seed;
      EXPECT_EQ(level, ExactLevel(problem, plans, *at, node)) << "seed " << seed;
      EXPECT_EQ(*before, ExactLevel(problem, plans, *at + back, node)) << "seed " << seed;
    }
    less += flip->less.has_value();
    more += flip->more.has_value();
  }
  EXPECT_GT(less, 100);
  EXPECT_GT(more, 60);
}

// The relaxed problem over listed plans, any number of limited resources: the prices of
//   maximise v - sum over k of p_k (B_k + part of k)  where  v - sum over k of use_k p_k <= loss for every plan,
// and the plans tied there. Figures are small integers, so what is not tied differs by more than 1 / (product of two
// determinants of a few hundred each); 1e-7 is far above the rounding of the programme and far below that.
std::optional<uint8_t> RelaxedLevel(const Problem& problem, const std::vector<Listed>& plans, int64_t node) {
  constexpr double kTied = 1e-7;
  const int resources = problem.resources;
  SmallLp lp(1 + resources);
  std::vector<double> row(1 + resources, 1.0);
  for (const Listed& plan : plans) {
    for (int k = 0; k < resources; ++k) row[1 + k] = -static_cast<double>(plan.used[k]);
    lp.AddRow(row, static_cast<double>(plan.loss));
  }
  lp.objective[0] = 1;
  for (int k = 0; k < resources; ++k) {
    lp.objective[1 + k] = -static_cast<double>(*problem.capacity[k]) - (k + 1) * 633 % 1024 / 1024.0;
  }
  const SmallLpSolution solution = Maximise(lp);
  if (!solution.bounded) return std::nullopt;  // no mixture of plans fits
  const auto priced = [&](const Listed& plan) {
    double value = static_cast<double>(plan.loss);
    for (int k = 0; k < resources; ++k) value += static_cast<double>(plan.used[k]) * solution.x[1 + k];
    return value;
  };
  std::vector<const Listed*> tied;
  for (const Listed& plan : plans) {
    if (priced(plan) <= solution.x[0] + kTied) tied.push_back(&plan);
  }
  return LowestOf(problem, tied, node);
}

TEST(CapacityFlipOf, SeveralResourcesFlipAtTheFoundCapacityAndNotOneUnitBefore) {
  int less = 0, more = 0;
  for (uint64_t seed = 1; seed <= 400; ++seed) {
    Draw draw(seed);
    const Shape shape = {.nodes = 5, .resources = 2 + static_cast<int>(seed % 2), .most = 30, .tidy = seed % 3 != 0};
    Problem problem = RandomForest(shape, seed);
    SetCapacities(&problem, static_cast<int>(draw.Between(20, 80)));
    const std::vector<Listed> plans = ListPlans(problem);
    const int64_t node = draw.Below(problem.size());
    const int k = static_cast<int>(draw.Below(shape.resources));
    if (plans.empty()) continue;
    const int64_t own = *problem.capacity[k];
    const auto level_at = [&](int64_t capacity) {
      problem.capacity[k] = capacity;
      const auto level = RelaxedLevel(problem, plans, node);
      problem.capacity[k] = own;
      return level;
    };
    const auto before = level_at(own);
    if (!before) continue;
    const auto flip = CapacityFlipOf(problem, node, k, Stop());
    ASSERT_TRUE(flip.ok()) << flip.status();
    if (flip->less) {
      ++less;
      EXPECT_LT(*flip->less, own);
      EXPECT_NE(flip->less_level, *before) << "seed " << seed;
      EXPECT_EQ(level_at(*flip->less), flip->less_level) << "seed " << seed;
      EXPECT_EQ(level_at(*flip->less + 1), *before) << "seed " << seed;
    }
    if (flip->more) {
      ++more;
      EXPECT_GT(*flip->more, own);
      EXPECT_NE(flip->more_level, *before) << "seed " << seed;
      EXPECT_EQ(level_at(*flip->more), flip->more_level) << "seed " << seed;
      EXPECT_EQ(level_at(*flip->more - 1), *before) << "seed " << seed;
    }
    if (!flip->more) {
      EXPECT_EQ(level_at(5 * 30), *before) << "seed " << seed;
    }
  }
  EXPECT_GT(less, 100);
  EXPECT_GT(more, 50);
}

// The node's level in the relaxed plan at the best prices Solve() would find.
uint8_t LevelOfFreshDual(const Problem& problem, int64_t node) {
  Core core = CoreOf(problem);
  EXPECT_TRUE(PruneSets(core.parent, core.sets));
  ReachSets(core.parent, core.sets);
  PassBuffers buffers;
  Outcome least, outcome;
  EXPECT_TRUE(PricePass(core, Prices(), Stop(), &buffers, &least));
  PricingOptions options;
  options.high = HighestPrices(core, problem.capacity, least, nullptr);
  options.tolerance = 0;
  const DualResult dual = FindPrices(core, problem.capacity, options, Stop());
  EXPECT_TRUE(PricePass(core, dual.prices, Stop(), &buffers, &outcome));
  return buffers.level[node];
}

// A node between two levels takes up a range of capacities as wide as its costs differ, 100,000 here at most: in it the
// other dual may give it either.
TEST(CapacityFlipOf, FreshDualsOnBothSidesAgreeAtThousandNodes) {
  constexpr int64_t kClear = 100'000;
  const Problem problem = MakeInstance({.nodes = 1'500}, 3);
  int flips = 0;
  for (int64_t node = 100; node < 1'500; node += 200) {
    const int k = static_cast<int>(node / 100 % 2);
    const auto flip = CapacityFlipOf(problem, node, k, Stop());
    ASSERT_TRUE(flip.ok()) << flip.status();
    const auto level_at = [&](int64_t capacity) {
      Problem at = problem;
      at.capacity[k] = capacity;
      return LevelOfFreshDual(at, node);
    };
    for (const auto& [at, level, back] :
         {std::tuple(flip->less, flip->less_level, kClear), {flip->more, flip->more_level, -kClear}}) {
      if (!at) continue;
      ++flips;
      EXPECT_EQ(level_at(*at - back), level) << "node " << node;
      EXPECT_NE(level_at(*at + back), level) << "node " << node;
    }
  }
  EXPECT_GT(flips, 5);
}

// Flat, one resource, losses that fall and costs that rise with the level: more capacity never means a lower level.
TEST(CapacityFlipOf, LevelsRiseWithTheCapacityWhereThereIsOneAndNoTrees) {
  for (uint64_t seed = 1; seed <= 100; ++seed) {
    Draw draw(seed);
    Problem problem =
        RandomForest({.nodes = 60, .resources = 1, .container_percent = 0, .most = 1'000, .tidy = true}, seed);
    SetCapacities(&problem, static_cast<int>(draw.Between(10, 90)));
    const auto flip = CapacityFlipOf(problem, draw.Below(60), 0, Stop());
    ASSERT_TRUE(flip.ok());
    if (flip->less && flip->more) {
      EXPECT_LT(flip->less_level, flip->more_level) << "seed " << seed;
    }
  }
}

Problem OneNode() {
  Problem problem;
  problem.resources = 1;
  problem.parent = {-1};
  problem.allowed = {0b1001};
  problem.tie = {0};
  problem.loss = {3, 0, 0, 0};
  problem.cost = {0, 0, 0, 5};
  problem.capacity = {std::nullopt};
  problem.money = {0};
  return problem;
}

TEST(CapacityFlipOf, WithoutCapacityOnlyLess) {
  const auto flip = CapacityFlipOf(OneNode(), 0, 0, Stop());
  ASSERT_TRUE(flip.ok());
  EXPECT_EQ(flip->less, 4);  // level 3 needs 5
  EXPECT_EQ(flip->less_level, 0);
  EXPECT_EQ(flip->more, std::nullopt);
}

// Prices keep some 30 bits where totals are as large as can be: one part in 1e7 is well within.
TEST(CapacityFlipOf, LargestTotalsDoNotOverflow) {
  Problem problem = OneNode();
  problem.loss[0] = kMaxTotal;
  problem.cost[3] = kMaxTotal;
  problem.capacity[0] = std::numeric_limits<int64_t>::max();
  const auto flip = CapacityFlipOf(problem, 0, 0, Stop());
  ASSERT_TRUE(flip.ok());
  ASSERT_TRUE(flip->less.has_value());
  EXPECT_NEAR(static_cast<double>(*flip->less), static_cast<double>(kMaxTotal), 1e-7 * static_cast<double>(kMaxTotal));
  EXPECT_EQ(flip->more, std::nullopt);
}

// Two nodes at level 3 for 4 each, and 6 once for both: 3 each, so 7 each. Node 0 gains 10, node 1 gains 6: node 1
// goes first, below 14, node 0 below 7.
TEST(CapacityFlipOf, FixedCostsCountAsEvenShares) {
  Problem problem;
  problem.resources = 1;
  problem.parent = {-1, -1};
  problem.allowed = {0b1001, 0b1001};
  problem.tie = {0, 1};
  problem.loss = {10, 0, 0, 0, 6, 0, 0, 0};
  problem.cost = {0, 0, 0, 4, 0, 0, 0, 4};
  problem.capacity = {20};
  problem.money = {0};
  problem.fixed = {{{6}, {{1, 0b1000}, {0, 0b1000}}}};
  const auto first = CapacityFlipOf(problem, 0, 0, Stop()), second = CapacityFlipOf(problem, 1, 0, Stop());
  ASSERT_TRUE(first.ok() && second.ok());
  EXPECT_EQ(first->less, 6);
  EXPECT_EQ(second->less, 13);
}

TEST(CapacityFlipOf, NamesWhatIsOutOfRange) {
  const auto flip = CapacityFlipOf(OneNode(), 1, 0, Stop());
  EXPECT_EQ(flip.status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(flip.status().message(), "got node 1 and resource 0, want a node below 1 and a resource below 1");
  EXPECT_EQ(CapacityFlipOf(OneNode(), 0, 1, Stop()).status().code(), absl::StatusCode::kInvalidArgument);
}

TEST(CapacityFlipOf, CapacitiesThatCannotBeMetAreRefused) {
  Problem problem = OneNode();
  problem.allowed = {0b1000};
  problem.capacity = {4};
  const auto flip = CapacityFlipOf(problem, 0, 0, Stop());
  EXPECT_EQ(flip.status().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(flip.status().message(), "no plan meets the capacities: it is proved that none exists");
}

TEST(CapacityFlipOf, StopsWhenAsked) {
  Stop stop;
  stop.Cancel();
  EXPECT_EQ(CapacityFlipOf(OneNode(), 0, 0, stop).status().code(), absl::StatusCode::kCancelled);
  const Stop late(Stop::Clock::now() - std::chrono::seconds(1));
  EXPECT_EQ(CapacityFlipOf(OneNode(), 0, 0, late).status().code(), absl::StatusCode::kDeadlineExceeded);
}

}  // namespace
}  // namespace scantling::budget
