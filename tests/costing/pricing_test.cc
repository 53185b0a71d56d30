// Prices by hand arithmetic, shown beside each.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "server/costing/costing.h"
#include "tests/costing/world.h"

namespace scantling {
namespace {

using testing::ElementsAre;

FrameSpans Animated(const World& world) { return AnimatedSpans(world.scene, world.legibility, world.style, 0); }

TEST(AnimatedSpans, WidensByTheStylesHandlesAndClosesItsGaps) {
  World world({{{1020, 1030}, {1055, 1060}, {1095, 1098}}});
  world.style.handle_frames = 8;
  world.style.settle_frames = 12;
  // 1012..1038, 1047..1068 (gap of 8: closed), 1087..1106 cut to 1100 (gap of 18: open).
  EXPECT_THAT(Animated(world), ElementsAre(FrameRange{1012, 1068}, FrameRange{1087, 1100}));
}

TEST(AnimatedSpans, FramesInWhichItIsCastAreAnimatedToo) {
  World world({{{1020, 1030}}});
  world.Cast(0, {{1025, 1035}, {1080, 1082}});
  world.style.handle_frames = 2;
  // Seen or cast: 1020..1035 and 1080..1082; two frames more on either side.
  EXPECT_THAT(Animated(world), ElementsAre(FrameRange{1018, 1037}, FrameRange{1078, 1084}));
}

TEST(AnimatedSpans, ReplacedFramesAreCutOutOfHandlesAndClosedGaps) {
  World world({{{1020, 1030}, {1040, 1050}}});
  world.Replace(0, {{1033, 1036}, {1052, 1052}});
  world.style.handle_frames = 4;
  world.style.settle_frames = 4;
  // 1016..1034 and 1036..1054 with the gap of 1 closed: 1016..1054, less 1033..1036 and 1052.
  EXPECT_THAT(Animated(world), ElementsAre(FrameRange{1016, 1032}, FrameRange{1037, 1051}, FrameRange{1053, 1054}));
}

TEST(AnimatedSpans, DrawingForTheWholePictureCountsForEveryObject) {
  World world({{{1020, 1030}}});
  world.scene.replaced = {{1031, 1100}};
  world.style.handle_frames = 8;
  EXPECT_THAT(Animated(world), ElementsAre(FrameRange{1012, 1030}));
}

TEST(PriceTiers, AddsSetUpAndAnimatedSeconds) {
  // 48 frames are 2 s on twos, the reference: 4 + 12 * 2, 2 + 6 * 2, 1 + 0.
  const TierCosts costs = World({{{1001, 1048}}}).Price();
  EXPECT_THAT(costs.anim_hours, ElementsAre(ElementsAre(0, 1, 14, 28)));
  EXPECT_THAT(costs.animated_frames, ElementsAre(48));
}

TEST(PriceTiers, HandlesAreAnimatedButNotRendered) {
  World world({{{1011, 1034}}});  // 24 frames; with handles 48
  world.style.handle_frames = 12;
  world.scene.frames = {1, 2000};
  const TierCosts costs = world.Price();
  EXPECT_THAT(costs.animated_frames, ElementsAre(48));
  EXPECT_EQ(costs.anim_hours[0][3], 28);
  // 2 renders * 36 core-s * 24 frames / 3600.
  EXPECT_DOUBLE_EQ(costs.core_hours[0][3], 0.48);
}

TEST(PriceTiers, CoreHoursCountFramesMegapixelsAndRenders) {
  World world({{{1001, 1050}}});
  world.legibility.seen_camera_frames[0] = 100;  // two cameras
  world.legibility.rendered_megapixels[0] = 20;
  // 2 * (36 * 100 + 360 * 20) / 3600 = 6; the others a half and a quarter of every rate.
  EXPECT_THAT(world.Price().core_hours, ElementsAre(ElementsAre(0, 1.5, 3, 6)));
}

TEST(PriceTiers, ComplexityScalesAnimationOnly) {
  World world({{{1001, 1048}}});
  world.scene.objects.complexity[0] = 1.5;
  const TierCosts costs = world.Price();
  EXPECT_EQ(costs.anim_hours[0][3], 4 + 12 * 1.5 * 2);
  EXPECT_EQ(costs.core_hours[0][3], World({{{1001, 1048}}}).Price().core_hours[0][3]);
}

TEST(PriceTiers, HoursFollowThePoseHold) {
  World world({{{1001, 1048}}});
  world.policy.rates.hold_exponent = 0.5;
  world.holds.pose[0] = 4;
  // On fours (4/2)^-0.5 = 1/sqrt 2 of the hours; two roundings, 4 ulp.
  EXPECT_DOUBLE_EQ(world.Price().anim_hours[0][3], 4 + 24 / std::sqrt(2.0));
  world.holds.pose[0] = 1;
  EXPECT_DOUBLE_EQ(world.Price().anim_hours[0][3], 4 + 24 * std::sqrt(2.0));
}

TEST(PriceTiers, WhatIsStillCostsItsSetUpAndItsRendering) {
  World world({{{1001, 1048}}});
  const TierCosts moving = world.Price();
  world.holds.still[0] = 1;
  const TierCosts still = world.Price();
  EXPECT_THAT(still.anim_hours, ElementsAre(ElementsAre(0, 1, 2, 4)));
  EXPECT_EQ(still.core_hours, moving.core_hours);
  EXPECT_THAT(still.animated_frames, ElementsAre(48));
  EXPECT_THAT(still.kept_alive, ElementsAre(0));
}

// 2 s, and a figure of 40 floors where 40 are the limit.
World LargeFigure() {
  World world({{{1001, 1048}}});
  world.style.keep_alive_floors = 40;
  world.legibility.height_over_floor[0] = 40;
  world.policy.rates.classes[0].keep_alive_hours_per_second = 1.5;
  return world;
}

TEST(PriceTiers, LargeStillFigureIsKeptAlive) {
  World world = LargeFigure();
  world.holds.still[0] = 1;
  world.scene.objects.complexity[0] = 1.25;
  // 1.5 * 1.25 * 2 s = 3.75 hours at the two upper tiers, whatever the hold: 2 + 3.75, 4 + 3.75; a patch has none.
  world.holds.pose[0] = 8;
  const TierCosts costs = world.Price();
  EXPECT_THAT(costs.anim_hours, ElementsAre(ElementsAre(0, 1, 5.75, 7.75)));
  EXPECT_THAT(costs.kept_alive, ElementsAre(1));
}

TEST(PriceTiers, LargeMovingFigureCostsAtLeastItsKeepingAlive) {
  World world = LargeFigure();
  // Twos: 6 and 12 hours a second are more than 1.5. Eights: 6 / 4 = 1.5 and 12 / 4 = 3. Kept alive at 2 an hour, the
  // stand-in rises to 2 + 2 * 2 s.
  EXPECT_THAT(world.Price().anim_hours[0], ElementsAre(0, 1, 14, 28));
  world.holds.pose[0] = 8;
  EXPECT_THAT(world.Price().anim_hours[0], ElementsAre(0, 1, 5, 10));
  world.policy.rates.classes[0].keep_alive_hours_per_second = 2;
  const TierCosts costs = world.Price();
  EXPECT_THAT(costs.anim_hours[0], ElementsAre(0, 1, 6, 10));
  EXPECT_THAT(costs.kept_alive, ElementsAre(0));  // it moves anyway
}

TEST(PriceTiers, SmallFiguresSetElementsAndClassesWithoutTheRateAreLeftStill) {
  World world = LargeFigure();
  world.holds.still[0] = 1;
  const std::vector<PerTier<double>> set_up_only = {{0, 1, 2, 4}};
  ASSERT_NE(world.Price().anim_hours, set_up_only);
  World small = world;
  small.legibility.height_over_floor[0] = 39.999f;
  EXPECT_EQ(small.Price().anim_hours, set_up_only);
  World house = world;
  house.policy.catalogue.classes[0].kind = ClassKind::kSetElement;
  EXPECT_EQ(house.Price().anim_hours, set_up_only);
  World gull = world;
  gull.policy.rates.classes[0].keep_alive_hours_per_second = 0;
  EXPECT_EQ(gull.Price().anim_hours, set_up_only);
  EXPECT_THAT(gull.Price().kept_alive, ElementsAre(0));
}

TEST(PriceTiers, CastFramesAreRenderedOncePerCameraAndCoverNothing) {
  World world({{{1001, 1010}}});
  world.scene.cameras.resize(2);
  world.legibility.rendered_megapixels[0] = 5;
  world.Cast(0, {{1006, 1020}});
  // Seen camera frames 10; cast and not seen 1011..1020, 10 frames through 2 cameras. 2 * (36 * 30 + 360 * 5) / 3600.
  const TierCosts costs = world.Price();
  EXPECT_DOUBLE_EQ(costs.core_hours[0][3], 1.6);
  EXPECT_THAT(costs.animated_frames, ElementsAre(20));
}

TEST(PriceTiers, WhatIsOnlyCastIsAnimatedAndRendered) {
  World world(std::vector<FrameSpans>(1));
  world.Cast(0, {{1001, 1048}});
  // 2 s on twos; 2 * 36 core-s * 48 frames / 3600.
  const TierCosts costs = world.Price();
  EXPECT_THAT(costs.anim_hours, ElementsAre(ElementsAre(0, 1, 14, 28)));
  EXPECT_DOUBLE_EQ(costs.core_hours[0][3], 0.96);
}

TEST(PriceTiers, WhatIsCastUnderADrawingCostsNothing) {
  World world(std::vector<FrameSpans>(1));
  world.Cast(0, {{1001, 1048}});
  world.Replace(0, {{1001, 1048}});
  const TierCosts costs = world.Price();
  EXPECT_THAT(costs.anim_hours, ElementsAre(ElementsAre(0, 0, 0, 0)));
  EXPECT_THAT(costs.core_hours, ElementsAre(ElementsAre(0, 0, 0, 0)));
}

TEST(PriceTiers, EverythingFullKeepsWhatADrawingReplaces) {
  World world({{{1001, 1048}}});
  const TierCosts before = world.Price();
  world.scene.replaced = {{1060, 1100}};
  world.holds.still[0] = 1;
  EXPECT_EQ(world.Price().full_anim_hours, before.full_anim_hours);
  EXPECT_EQ(world.Price().full_core_hours, before.full_core_hours);
}

TEST(PriceTiers, FilmRateIsAFraction) {
  World world({{{1001, 1048}}});
  world.scene.rate = {24000, 1001};
  EXPECT_DOUBLE_EQ(world.Price().anim_hours[0][3], 4 + 12 * 48 * 1001.0 / 24000);  // 2.002 s
}

TEST(PriceTiers, ObjectNeverSeenCostsNothing) {
  const TierCosts costs = World(std::vector<FrameSpans>(1)).Price();
  EXPECT_THAT(costs.anim_hours, ElementsAre(ElementsAre(0, 0, 0, 0)));
  EXPECT_THAT(costs.core_hours, ElementsAre(ElementsAre(0, 0, 0, 0)));
  EXPECT_THAT(costs.animated_frames, ElementsAre(0));
}

TEST(PriceTiers, EverythingFullCountsEveryFrameSeenOrNot) {
  World world(std::vector<FrameSpans>(1));  // never seen
  world.scene.frames = {1001, 1096};        // 96 frames, 4 s at 24 a second
  const TierCosts costs = world.Price();
  EXPECT_DOUBLE_EQ(costs.full_anim_hours[0], 4 + 12 * 4);
  // 2 renders * 36 core-s * 96 frames * cameras / 3600; no camera sees it, so no area.
  EXPECT_DOUBLE_EQ(costs.full_core_hours[0], 1.92 * static_cast<double>(world.scene.cameras.size()));
}

TEST(PriceTiers, EverythingFullIsNotLessenedBySpentWork) {
  World world({{{1001, 1048}}});
  const double before = world.Price().full_anim_hours[0];
  world.scene.spent = {{0, Tier::kFullRig, 20}};
  EXPECT_EQ(world.Price().full_anim_hours[0], before);
}

TEST(PriceTiers, PatchOfAContainedObjectIsPaintedIn) {
  World world({{{1001, 1048}}, {{1001, 1048}}});
  world.scene.objects.container[1] = 0;
  const TierCosts costs = world.Price();
  EXPECT_THAT(costs.anim_hours[1], ElementsAre(0, 0.25, 14, 28));
  EXPECT_EQ(costs.core_hours[1][1], 0);
  EXPECT_GT(costs.core_hours[0][1], 0);
  EXPECT_EQ(costs.core_hours[1][2], costs.core_hours[0][2]);
}

TEST(PriceTiers, SpentWorkIsTakenOffItsTierNotBelowZero) {
  World world({{{1001, 1048}}, {{1001, 1048}}});
  world.scene.spent = {{0, Tier::kFullRig, 20}, {0, Tier::kFullRig, 5}, {1, Tier::kProxy, 99}};
  const TierCosts costs = world.Price();
  EXPECT_THAT(costs.anim_hours[0], ElementsAre(0, 1, 14, 3));  // 28 - 20 - 5
  EXPECT_THAT(costs.anim_hours[1], ElementsAre(0, 1, 0, 28));
}

TEST(PriceTiers, EmptyShotPricesNothing) { EXPECT_TRUE(World(std::vector<FrameSpans>()).Price().anim_hours.empty()); }

TEST(BaseCoreHours, CountsFramesAndCameras) {
  World world{std::vector<FrameSpans>()};
  world.scene.cameras.resize(2);
  world.policy.rates.base_core_s_per_frame = 90;
  EXPECT_DOUBLE_EQ(BaseCoreHours(world.scene, world.policy.rates), 2 * 90 * 100 * 2 / 3600.0);
}

// Rates that do not rise as the tier falls, at random.
void DrawRates(std::mt19937& random, World& world) {
  std::uniform_real_distribution<double> unit(0, 1);
  Rate rate = {unit(random), unit(random), unit(random), unit(random), 0, 0, 0};
  ClassRates& rates = world.policy.rates.classes[0];
  for (const size_t t : {3, 2, 1}) {
    rates.tier[t] = rate;
    for (double Rate::*figure :
         {&Rate::setup_hours, &Rate::hours_per_second, &Rate::core_s_per_frame, &Rate::core_s_per_megapixel}) {
      rate.*figure *= unit(random);
    }
  }
  rates.paint_in_hours = rates.tier[1].setup_hours * unit(random);
  rates.keep_alive_hours_per_second = rates.tier[2].hours_per_second * unit(random);
}

TEST(PriceTiers, CostsNeverRiseAsTheTierFalls) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> unit(0, 1);
  for (int trial = 0; trial < 500; ++trial) {
    const auto first = static_cast<int32_t>(1001 + random() % 50), last = static_cast<int32_t>(first + random() % 50);
    World world({{{first, last}}, {{first, last}}});
    world.style.handle_frames = static_cast<int32_t>(random() % 9);
    world.scene.objects.container[1] = 0;
    DrawRates(random, world);
    world.legibility.rendered_megapixels = {unit(random), unit(random)};
    for (size_t i = 0; i < 2; ++i) {
      world.holds.pose[i] = static_cast<uint8_t>(1 + random() % 8);
      world.holds.still[i] = random() % 2;
      world.legibility.height_over_floor[i] = random() % 2 == 0 ? 100 : 1;
      world.Cast(static_cast<uint32_t>(i), {{1090, 1095}});
    }
    const TierCosts costs = world.Price();
    for (size_t i = 0; i < 2; ++i) {
      for (size_t t = 1; t < 4; ++t) {
        EXPECT_LE(costs.anim_hours[i][t - 1], costs.anim_hours[i][t]);
        EXPECT_LE(costs.core_hours[i][t - 1], costs.core_hours[i][t]);
      }
    }
  }
}

}  // namespace
}  // namespace scantling
