// Sets of demands that stand in the way, against exhaustive search.

#include "server/budget/irreducible.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <numeric>
#include <vector>

#include "server/budget/least_plan.h"
#include "tests/budget/instances.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

Problem With(const Problem& rest, const std::vector<Demand>& demands, const std::vector<int32_t>& active) {
  Problem problem = rest;
  for (const Demand& demand : demands) {
    if (demand.resource >= 0) problem.capacity[demand.resource].reset();
  }
  for (const int32_t d : active) {
    for (const Demand::Restriction& one : demands[d].restrictions) problem.allowed[one.node] &= one.allowed;
    if (demands[d].resource >= 0) problem.capacity[demands[d].resource] = rest.capacity[demands[d].resource];
  }
  return problem;
}

bool CanBeMet(const Problem& rest, const std::vector<Demand>& demands, const std::vector<int32_t>& active) {
  const Problem problem = With(rest, demands, active);
  if (std::find(problem.allowed.begin(), problem.allowed.end(), 0) != problem.allowed.end()) return false;
  return SearchAll(problem).feasible;
}

std::vector<int32_t> AllOf(const std::vector<Demand>& demands) {
  std::vector<int32_t> all(demands.size());
  std::iota(all.begin(), all.end(), 0);
  return all;
}

// Demands on one to three nodes, mostly floors; the last resource is a keep share and a demand of its own.
std::vector<Demand> RandomDemands(const Shape& shape, Draw* draw) {
  std::vector<Demand> demands;
  const int64_t count = draw->Between(1, 6);
  for (int64_t d = 0; d < count; ++d) {
    Demand demand;
    for (int64_t r = draw->Between(1, 3); r > 0; --r) {
      constexpr uint8_t kMasks[] = {0b1110, 0b1100, 0b1000, 0b0011, 0b0111};
      demand.restrictions.push_back({static_cast<int32_t>(draw->Below(shape.nodes)), kMasks[draw->Below(5)]});
    }
    demands.push_back(demand);
  }
  if (shape.keep_share) demands.push_back({{}, shape.resources - 1});
  return demands;
}

TEST(IrreducibleDemands, SetsOfSmallForestsCannotBeMetAndCanLessAnyOne) {
  int sets = 0, larger = 0, with_share = 0, without_any = 0, met = 0;
  for (uint64_t seed = 1; seed <= 600; ++seed) {
    Draw draw(seed);
    const Shape shape = {.nodes = 5,
                         .resources = 1 + static_cast<int>(seed % 3),
                         .floor_percent = 10,
                         .tidy = seed % 4 != 0,
                         .keep_share = seed % 3 != 0,
                         .fixed_costs = static_cast<int>(seed % 5 == 0)};
    Problem rest = RandomForest(shape, seed);
    SetCapacities(&rest, static_cast<int>(draw.Between(5, 50)));
    const std::vector<Demand> demands = RandomDemands(shape, &draw);
    const auto found = IrreducibleDemands(rest, demands, Stop());
    if (CanBeMet(rest, demands, AllOf(demands))) {
      EXPECT_EQ(found.status().code(), absl::StatusCode::kFailedPrecondition) << "seed " << seed;
      ++met;
      continue;
    }
    ASSERT_TRUE(found.ok()) << "seed " << seed << " " << found.status();
    EXPECT_TRUE(found->proved) << "seed " << seed;
    EXPECT_TRUE(std::is_sorted(found->demands.begin(), found->demands.end()));
    EXPECT_FALSE(CanBeMet(rest, demands, found->demands)) << "seed " << seed;
    for (const int32_t left_out : found->demands) {
      std::vector<int32_t> less = found->demands;
      std::erase(less, left_out);
      EXPECT_TRUE(CanBeMet(rest, demands, less)) << "seed " << seed << " without " << left_out;
      with_share += demands[left_out].resource >= 0;
    }
    ++sets;
    larger += found->demands.size() > 1;
    without_any += found->demands.empty();
  }
  // The draw makes all kinds.
  EXPECT_GT(sets, 200);
  EXPECT_GT(larger, 60);
  EXPECT_GT(with_share, 20);
  EXPECT_GT(without_any, 5);
  EXPECT_GT(met, 50);
}

// Ten nodes of which at most four may be left out (a keep share: level 0 costs 1, four at most), and seven that must be
// left out, each by a demand of its own. Any five of the seven and the share are in the way: six demands.
TEST(IrreducibleDemands, KeepShareAgainstMasks) {
  Problem rest;
  rest.resources = 1;
  rest.capacity = {4};
  rest.money = {0};
  std::vector<Demand> demands;
  for (int32_t i = 0; i < 10; ++i) {
    rest.parent.push_back(-1);
    rest.allowed.push_back(15);
    rest.tie.push_back(static_cast<uint64_t>(i));
    rest.loss.insert(rest.loss.end(), {4, 3, 2, 1});
    rest.cost.insert(rest.cost.end(), {1, 0, 0, 0});
    if (i < 7) demands.push_back({{{i, 0b0001}}, -1});
  }
  demands.push_back({{}, 0});
  const auto found = IrreducibleDemands(rest, demands, Stop());
  ASSERT_TRUE(found.ok()) << found.status();
  EXPECT_TRUE(found->proved);
  EXPECT_EQ(found->demands.size(), 6u);
  EXPECT_EQ(found->demands.back(), 7);
}

// What does not weigh is not named: one floor alone costs more than the capacity, forty others cost little.
TEST(IrreducibleDemands, TheHeavyDemandIsNamedAlone) {
  Problem rest;
  rest.resources = 1;
  rest.capacity = {100};
  rest.money = {0};
  std::vector<Demand> demands;
  for (int32_t i = 0; i < 41; ++i) {
    rest.parent.push_back(-1);
    rest.allowed.push_back(15);
    rest.tie.push_back(static_cast<uint64_t>(i));
    rest.loss.insert(rest.loss.end(), {4, 3, 2, 1});
    const int64_t cost = i == 17 ? 150 : 3;
    rest.cost.insert(rest.cost.end(), {0, 1, 2, cost});
    demands.push_back({{{i, 0b1000}}, -1});
  }
  const auto found = IrreducibleDemands(rest, demands, Stop());
  ASSERT_TRUE(found.ok()) << found.status();
  EXPECT_TRUE(found->proved);
  EXPECT_EQ(found->demands, (std::vector<int32_t>{17}));
}

TEST(IrreducibleDemands, ContradictionsOfMasksAreFoundAcrossATree) {
  Problem rest;
  rest.parent = {-1, 0, 1};  // a chain
  rest.allowed = {15, 15, 15};
  rest.tie = {0, 1, 2};
  rest.loss.assign(12, 1);
  // 0: the middle at 3 at least; 1: the top painted at most; 2: the leaf at 2 at least; 3: the middle at 2 at least.
  const std::vector<Demand> demands = {{{{1, 0b1000}}, -1}, {{{0, 0b0011}}, -1}, {{{2, 0b1100}}, -1}};
  const auto found = IrreducibleDemands(rest, demands, Stop());
  ASSERT_TRUE(found.ok()) << found.status();
  EXPECT_TRUE(found->proved);
  ASSERT_EQ(found->demands.size(), 2u);
  EXPECT_EQ(std::count(found->demands.begin(), found->demands.end(), 1), 1);  // the cap and either floor
}

TEST(IrreducibleDemands, NothingIsNamedWhereTheRestAloneCannotBeMet) {
  Problem rest;
  rest.resources = 1;
  rest.parent = {-1};
  rest.allowed = {0b1000};
  rest.tie = {0};
  rest.loss = {4, 3, 2, 1};
  rest.cost = {0, 1, 2, 5};
  rest.capacity = {4};
  rest.money = {0};
  const std::vector<Demand> demands = {{{{0, 0b1100}}, -1}};
  const auto found = IrreducibleDemands(rest, demands, Stop());
  ASSERT_TRUE(found.ok()) << found.status();
  EXPECT_TRUE(found->proved);
  EXPECT_TRUE(found->demands.empty());
}

// A floor at level 2 on every node, which together need more than the capacities. Proved: within the 400 tests.
TEST(IrreducibleDemands, ThousandsOfFloorsAreProvedWithinTheWorkLimits) {
  for (const bool forest : {false, true}) {
    const Problem rest = MakeInstance({.nodes = 5'000, .forest = forest, .percent = 20}, 11);
    std::vector<Demand> demands;
    for (int32_t i = 0; i < rest.size(); ++i) demands.push_back({{{i, 0b1100}}, -1});
    const auto found = IrreducibleDemands(rest, demands, Stop());
    ASSERT_TRUE(found.ok()) << found.status();
    EXPECT_TRUE(found->proved);
    EXPECT_GT(found->demands.size(), 100u);
    EXPECT_LT(found->demands.size(), 5'000u);
    const Effort little = {.target_gap = 1.0, .branch_nodes = 0};
    const auto all = Solve(With(rest, demands, found->demands), little, Stop());
    EXPECT_EQ(all.status().message(), "no plan meets the capacities: it is proved that none exists");
    for (size_t i = 0; i < found->demands.size(); i += found->demands.size() / 7) {
      std::vector<int32_t> less = found->demands;
      less.erase(less.begin() + static_cast<std::ptrdiff_t>(i));
      EXPECT_TRUE(Solve(With(rest, demands, less), little, Stop()).ok()) << "without " << found->demands[i];
    }
  }
}

TEST(IrreducibleDemands, StopsWhenAsked) {
  const Problem rest = MakeInstance({.nodes = 300, .percent = 20}, 11);
  std::vector<Demand> demands;
  for (int32_t i = 0; i < rest.size(); ++i) demands.push_back({{{i, 0b1100}}, -1});
  Stop stop;
  stop.Cancel();
  const auto found = IrreducibleDemands(rest, demands, stop);
  EXPECT_EQ(found.status().code(), absl::StatusCode::kCancelled);
}

TEST(IrreducibleDemands, SaysWhatIsOutOfRange) {
  Problem rest;
  rest.parent = {-1};
  rest.allowed = {15};
  rest.tie = {0};
  rest.loss = {4, 3, 2, 1};
  const auto message = [&](const Demand& demand) {
    return std::string(IrreducibleDemands(rest, std::vector<Demand>{demand}, Stop()).status().message());
  };
  EXPECT_EQ(message({{}, 0}), "demands[0].resource: got 0, want -1 or a resource below 0");
  EXPECT_EQ(message({{{1, 15}}, -1}), "demands[0]: got node 1, want one below 1");
  EXPECT_EQ(message({{{0, 15}}, -1}), "the demands can be met, or it was not proved that not");
}

// The plan kept while masks change is the one found anew.
TEST(LeastPlan, FollowsEveryChangeOfMasks) {
  for (uint64_t seed = 1; seed <= 60; ++seed) {
    Draw draw(seed);
    Problem problem = RandomForest({.nodes = 30, .resources = 2, .floor_percent = 0}, seed);
    Prices weights;
    weights.per_unit = {3, 5};
    LeastPlan kept(problem, weights);
    for (int change = 0; change < 30; ++change) {
      const auto node = static_cast<int32_t>(draw.Below(problem.size()));
      problem.allowed[node] = static_cast<uint8_t>(draw.Between(1, 15));
      kept.SetMask(node, problem.allowed[node]);
      const LeastPlan anew(problem, weights);
      EXPECT_EQ(kept.total().blocked, anew.total().blocked);
      EXPECT_TRUE(kept.total().weighted == anew.total().weighted);
      EXPECT_EQ(kept.total().used, anew.total().used);
      // Blocked trees are those in which no plan exists; without any, PricePass finds the same plan.
      Core core = CoreOf(problem);
      ASSERT_EQ(kept.total().blocked == 0, PruneSets(core.parent, core.sets));
      if (kept.total().blocked > 0) continue;
      EXPECT_TRUE(FollowsParents(problem, kept.Levels()));
      EXPECT_EQ(UseOf(problem, kept.Levels())[0], kept.total().used[0]);
      ReachSets(core.parent, core.sets);
      Prices least = weights;
      least.loss_weight = 0;
      PassBuffers buffers;
      Outcome outcome;
      ASSERT_TRUE(PricePass(core, least, Stop(), &buffers, &outcome));
      EXPECT_TRUE(PricedLoss(least, outcome, 2) == kept.total().weighted) << "seed " << seed;
    }
  }
}

}  // namespace
}  // namespace scantling::budget
