// Which tiers are for sale: expected intervals are reckoned by hand from the rules of 2-model, named at each test.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "server/choice/choice.h"
#include "tests/choice/small_shot.h"

namespace scantling {
namespace {

using ::testing::HasSubstr;
using testing::MakeSmallShot;
using testing::Rule;
using ::testing::SizeIs;
using testing::SmallObject;
using testing::SmallShot;

Choice Build(const SmallShot& shot, Violations& violations) {
  absl::StatusOr<Choice> choice =
      BuildChoice({shot.scene, shot.legibility, shot.costs, shot.policy, shot.style}, violations);
  EXPECT_TRUE(choice.ok()) << choice.status();
  return *std::move(choice);
}

// Tiers for sale of an object in a shot without faults.
std::pair<Tier, Tier> Interval(const SmallShot& shot, std::string_view id) {
  Violations violations;
  const Choice choice = Build(shot, violations);
  EXPECT_TRUE(violations.empty()) << violations.listed()[0].description;
  for (uint32_t node = 0; node < choice.bounds.size(); ++node) {
    if (shot.scene.objects.id[choice.row_of_node[node]] != id) continue;
    const TierBounds& bounds = choice.bounds[node];
    uint8_t mask = 0;
    for (int t = Index(bounds.least.tier); t <= Index(bounds.most.tier); ++t) mask |= Bit(static_cast<Tier>(t));
    EXPECT_EQ(choice.problem.allowed[node], mask);
    return {bounds.least.tier, bounds.most.tier};
  }
  ADD_FAILURE() << "no object " << id;
  return {};
}

using Pair = std::pair<Tier, Tier>;

TEST(BoundTiers, WithoutRulingsEveryTierIsForSale) {
  EXPECT_EQ(Interval(MakeSmallShot({{.id = "a"}}), "a"), Pair(Tier::kOmitted, Tier::kFullRig));
}

TEST(BoundTiers, DirectivesOfEveryScopeAreIntersected) {
  SmallShot shot = MakeSmallShot({{.id = "a", .asset = "extra"}, {.id = "b"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kProxy),
                           Rule(DirectiveScope::kAsset, "extra", DirectiveBound::kAtLeast, Tier::kColourPatch),
                           Rule(DirectiveScope::kClass, "figure", DirectiveBound::kAtMost, Tier::kFullRig)};
  EXPECT_EQ(Interval(shot, "a"), Pair(Tier::kColourPatch, Tier::kProxy));
  EXPECT_EQ(Interval(shot, "b"), Pair(Tier::kOmitted, Tier::kFullRig));
  Violations violations;
  EXPECT_EQ(Build(shot, violations).directive_matches, (std::vector<uint32_t>{1, 1, 2}));
}

TEST(BoundTiers, ExactlyLeavesOneTier) {
  SmallShot shot = MakeSmallShot({{.id = "a"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kExactly, Tier::kProxy)};
  EXPECT_EQ(Interval(shot, "a"), Pair(Tier::kProxy, Tier::kProxy));
}

TEST(BoundTiers, ContradictoryRulingsNameBothAndTheObject) {
  SmallShot shot = MakeSmallShot({{.id = "a"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtLeast, Tier::kFullRig),
                           Rule(DirectiveScope::kClass, "figure", DirectiveBound::kAtMost, Tier::kProxy)};
  Violations violations;
  Build(shot, violations);
  ASSERT_THAT(violations.listed(), SizeIs(1));
  EXPECT_EQ(violations.listed()[0].field, "directives[0]");
  EXPECT_EQ(violations.listed()[0].description,
            "contradicts another ruling on object a: got directives[0] (object a at least FULL_RIG) and directives[1] "
            "(class figure at most PROXY), want rulings that leave at least one tier");
}

TEST(BoundTiers, RulingOnAContainerCanContradictOneOnItsContents) {
  SmallShot shot = MakeSmallShot({{.id = "ferry"}, {.id = "mate", .container = "ferry"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "ferry", DirectiveBound::kAtMost, Tier::kColourPatch),
                           Rule(DirectiveScope::kObject, "mate", DirectiveBound::kAtLeast, Tier::kProxy)};
  Violations violations;
  Build(shot, violations);
  ASSERT_THAT(violations.listed(), SizeIs(1));
  EXPECT_THAT(violations.listed()[0].description, HasSubstr("directives[0] (object ferry at most COLOUR_PATCH) on what "
                                                            "holds it"));
}

TEST(BoundTiers, FloorAboveColourPatchForbidsPaintingAncestorsIn) {
  SmallShot shot =
      MakeSmallShot({{.id = "quay"}, {.id = "ferry", .container = "quay"}, {.id = "mate", .container = "ferry"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "mate", DirectiveBound::kAtLeast, Tier::kFullRig)};
  EXPECT_EQ(Interval(shot, "ferry"), Pair(Tier::kProxy, Tier::kFullRig));
  EXPECT_EQ(Interval(shot, "quay"), Pair(Tier::kProxy, Tier::kFullRig));
}

TEST(BoundTiers, FloorAtColourPatchForbidsOnlyOmittingAncestors) {
  SmallShot shot = MakeSmallShot({{.id = "ferry"}, {.id = "mate", .container = "ferry"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "mate", DirectiveBound::kAtLeast, Tier::kColourPatch)};
  EXPECT_EQ(Interval(shot, "ferry"), Pair(Tier::kColourPatch, Tier::kFullRig));
}

TEST(BoundTiers, PaintedContainerCapsItsContents) {
  SmallShot shot = MakeSmallShot({{.id = "ferry"}, {.id = "mate", .container = "ferry"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "ferry", DirectiveBound::kAtMost, Tier::kColourPatch)};
  EXPECT_EQ(Interval(shot, "mate"), Pair(Tier::kOmitted, Tier::kColourPatch));
  shot.scene.directives[0].tier = Tier::kOmitted;
  EXPECT_EQ(Interval(shot, "mate"), Pair(Tier::kOmitted, Tier::kOmitted));
}

TEST(BoundTiers, WorstOctavesBarsCoarseTiersOfFigures) {
  const SmallObject close = {.id = "a", .worst_octaves = {9, 5, 4, 0}};  // style's limit: 4; a tier *at* it is for sale
  EXPECT_EQ(Interval(MakeSmallShot({close}), "a"), Pair(Tier::kProxy, Tier::kFullRig));
}

TEST(BoundTiers, WorstOctavesLeavesFullRigAlways) {
  EXPECT_EQ(Interval(MakeSmallShot({{.id = "a", .worst_octaves = {9, 9, 9, 9}}}), "a"),
            Pair(Tier::kFullRig, Tier::kFullRig));
}

TEST(BoundTiers, WorstOctavesDoesNotTouchSetElements) {
  EXPECT_EQ(Interval(MakeSmallShot({{.id = "a", .worst_octaves = {9, 9, 9, 0}, .class_index = 1}}), "a"),
            Pair(Tier::kOmitted, Tier::kFullRig));
}

TEST(BoundTiers, DirectiveSellsWhatWorstOctavesBars) {
  SmallShot shot = MakeSmallShot({{.id = "a", .worst_octaves = {9, 5, 5, 0}}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kColourPatch)};
  EXPECT_EQ(Interval(shot, "a"), Pair(Tier::kColourPatch, Tier::kColourPatch));
}

TEST(BoundTiers, RulingOnAContainerSellsWhatWorstOctavesBarsInIt) {
  SmallShot shot =
      MakeSmallShot({{.id = "ferry"}, {.id = "mate", .container = "ferry", .worst_octaves = {9, 5, 5, 0}}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "ferry", DirectiveBound::kExactly, Tier::kColourPatch)};
  EXPECT_EQ(Interval(shot, "mate"), Pair(Tier::kColourPatch, Tier::kColourPatch));
}

TEST(BoundTiers, ShadowWhereItIsNotSeenItselfKeepsTheTierOfItsClass) {
  SmallShot shot = MakeSmallShot({{.id = "a", .sight = Sight::kOffScreen, .shadow = {{5, 9}}}});
  EXPECT_EQ(Interval(shot, "a"), Pair(Tier::kProxy, Tier::kFullRig));
  shot.policy.catalogue.classes[0].least_tier_when_indirect = Tier::kColourPatch;
  EXPECT_EQ(Interval(shot, "a"), Pair(Tier::kColourPatch, Tier::kFullRig));
}

TEST(BoundTiers, ShadowWhereItIsSeenItselfBarsNothing) {
  EXPECT_EQ(Interval(MakeSmallShot({{.id = "a", .shadow = {{5, 9}}}}), "a"), Pair(Tier::kOmitted, Tier::kFullRig));
}

TEST(BoundTiers, DirectiveSellsWhatAShadowBars) {
  SmallShot shot = MakeSmallShot({{.id = "a", .sight = Sight::kOffScreen, .shadow = {{5, 9}}}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kOmitted)};
  EXPECT_EQ(Interval(shot, "a"), Pair(Tier::kOmitted, Tier::kOmitted));
}

TEST(BoundTiers, ShadowOfContentsForbidsPaintingTheContainerIn) {
  const SmallShot shot = MakeSmallShot(
      {{.id = "ferry"}, {.id = "mate", .container = "ferry", .sight = Sight::kHidden, .shadow = {{5, 9}}}});
  EXPECT_EQ(Interval(shot, "ferry"), Pair(Tier::kProxy, Tier::kFullRig));
}

}  // namespace
}  // namespace scantling
