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

TEST(AnimatedSpans, WidensByTheStylesHandlesAndClosesItsGaps) {
  Style style;
  style.handle_frames = 8;
  style.settle_frames = 12;
  const FrameSpans seen = {{1020, 1030}, {1055, 1060}, {1095, 1098}};
  // 1012..1038, 1047..1068 (gap of 8: closed), 1087..1106 cut to 1100 (gap of 18: open).
  EXPECT_THAT(AnimatedSpans(seen, style, {1001, 1100}), ElementsAre(FrameRange{1012, 1068}, FrameRange{1087, 1100}));
}

TEST(PriceTiers, AddsSetUpAndAnimatedSeconds) {
  // 48 frames are 2 s on twos, the reference: 4 + 12 * 2, 2 + 6 * 2, 1 + 0.
  const TierCosts costs = World({{{1001, 1048}}}).Price();
  EXPECT_THAT(costs.anim_hours, ElementsAre(ElementsAre(0, 1, 14, 28)));
  EXPECT_THAT(costs.animated_frames, ElementsAre(48));
  EXPECT_THAT(costs.hold, ElementsAre(2));
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

TEST(PriceTiers, HoursFollowTheHold) {
  World world({{{1001, 1048}}});
  world.policy.rates.hold_exponent = 0.5;
  world.style.holds = {1, 2, 3, 4};
  world.policy.catalogue.classes[0].greatest_hold = 4;
  // On fours (4/2)^-0.5 = 1/sqrt 2 of the hours; two roundings, 4 ulp.
  EXPECT_DOUBLE_EQ(world.Price().anim_hours[0][3], 4 + 24 / std::sqrt(2.0));
  world.policy.catalogue.classes[0].greatest_hold = 1;
  EXPECT_DOUBLE_EQ(world.Price().anim_hours[0][3], 4 + 24 * std::sqrt(2.0));
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

TEST(PriceTiers, CostsNeverRiseAsTheTierFalls) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> unit(0, 1);
  for (int trial = 0; trial < 500; ++trial) {
    const auto first = static_cast<int32_t>(1001 + random() % 50), last = static_cast<int32_t>(first + random() % 50);
    World world({{{first, last}}, {{first, last}}});
    world.style.handle_frames = static_cast<int32_t>(random() % 9);
    world.scene.objects.container[1] = 0;
    Rate rate = {unit(random), unit(random), unit(random), unit(random), 0, 0, 0};
    for (const size_t t : {3, 2, 1}) {
      world.policy.rates.classes[0].tier[t] = rate;
      for (double Rate::*figure :
           {&Rate::setup_hours, &Rate::hours_per_second, &Rate::core_s_per_frame, &Rate::core_s_per_megapixel}) {
        rate.*figure *= unit(random);
      }
    }
    world.policy.rates.classes[0].paint_in_hours = world.policy.rates.classes[0].tier[1].setup_hours * unit(random);
    world.legibility.rendered_megapixels = {unit(random), unit(random)};
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
