// Reasons: each test builds the one situation in which its reason is the answer to "why".

#include "server/answer/reason.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/answer/answered.h"

namespace scantling {
namespace {

using testing::Answered;
using ::testing::HasSubstr;
using testing::MakeSmallShot;
using testing::Rule;
using testing::SmallObject;
using testing::SmallShot;

constexpr PerTier<double> kNothingVisible = {0, 0, 0, 0};

TEST(Reason, ReadInFullWhereEveryLowerTierShows) {
  const Answered answered(MakeSmallShot({{.id = "a"}}));
  EXPECT_EQ(answered.of("a").tier, Tier::kFullRig);
  EXPECT_EQ(answered.of("a").reason, Reason::kReadInFull);
}

TEST(Reason, OffScreenWhereNoCameraSeesIt) {
  const Answered answered(MakeSmallShot({{.id = "a", .loss = kNothingVisible, .sight = Sight::kOffScreen}}));
  EXPECT_EQ(answered.of("a").tier, Tier::kOmitted);
  EXPECT_EQ(answered.of("a").reason, Reason::kOffScreen);
  EXPECT_EQ(ReasonText(answered.input(), answered.of("a")), "no shot camera ever sees it");
}

TEST(Reason, TooSmallWhereItNeverCoversEnough) {
  const Answered answered(MakeSmallShot({{.id = "a", .loss = kNothingVisible, .sight = Sight::kTooSmall}}));
  EXPECT_EQ(answered.of("a").reason, Reason::kTooSmall);
}

TEST(Reason, HiddenWhereNothingOfItIsEverSeen) {
  SmallShot shot = MakeSmallShot({{.id = "a", .loss = kNothingVisible, .sight = Sight::kHidden}});
  shot.legibility.hidden_frames[0] = 24;
  const Answered answered(std::move(shot));
  EXPECT_EQ(answered.of("a").tier, Tier::kOmitted);
  EXPECT_EQ(answered.of("a").reason, Reason::kHidden);
  EXPECT_THAT(ReasonText(answered.input(), answered.of("a")), HasSubstr("in 24 frames"));
  EXPECT_EQ(answered.plan().totals.hidden, 1);
  EXPECT_EQ(answered.plan().totals.off_screen, 0);
}

TEST(Reason, ReplacedWhereADrawingStandsForIt) {
  SmallShot shot = MakeSmallShot({{.id = "a", .loss = kNothingVisible, .sight = Sight::kReplaced}});
  shot.scene.replaced = {{3, 9}};
  const Answered answered(std::move(shot));
  EXPECT_EQ(answered.of("a").reason, Reason::kReplaced);
  EXPECT_EQ(ReasonText(answered.input(), answered.of("a")),
            "a drawing stands for it wherever it would be seen, in frames 3-9");
}

TEST(Reason, IndirectlySeenWhereItsShadowFallsIntoFrame) {
  const Answered answered(
      MakeSmallShot({{.id = "a", .loss = kNothingVisible, .sight = Sight::kOffScreen, .shadow = {{5, 9}, {20, 20}}}}));
  EXPECT_EQ(answered.of("a").tier, Tier::kProxy);  // its class keeps PROXY at least
  EXPECT_EQ(answered.of("a").reason, Reason::kIndirectlySeen);
  EXPECT_TRUE(answered.of("a").needs_animation);
  EXPECT_EQ(ReasonText(answered.input(), answered.of("a")),
            "its shadow is seen in frames 5-9 and 1 more span, where it is not itself");
}

TEST(Reason, ObjectSeenWhereverItsShadowIsHasNoOtherFloor) {
  const Answered answered(MakeSmallShot({{.id = "a", .loss = {1, 0, 0, 0}, .shadow = {{5, 9}}}}));
  EXPECT_EQ(answered.of("a").tier, Tier::kColourPatch);
  EXPECT_EQ(answered.of("a").reason, Reason::kUnreadable);
}

TEST(Reason, UnreadableWhereWhatTheTierDropsIsUnderTheFloor) {
  const Answered answered(MakeSmallShot({{.id = "a", .loss = {1, 0, 0, 0}}}));
  EXPECT_EQ(answered.of("a").tier, Tier::kColourPatch);
  EXPECT_EQ(answered.of("a").reason, Reason::kUnreadable);
  EXPECT_THAT(ReasonText(answered.input(), answered.of("a")), HasSubstr("cannot be read"));
}

TEST(Reason, TradedWhereABudgetForcesAVisibleLoss) {
  const Answered answered(MakeSmallShot({{.id = "a"}}), {.anim_hours = 2, .core_hours = std::nullopt});
  EXPECT_EQ(answered.of("a").tier, Tier::kProxy);  // 2 of its 4 hours: loss 1
  EXPECT_EQ(answered.of("a").reason, Reason::kTraded);
}

TEST(Reason, PaintedInWhereItsContainerIsAPatch) {
  const Answered answered(MakeSmallShot(
      {{.id = "ferry", .loss = {1, 0, 0, 0}}, {.id = "mate", .container = "ferry", .loss = {1, 0, 0, 0}}}));
  EXPECT_EQ(answered.of("ferry").tier, Tier::kColourPatch);
  EXPECT_EQ(answered.of("mate").reason, Reason::kPaintedIn);
  EXPECT_EQ(answered.plan().totals.painted_in, 1);
  EXPECT_EQ(ReasonText(answered.input(), answered.of("mate")), "drawn into ferry, which is a colour patch");
}

TEST(Reason, ContainerOmittedWhereWhatHeldItIs) {
  SmallShot shot = MakeSmallShot({{.id = "ferry"}, {.id = "mate", .container = "ferry"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "ferry", DirectiveBound::kExactly, Tier::kOmitted)};
  const Answered answered(std::move(shot));
  EXPECT_EQ(answered.of("ferry").reason, Reason::kDirective);
  EXPECT_EQ(answered.of("mate").reason, Reason::kContainerOmitted);
}

TEST(Reason, DirectiveWhereItHoldsAnObjectUp) {
  SmallShot shot = MakeSmallShot({{.id = "a", .loss = kNothingVisible}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtLeast, Tier::kProxy)};
  const Answered answered(std::move(shot));
  EXPECT_EQ(answered.of("a").tier, Tier::kProxy);
  EXPECT_EQ(answered.of("a").reason, Reason::kDirective);
  EXPECT_EQ(ReasonText(answered.input(), answered.of("a")), "at least PROXY for a, ruled by the supervisor: a test");
}

TEST(Reason, DirectiveWhereItHoldsAnObjectDown) {
  SmallShot shot = MakeSmallShot({{.id = "a"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kProxy)};
  EXPECT_EQ(Answered(std::move(shot)).of("a").reason, Reason::kDirective);
}

TEST(Reason, DirectiveThatChangesNothingIsNotTheReason) {
  SmallShot shot = MakeSmallShot({{.id = "a", .loss = {1, 0, 0, 0}}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kColourPatch)};
  EXPECT_EQ(Answered(std::move(shot)).of("a").reason, Reason::kUnreadable);
}

TEST(Reason, HoldsContentsWhereWhatItHoldsNeedsIt) {
  const Answered answered(MakeSmallShot(
      {{.id = "ferry", .loss = kNothingVisible}, {.id = "mate", .container = "ferry", .loss = {3, 2, 1, 0}}}));
  EXPECT_EQ(answered.of("mate").tier, Tier::kFullRig);
  EXPECT_EQ(answered.of("ferry").tier, Tier::kProxy);  // the lowest that leaves its contents free
  EXPECT_EQ(answered.of("ferry").reason, Reason::kHoldsContents);
}

TEST(Reason, WorkDoneWhereTheHoursAreSpent) {
  // Four hours at FULL_RIG are spent, so it costs nothing more than PROXY's two would.
  const Answered answered(
      MakeSmallShot({{.id = "a", .loss = {3, 1, 0, 0}, .hours = {0, 1, 2, 0}, .core_hours = {0, 0, 0, 0}}}));
  EXPECT_EQ(answered.of("a").tier, Tier::kFullRig);
  EXPECT_EQ(answered.of("a").reason, Reason::kWorkDone);
}

TEST(NeedsAnimation, OnlyWhatIsAnimatedByTheSecond) {
  const Answered answered(MakeSmallShot({{.id = "figure"}, {.id = "house", .class_index = 1}}));
  EXPECT_TRUE(answered.of("figure").needs_animation);
  EXPECT_FALSE(answered.of("house").needs_animation);  // its class has no hours per second
  EXPECT_EQ(answered.of("figure").hold, 2);
  EXPECT_EQ(answered.of("house").hold, 0);
}

TEST(NeedsAnimation, NotWhatStandsStill) {
  const Answered answered(MakeSmallShot({{.id = "still", .still = true}, {.id = "walks"}}));
  EXPECT_FALSE(answered.of("still").needs_animation);
  EXPECT_EQ(answered.of("still").hold, 0);
  EXPECT_TRUE(answered.of("walks").needs_animation);
  EXPECT_EQ(answered.plan().totals.still, 1);
}

TEST(NeedsAnimation, LargeFigureThatStandsStillIsKeptAlive) {
  SmallShot shot = MakeSmallShot({{.id = "guard", .still = true}});
  shot.costs.kept_alive[0] = 1;
  const Answered answered(std::move(shot));
  EXPECT_TRUE(answered.of("guard").needs_animation);
  EXPECT_EQ(answered.plan().totals.still, 0);
}

TEST(Decision, PathGoesWithThePosesUnlessTheyAreSplit) {
  SmallShot shot = MakeSmallShot({{.id = "cart"}, {.id = "walker"}});
  shot.holds.pose = {3, 3};
  shot.holds.path = {1, 4};
  shot.holds.split = {PathSplit::kSplit, PathSplit::kWithPoses};
  const Answered answered(std::move(shot));
  EXPECT_EQ(answered.of("cart").hold, 3);
  EXPECT_EQ(answered.of("cart").path_hold, 1);
  EXPECT_EQ(answered.of("walker").path_hold, 3);
  EXPECT_EQ(answered.plan().totals.held_longer, 2);  // the hours are quoted on twos
}

}  // namespace
}  // namespace scantling
