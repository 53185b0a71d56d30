// Groups of nodes that take one level, against exhaustive search over the plans that honour them.

#include "server/budget/alike.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <vector>

#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

constexpr Effort kFully = {.target_gap = 0, .branch_nodes = 200'000, .branch_size = 4'000};

// Two roots 0 and 2 alike; 1 stands alone; 3 and 4 are children of 0 and 2.
Problem SmallFamily() {
  Problem problem;
  problem.resources = 1;
  problem.parent = {-1, -1, -1, 0, 2};
  problem.allowed = {0b1110, 0b1111, 0b1011, 0b1111, 0b1111};
  problem.tie = {9, 8, 7, 6, 5};
  problem.loss = {40, 30, 20, 10, 4, 3, 2, 1, 400, 300, 200, 100, 5, 5, 5, 5, 6, 6, 6, 6};
  problem.cost = {0, 1, 2, 3, 0, 1, 1, 1, 0, 10, 20, 30, 0, 1, 2, 3, 0, 1, 2, 3};
  problem.capacity = {50};
  problem.money = {1};
  return problem;
}

TEST(MergeAlike, AddsRowsMeetsMasksAndTakesTheLeastTie) {
  Problem problem = SmallFamily();
  problem.fixed.push_back({{7}, {{0, 0b1000}, {1, 0b0100}, {2, 0b0010}}});
  const auto alike = MergeAlike(problem, std::vector<int32_t>{77, -1, 77, -1, -1});
  ASSERT_TRUE(alike.ok()) << alike.status();
  const Problem& merged = alike->problem;
  EXPECT_EQ(alike->merged_of, (std::vector<int32_t>{0, 1, 0, 2, 3}));
  EXPECT_EQ(merged.parent, (std::vector<int32_t>{-1, -1, 0, 0}));  // both children under the merged node
  EXPECT_EQ(merged.allowed, (std::vector<uint8_t>{0b1010, 0b1111, 0b1111, 0b1111}));
  EXPECT_EQ(merged.tie, (std::vector<uint64_t>{7, 8, 6, 5}));
  EXPECT_EQ(std::vector<int64_t>(merged.loss.begin(), merged.loss.begin() + 4),
            (std::vector<int64_t>{440, 330, 220, 110}));
  EXPECT_EQ(std::vector<int64_t>(merged.cost.begin(), merged.cost.begin() + 4), (std::vector<int64_t>{0, 11, 22, 33}));
  ASSERT_EQ(merged.fixed.size(), 1u);
  ASSERT_EQ(merged.fixed[0].users.size(), 2u);
  EXPECT_EQ(merged.fixed[0].users[0].node, 0);
  EXPECT_EQ(merged.fixed[0].users[0].levels, 0b1010);
  EXPECT_EQ(merged.fixed[0].users[1].node, 1);
  EXPECT_EQ(merged.fixed[0].users[1].levels, 0b0100);
  EXPECT_TRUE(Validate(merged).ok());
}

TEST(MergeAlike, WithoutGroupsIsTheProblemItself) {
  const Problem problem = SmallFamily();
  const auto alike = MergeAlike(problem, std::vector<int32_t>(5, -1));
  ASSERT_TRUE(alike.ok());
  EXPECT_EQ(alike->merged_of, (std::vector<int32_t>{0, 1, 2, 3, 4}));
  EXPECT_EQ(alike->problem.parent, problem.parent);
  EXPECT_EQ(alike->problem.allowed, problem.allowed);
  EXPECT_EQ(alike->problem.loss, problem.loss);
  EXPECT_EQ(alike->problem.cost, problem.cost);
}

TEST(MergeAlike, RefusesMembersOfDifferentParents) {
  const auto alike = MergeAlike(SmallFamily(), std::vector<int32_t>{-1, -1, -1, 3, 3});
  ASSERT_FALSE(alike.ok());
  EXPECT_EQ(alike.status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(alike.status().message(), "nodes 3 and 4 of group 3 have different parents, 0 and 2, want one");
}

TEST(MergeAlike, RefusesMembersWithoutACommonLevel) {
  Problem problem = SmallFamily();
  problem.allowed[0] = 0b0100;
  const auto alike = MergeAlike(problem, std::vector<int32_t>{5, -1, 5, -1, -1});
  ASSERT_FALSE(alike.ok());
  EXPECT_EQ(alike.status().message(), "node 2 has no level in common with the others of group 5");
}

TEST(MergeAlike, RefusesAGroupListOfTheWrongSize) {
  const auto alike = MergeAlike(SmallFamily(), std::vector<int32_t>{5, -1});
  ASSERT_FALSE(alike.ok());
  EXPECT_EQ(alike.status().message(), "group has 2 entries, want one per node, 5");
}

// The merged total is at most the sum of the members', so the largest problem that is allowed still merges.
TEST(MergeAlike, KeepsTheLargestTotals) {
  Problem problem = SmallFamily();
  problem.loss.assign(problem.loss.size(), kMaxTotal / 5);
  problem.allowed.assign(5, 15);
  problem.parent.assign(5, -1);
  const auto alike = MergeAlike(problem, std::vector<int32_t>(5, 1));
  ASSERT_TRUE(alike.ok()) << alike.status();
  EXPECT_TRUE(Validate(alike->problem).ok());
  EXPECT_EQ(alike->problem.loss, std::vector<int64_t>(4, 5 * (kMaxTotal / 5)));
}

// Siblings that share a level are put in groups by the draw.
std::vector<int32_t> RandomGroups(const Problem& problem, Draw* draw) {
  std::vector<int32_t> group(problem.size(), -1);
  std::map<int32_t, uint8_t> common;  // per group, its members' common levels
  for (int32_t i = 0; i < problem.size(); ++i) {
    const auto number = static_cast<int32_t>(1000 - 10 * problem.parent[i] + draw->Below(2));
    if (draw->Below(3) == 0) continue;
    const uint8_t mask = common.count(number) == 0 ? problem.allowed[i] : common[number] & problem.allowed[i];
    if (mask == 0) continue;
    common[number] = mask;
    group[i] = number;
  }
  return group;
}

bool Honours(const std::vector<int32_t>& group, const std::vector<uint8_t>& level) {
  std::map<int32_t, uint8_t> taken;
  for (size_t i = 0; i < group.size(); ++i) {
    if (group[i] >= 0 && taken.emplace(group[i], level[i]).first->second != level[i]) return false;
  }
  return true;
}

// The least loss of all plans that honour the groups within the capacities; -1: none.
int64_t LeastLossOfGrouped(const Problem& problem, const std::vector<int32_t>& group) {
  int64_t least = -1;
  std::vector<uint8_t> level(problem.size());
  for (int64_t plan = 0; plan < int64_t{1} << (2 * problem.size()); ++plan) {
    for (int64_t i = 0; i < problem.size(); ++i) level[i] = (plan >> (2 * i)) & 3;
    if (!Honours(group, level) || !FollowsParents(problem, level)) continue;
    const std::vector<int64_t> used = UseOf(problem, level);
    bool fits = true;
    for (int k = 0; k < problem.resources; ++k)
      fits = fits && (!problem.capacity[k] || used[k] <= *problem.capacity[k]);
    if (!fits) continue;
    const int64_t loss = LossOf(problem, level);
    if (least < 0 || loss < least) least = loss;
  }
  return least;
}

TEST(MergeAlike, BestGroupedPlanOfSmallForestsIsFound) {
  int grouped = 0, none = 0;
  for (uint64_t seed = 1; seed <= 400; ++seed) {
    Draw draw(seed);
    const Shape shape = {
        .nodes = 6, .resources = 1 + static_cast<int>(seed % 3), .fixed_costs = static_cast<int>(seed % 2)};
    Problem problem = RandomForest(shape, seed);
    SetCapacities(&problem, static_cast<int>(draw.Between(20, 70)));
    const std::vector<int32_t> group = RandomGroups(problem, &draw);
    const auto alike = MergeAlike(problem, group);
    ASSERT_TRUE(alike.ok()) << alike.status();
    grouped += alike->problem.size() < problem.size();
    const int64_t least = LeastLossOfGrouped(problem, group);
    const auto merged = Solve(alike->problem, kFully, Stop());
    ASSERT_EQ(merged.ok(), least >= 0) << "seed " << seed << " " << merged.status();
    if (!merged.ok()) {
      ++none;
      continue;
    }
    const Solution spread = SpreadAlike(*alike, *merged);
    EXPECT_EQ(spread.loss, least) << "seed " << seed;
    EXPECT_TRUE(FollowsParents(problem, spread.level)) << "seed " << seed;
    EXPECT_TRUE(Honours(group, spread.level)) << "seed " << seed;
    EXPECT_EQ(LossOf(problem, spread.level), spread.loss) << "seed " << seed;
    EXPECT_EQ(UseOf(problem, spread.level), spread.used) << "seed " << seed;
    EXPECT_EQ(PaysFor(problem, spread.level), spread.paid) << "seed " << seed;
  }
  EXPECT_GT(grouped, 200);  // the draw does make groups
  EXPECT_GT(none, 5);       // and problems without a plan
}

}  // namespace
}  // namespace scantling::budget
