// How long a pose may stay. The bound by hand: n <= fps / (nu m), m = clamp(2 + log2(psi h / floor), 2, 6).

#include <gtest/gtest.h>

#include <limits>

#include "server/legibility/holds.h"

namespace scantling {
namespace {

ObjectClass Walker() {
  ObjectClass walker;
  walker.name = "walker";
  walker.articulation = 0.125;
  walker.cycles_per_second = 2;  // two steps a second (common practice, no source)
  walker.hold = {1, 4};
  return walker;
}

int32_t Hold(const ObjectClass& c, double height_over_floor, double fps = 24) {
  Style style;
  style.holds = {1, 2, 3, 4};
  return PoseHold(c, style, height_over_floor, fps);
}

TEST(PoseHold, WalkIsOnTwosNearAndOnThreesAndFoursFarAway) {
  // psi h / floor = 16: m = 6, n <= 24 / 12 = 2. At 4: m = 4, n <= 3. At 2: m = 3, n <= 4. (Common practice, no
  // source.)
  EXPECT_EQ(Hold(Walker(), 128), 2);
  EXPECT_EQ(Hold(Walker(), 32), 3);
  EXPECT_EQ(Hold(Walker(), 16), 4);
}

TEST(PosesPerCycle, FiveSizesByHand) {
  const ObjectClass walker = Walker();
  EXPECT_EQ(PosesPerCycle(walker, 7), 0);     // 0.125 * 7 = 0.875, under the floor
  EXPECT_EQ(PosesPerCycle(walker, 8), 2);     // 1: 2 + 0
  EXPECT_EQ(PosesPerCycle(walker, 16), 3);    // 2: 2 + 1
  EXPECT_EQ(PosesPerCycle(walker, 64), 5);    // 8: 2 + 3
  EXPECT_EQ(PosesPerCycle(walker, 1024), 6);  // 128: 2 + 7, at most 6
  EXPECT_EQ(PosesPerCycle(walker, std::numeric_limits<double>::infinity()), 6);
}

TEST(PoseHold, PosesACycleAreCappedAtSix) { EXPECT_EQ(Hold(Walker(), 128), Hold(Walker(), 1e9)); }

TEST(PoseHold, MovementUnderTheFloorSetsNoBound) {
  ObjectClass wing = Walker();
  wing.cycles_per_second = 6;  // at the floor m = 2, n <= 24 / 12 = 2; under it no bound
  EXPECT_EQ(Hold(wing, 8), 2);
  EXPECT_EQ(Hold(wing, 7.99), 4);
  EXPECT_EQ(Hold(wing, 0), 4);
}

TEST(PoseHold, WhatDoesNotMoveOfItselfSetsNoBound) {
  ObjectClass still = Walker();
  still.articulation = 0;
  EXPECT_EQ(Hold(still, 1e6), 4);
  EXPECT_EQ(Hold(still, std::numeric_limits<double>::infinity()), 4);
  still = Walker();
  still.cycles_per_second = 0;
  EXPECT_EQ(Hold(still, 1e6), 4);
}

TEST(PoseHold, NoHoldShortEnoughGivesTheShortestAllowed) {
  ObjectClass wing = Walker();
  wing.cycles_per_second = 100;
  EXPECT_EQ(Hold(wing, 128), 1);
  wing.hold.least = 3;
  EXPECT_EQ(Hold(wing, 128), 3);
}

TEST(PoseHold, StaysBetweenLeastAndGreatestOfTheClass) {
  ObjectClass lead = Walker();
  lead.hold.greatest = 2;
  EXPECT_EQ(Hold(lead, 0), 2);
  lead.hold.greatest = 1;
  EXPECT_EQ(Hold(lead, 0), 1);
}

TEST(PoseHold, BoundsOfTheStyleGoBeforeThoseOfTheClass) {
  Style style;
  style.class_holds = {{"walker", {2, 2}}};
  EXPECT_EQ(PoseHold(Walker(), style, 0, 24), 2);
  EXPECT_EQ(PoseHold(Walker(), style, 1e9, 12), 2);  // 12 / 12 = 1, but twos at least
}

TEST(PoseHold, FollowsTheFrameRate) {
  // At 48 frames a second the same walk allows 48 / 12 = 4, at 23 it allows 1.9.
  EXPECT_EQ(Hold(Walker(), 128, 48), 4);
  EXPECT_EQ(Hold(Walker(), 128, 23), 1);
}

TEST(PoseHold, RateOfBroadcastIsAsGoodAsTwentyFour) {
  EXPECT_EQ(Hold(Walker(), 128, 24000.0 / 1001), 2);  // 1.998
}

TEST(PoseHold, NeverGrowsShorterFartherAway) {
  int32_t last = 1;
  for (double ratio = 1000; ratio > 0.1; ratio /= 1.07) {
    const int32_t hold = Hold(Walker(), ratio);
    EXPECT_GE(hold, last) << ratio;
    last = hold;
  }
}

}  // namespace
}  // namespace scantling
