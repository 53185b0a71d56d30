// Limits as columns of the problem; alike groups; demands. Figures by hand.

#include "server/choice/limits.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "server/budget/budget.h"
#include "server/choice/choice.h"
#include "server/choice/demands.h"
#include "tests/choice/small_shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::MakeSmallShot;
using testing::Rule;
using testing::SmallObject;
using testing::SmallShot;

Choice Build(const SmallShot& shot, bool alike, Violations& violations) {
  absl::StatusOr<Choice> choice =
      BuildChoice({shot.scene, shot.legibility, shot.costs, shot.policy, shot.style, {}, alike}, violations);
  EXPECT_TRUE(choice.ok()) << choice.status();
  return *std::move(choice);
}

// Four people whose omission costs nothing visible, one of them never seen, and a crowd of all of them.
SmallShot CrowdShot(double keep_share) {
  const PerTier<double> unread = {0, 0, 0, 0};
  SmallShot shot = MakeSmallShot({{.id = "a", .loss = unread},
                                  {.id = "b", .loss = unread},
                                  {.id = "c", .loss = unread},
                                  {.id = "d", .loss = unread, .sight = Sight::kOffScreen}});
  shot.scene.crowds.push_back({"quay", {0, 1, 2, 3}, keep_share, 0, 0, 0});
  return shot;
}

TEST(KeepShare, CountsSeenMembersThatAreNotOmitted) {
  const SmallShot shot = CrowdShot(0.5);
  Violations violations;
  Choice choice = Build(shot, false, violations);
  AddKeepShare(shot.scene, shot.legibility, 0, choice);
  // 3 seen; half of them are 1.5, so 2 must stay and 1 may go.
  EXPECT_EQ(choice.problem.capacity.back(), 1);
  const auto solution = budget::Solve(choice.problem, {}, Stop());
  ASSERT_TRUE(solution.ok()) << solution.status();
  EXPECT_EQ(solution->used.back(), 1);
  EXPECT_EQ(std::count(solution->level.begin(), solution->level.end(), 1), 2);  // two colour patches, the cheapest kept
  EXPECT_EQ(solution->level[choice.node_of_row[3]], 0);                         // the unseen one is nobody's loss
}

TEST(KeepShare, RoundsWhatMustStayUpAndForgivesADoublesDust) {
  Crowd crowd;
  crowd.keep_share = 0.9;
  EXPECT_EQ(MayBeOmitted(crowd, 10), 1);  // 0.9 * 10 is a hair above 9 in doubles
  EXPECT_EQ(MayBeOmitted(crowd, 11), 1);  // 9.9: 10 must stay
  crowd.keep_share = 1;
  EXPECT_EQ(MayBeOmitted(crowd, 7), 0);
  crowd.keep_share = 0;
  EXPECT_EQ(MayBeOmitted(crowd, 7), 7);
}

TEST(CellCover, LimitsWhatACellMayLose) {
  SmallShot shot = CrowdShot(0);
  shot.scene.crowds[0].columns = 2;
  shot.scene.crowds[0].rows = 1;
  shot.scene.crowds[0].least_covered_share = 0.75;
  // Cell 0: a 10 px, b 30 px; cell 1: c 5 px. A quarter of 40 px may go: a, not b.
  const std::vector<CellCover> cover = {{0, 0, 10}, {1, 0, 30}, {2, 1, 5}};
  Violations violations;
  Choice choice = Build(shot, false, violations);
  AddCellCover(shot.scene, 0, 0, cover, choice);
  EXPECT_EQ(choice.resources.back().whole, 40'000);
  EXPECT_EQ(choice.problem.capacity.back(), 10'000);
  const auto solution = budget::Solve(choice.problem, {}, Stop());
  ASSERT_TRUE(solution.ok()) << solution.status();
  EXPECT_EQ(solution->level[0], 0);
  EXPECT_EQ(solution->level[1], 1);
  EXPECT_EQ(solution->level[2], 0);
}

TEST(FrameMemory, AnAssetIsHeldOnceAndLonersEach) {
  SmallShot shot = MakeSmallShot({{.id = "a", .asset = "x"}, {.id = "b", .asset = "x"}, {.id = "c"}});
  Violations violations;
  Choice choice = Build(shot, false, violations);
  FrameMemory memory;
  memory.holdings = {{0, Tier::kFullRig, 100, {0, 1}}, {kNone, Tier::kFullRig, 60, {2}}, {0, Tier::kProxy, 10, {0, 1}}};
  AddFrameMemory(memory, 7, 165, choice);
  EXPECT_EQ(choice.problem.capacity.back(), 165'000);
  ASSERT_EQ(choice.problem.fixed.size(), 2u);
  // Two at FULL_RIG and the third too: 160 MB in all, for the asset counts once.
  const auto solution = budget::Solve(choice.problem, {}, Stop());
  ASSERT_TRUE(solution.ok()) << solution.status();
  EXPECT_THAT(solution->level, ElementsAre(3, 3, 3));
  EXPECT_EQ(solution->used.back(), 160'000);
  choice.problem.capacity.back() = 159'999;
  const auto tighter = budget::Solve(choice.problem, {}, Stop());
  ASSERT_TRUE(tighter.ok()) << tighter.status();
  EXPECT_THAT(tighter->level, ElementsAre(3, 3, 2));  // the third at PROXY loses least: 1, no memory at all
}

TEST(KeepResources, TakesOutWhatIsNotKept) {
  const SmallShot shot = CrowdShot(0.5);
  Violations violations;
  Choice choice = Build(shot, false, violations);
  const budget::Problem before = choice.problem;
  AddKeepShare(shot.scene, shot.legibility, 0, choice);
  FrameMemory memory;
  memory.holdings = {{0, Tier::kProxy, 10, {0, 1}}};
  AddFrameMemory(memory, 3, 5, choice);
  KeepResources(std::vector<uint8_t>(choice.resources.size(), 0), choice);
  EXPECT_EQ(choice.problem.cost, before.cost);
  EXPECT_EQ(choice.problem.resources, before.resources);
  EXPECT_EQ(choice.problem.money, before.money);
  EXPECT_TRUE(choice.problem.fixed.empty());
  EXPECT_EQ(choice.resources.size(), 2u);
}

TEST(Alike, GroupsAreSiblingsOfOneAssetAndBandThatAreSeen) {
  SmallShot shot = MakeSmallShot({{.id = "a", .asset = "x"},
                                  {.id = "b", .asset = "x"},
                                  {.id = "c", .asset = "x"},
                                  {.id = "d", .asset = "x", .sight = Sight::kOffScreen},
                                  {.id = "e", .container = "g", .asset = "x"},
                                  {.id = "f", .asset = "y"},
                                  {.id = "g"}});
  shot.legibility.band[2] = 1;
  Violations violations;
  const Choice choice = Build(shot, true, violations);
  EXPECT_THAT(choice.group, ElementsAre(0, 0, -1, -1, -1, -1, -1));
}

TEST(Alike, ADirectiveOnOneBindsItsTwinsAndSaysSo) {
  SmallShot shot = MakeSmallShot({{.id = "a", .asset = "x"}, {.id = "b", .asset = "x"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "b", DirectiveBound::kAtLeast, Tier::kProxy),
                           Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kProxy)};
  Violations violations;
  const Choice choice = Build(shot, true, violations);
  ASSERT_TRUE(violations.empty());
  for (const TierBounds& bounds : choice.bounds) {
    EXPECT_EQ(bounds.least.tier, Tier::kProxy);
    EXPECT_EQ(bounds.most.tier, Tier::kProxy);
  }
  EXPECT_EQ(choice.bounds[0].least.bar, Bar::kTwin);
  EXPECT_EQ(choice.bounds[0].least.by, 1u);
  EXPECT_EQ(choice.bounds[0].most.bar, Bar::kDirective);
}

TEST(Alike, ContradictoryRulingsOnTwinsNameBoth) {
  SmallShot shot = MakeSmallShot({{.id = "a", .asset = "x"}, {.id = "b", .asset = "x"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kColourPatch),
                           Rule(DirectiveScope::kObject, "b", DirectiveBound::kAtLeast, Tier::kProxy)};
  Violations violations;
  Build(shot, true, violations);
  ASSERT_FALSE(violations.empty());
  EXPECT_THAT(violations.listed()[0].description, HasSubstr("directives[0]"));
  EXPECT_THAT(violations.listed()[0].description, HasSubstr("directives[1]"));
  EXPECT_THAT(violations.listed()[0].description, HasSubstr("alike"));
}

// Twin containers: what one holds needs it at PROXY, so the other is kept there too.
TEST(Alike, NeedsOfContentsReachTheTwinsOfTheirContainer) {
  SmallShot shot = MakeSmallShot({{.id = "a", .asset = "x"}, {.id = "b", .asset = "x"}, {.id = "c", .container = "a"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "c", DirectiveBound::kAtLeast, Tier::kFullRig)};
  Violations violations;
  const Choice choice = Build(shot, true, violations);
  EXPECT_EQ(choice.bounds[0].least.tier, Tier::kProxy);
  EXPECT_EQ(choice.bounds[1].least.tier, Tier::kProxy);
  EXPECT_EQ(choice.bounds[1].least.bar, Bar::kTwin);
}

TEST(Demands, TogetherTheyAreTheChoicesOwnMasks) {
  SmallShot shot = MakeSmallShot({{.id = "a", .worst_octaves = {9, 9, 1, 0}},
                                  {.id = "b", .container = "a"},
                                  {.id = "c", .shadow = {{1, 24}}},
                                  {.id = "d", .sight = Sight::kOffScreen, .shadow = {{1, 4}}}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "b", DirectiveBound::kAtLeast, Tier::kColourPatch),
                           Rule(DirectiveScope::kClass, "figure", DirectiveBound::kAtMost, Tier::kProxy),
                           Rule(DirectiveScope::kClass, "house", DirectiveBound::kAtMost, Tier::kProxy)};
  shot.style.worst_octaves = 4;
  shot.scene.crowds.push_back({"all", {0, 1, 2, 3}, 0.5, 0, 0, 0});
  Violations violations;
  Choice choice = Build(shot, false, violations);
  AddKeepShare(shot.scene, shot.legibility, 0, choice);
  const ShotDemands demands = DemandsOf({shot.scene, shot.legibility, shot.costs, shot.policy, shot.style}, choice);
  // b's ruling, the class's (the other class has no objects), d's shadow, a's worst octaves, the crowd.
  ASSERT_EQ(demands.demands.size(), 5u);
  EXPECT_EQ(demands.demands[0].kind, DemandKind::kDirective);
  EXPECT_EQ(demands.demands[1].demand.restrictions.size(), 4u);
  EXPECT_EQ(demands.demands[2].kind, DemandKind::kIndirectSight);
  EXPECT_EQ(demands.demands[3].kind, DemandKind::kWorstOctaves);
  EXPECT_EQ(demands.demands[4].demand.resource, 2);
  budget::Problem together = demands.rest;
  for (const ShotDemand& demand : demands.demands) {
    for (const auto& one : demand.demand.restrictions) together.allowed[one.node] &= one.allowed;
  }
  // The solver passes needs on by itself, so the plans are the same.
  const auto ours = budget::Solve(together, {}, Stop()), theirs = budget::Solve(choice.problem, {}, Stop());
  ASSERT_TRUE(ours.ok() && theirs.ok());
  EXPECT_EQ(ours->level, theirs->level);
  EXPECT_EQ(ours->loss, theirs->loss);
}

}  // namespace
}  // namespace scantling
