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

}  // namespace
}  // namespace scantling
