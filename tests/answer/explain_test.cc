// Tiers, bars and flips, by hand.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/answer/answered.h"

namespace scantling {
namespace {

using testing::Answered;
using ::testing::HasSubstr;
using testing::MakeSmallShot;
using testing::Rule;
using testing::SmallShot;

TEST(TiersOf, ListsFullRigFirstWithFiguresOfEachTier) {
  const Answered answered(MakeSmallShot({{.id = "a"}}));
  const auto tiers = TiersOf(answered.input(), answered.of("a"));
  EXPECT_EQ(tiers[0].anim_hours, 4);
  EXPECT_EQ(tiers[0].loss, 0);
  EXPECT_EQ(tiers[3].anim_hours, 0);
  EXPECT_EQ(tiers[3].loss, 3);
}

TEST(TiersOf, SaysWhatForbidsATier) {
  SmallShot shot = MakeSmallShot({{.id = "a", .worst_octaves = {9, 0, 0, 0}}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kProxy)};
  const Answered answered(std::move(shot));
  const auto tiers = TiersOf(answered.input(), answered.of("a"));
  EXPECT_FALSE(tiers[0].allowed);
  EXPECT_THAT(tiers[0].why_not, HasSubstr("at most PROXY for a"));
  EXPECT_FALSE(tiers[3].allowed);
  EXPECT_THAT(tiers[3].why_not, HasSubstr("limit of 4 octaves"));
  EXPECT_TRUE(tiers[1].allowed);
}

TEST(FlipsOf, UnreadableObjectFlipsWhereItsDroppedDetailReachesTheFloor) {
  SmallShot shot = MakeSmallShot({{.id = "a", .loss = {1, 0, 0, 0}}});
  shot.legibility.height_over_floor[0] = 2;  // phi of COLOUR_PATCH 0.3: dropped 0.6 floors, so 1/0.6 as large
  const Answered answered(std::move(shot));
  const std::vector<FlipAnswer> flips = FlipsOf(answered.input(), answered.of("a"));
  ASSERT_FALSE(flips.empty());
  EXPECT_EQ(flips[0].tier, Tier::kProxy);
  EXPECT_NEAR(*flips[0].size_factor, 1 / 0.6, 1e-12);
  // One tier lower (OMITTED drops its whole height, 2 floors) would be free at half the size.
  EXPECT_EQ(flips[1].tier, Tier::kOmitted);
  EXPECT_NEAR(*flips[1].size_factor, 0.5, 1e-12);
}

TEST(FlipsOf, RuledObjectNamesTheRuling) {
  SmallShot shot = MakeSmallShot({{.id = "a"}});
  shot.scene.directives = {Rule(DirectiveScope::kObject, "a", DirectiveBound::kAtMost, Tier::kProxy)};
  const Answered answered(std::move(shot));
  const std::vector<FlipAnswer> flips = FlipsOf(answered.input(), answered.of("a"));
  ASSERT_FALSE(flips.empty());
  EXPECT_EQ(flips[0].tier, Tier::kFullRig);
  EXPECT_THAT(flips[0].directive, HasSubstr("at most PROXY"));
}

TEST(FlipsOf, TradedObjectFlipsByPrice) {
  const Answered answered(MakeSmallShot({{.id = "a"}, {.id = "b", .loss = {6, 4, 2, 0}}}),
                          {.anim_hours = 6, .core_hours = std::nullopt});
  EXPECT_EQ(answered.of("a").tier, Tier::kProxy);  // b's second step is dearer to the picture
  bool by_price = false;
  for (const FlipAnswer& flip : FlipsOf(answered.input(), answered.of("a"))) by_price |= flip.price_factor.has_value();
  EXPECT_TRUE(by_price);
}

TEST(FlipsOf, ObjectNeverSeenHasNoSizeToFlipAt) {
  const Answered answered(MakeSmallShot({{.id = "a", .loss = {}, .sight = Sight::kOffScreen}}));
  EXPECT_TRUE(FlipsOf(answered.input(), answered.of("a")).empty());
}

}  // namespace
}  // namespace scantling
