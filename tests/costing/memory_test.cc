// Memory of frames: cases by hand, and against a set of what is held, frame by frame.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <random>
#include <tuple>
#include <utility>

#include "server/costing/costing.h"
#include "tests/costing/mixed_shot.h"
#include "tests/costing/world.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

constexpr Tier kFull = Tier::kFullRig, kProxy = Tier::kProxy, kPatch = Tier::kColourPatch, kOut = Tier::kOmitted;

// MB at FULL_RIG, PROXY and COLOUR_PATCH.
void SetMemory(World& world, double full, double proxy, double patch, size_t class_index = 0) {
  PerTier<Rate>& tier = world.policy.rates.classes[class_index].tier;
  tier[3].memory_mb = full;
  tier[2].memory_mb = proxy;
  tier[1].memory_mb = patch;
}

// Frames 1001 to 1006, objects seen in `seen`; 900, 100 and 4 MB.
World SixFrames(const std::vector<FrameSpans>& seen) {
  World world(seen);
  world.scene.frames = {1001, 1006};
  SetMemory(world, 900, 100, 4);
  return world;
}

TEST(MemoryByFrame, AddsObjectsWithoutAnAssetWhereTheyAreSeen) {
  const World world = SixFrames({{{1001, 1003}}, {{1003, 1006}}, {{1002, 1002}, {1006, 1006}}});
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kFull, kProxy, kPatch}),
              ElementsAre(900, 904, 1000, 100, 100, 104));
}

TEST(MemoryByFrame, OmittedAndPaintedInNeedNone) {
  World world = SixFrames({{{1001, 1006}}, {{1001, 1006}}});
  world.scene.objects.container[1] = 0;
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kPatch, kPatch}), ElementsAre(4, 4, 4, 4, 4, 4));
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kOut, kOut}), ElementsAre(0, 0, 0, 0, 0, 0));
  // Above COLOUR_PATCH what is contained is a thing of its own.
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kFull, kProxy})[0], 1000);
}

TEST(MemoryByFrame, OneAssetAtOneTierIsHeldOnce) {
  World world = SixFrames({{{1001, 1003}}, {{1003, 1004}}, {{1004, 1005}}});
  world.scene.objects.asset = {7, 7, 7};
  // The first two share the full rig; the third is a stand-in of the same asset, and held beside it.
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kFull, kFull, kProxy}),
              ElementsAre(900, 900, 900, 1000, 100, 0));
}

TEST(MemoryByFrame, TheClassThatNeedsMostCounts) {
  World world = SixFrames({{{1001, 1002}}, {{1002, 1004}}});
  world.policy.catalogue.classes.resize(2);
  world.policy.rates.classes.resize(2);
  SetMemory(world, 300, 30, 3, 1);
  world.scene.objects.class_index[1] = 1;
  world.scene.objects.asset = {7, 7};
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kFull, kFull}), ElementsAre(900, 900, 300, 300, 0, 0));
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kFull, kProxy}), ElementsAre(900, 930, 30, 30, 0, 0));
}

TEST(MemoryByFrame, WhatIsCastIsInTheFrameAndWhatIsReplacedIsNot) {
  World world = SixFrames({{{1001, 1002}}});
  world.Cast(0, {{1002, 1006}});
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kProxy}), ElementsAre(100, 100, 100, 100, 100, 100));
  world.Replace(0, {{1004, 1005}});
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kProxy}), ElementsAre(100, 100, 100, 0, 0, 100));
}

TEST(MemoryByFrame, HoldsNothingOfWhatIsNeverThereAndOfNothing) {
  EXPECT_THAT(MemoryByFrame(SixFrames({{}}).Input(), std::vector{kFull}), ElementsAre(0, 0, 0, 0, 0, 0));
  EXPECT_THAT(MemoryByFrame(SixFrames({}).Input(), {}), ElementsAre(0, 0, 0, 0, 0, 0));
}

TEST(MemoryByFrame, CountsInThousandthsAndLeavesNothingBehind) {
  // In doubles 0.1 + 0.2 - 0.1 - 0.2 leaves 2.8e-17; a frame without anything needs 0. 0.1234 MB count as 0.123.
  World world = SixFrames({{{1001, 1003}}, {{1002, 1003}}, {{1005, 1005}}});
  SetMemory(world, 0.1, 0.2, 0.1234);
  EXPECT_THAT(MemoryByFrame(world.Input(), std::vector{kProxy, kFull, kPatch}),
              ElementsAre(0.2, 0.3, 0.3, 0, 0.123, 0));
}

// ---- One frame as a limit.

std::vector<std::tuple<Tier, double, std::vector<uint32_t>>> HoldingsOf(const World& world, int32_t frame) {
  std::vector<std::tuple<Tier, double, std::vector<uint32_t>>> holdings;
  for (const FrameMemory::Holding& holding : MemoryOfFrame(world.Input(), frame).holdings) {
    holdings.emplace_back(holding.tier, holding.memory_mb, holding.users);
  }
  return holdings;
}
using Users = std::vector<uint32_t>;

TEST(MemoryOfFrame, ListsWhatMayBeHeldOnceForEveryAssetAndTier) {
  World world = SixFrames({{{1001, 1003}}, {{1003, 1004}}, {{1003, 1003}}});
  world.scene.objects.asset = {7, kNone, 7};
  world.scene.objects.container[2] = 0;
  EXPECT_THAT(HoldingsOf(world, 1003),
              ElementsAre(std::tuple(kPatch, 4, Users{0}),  // row 2 would be painted in
                          std::tuple(kProxy, 100, Users{0, 2}), std::tuple(kFull, 900, Users{0, 2}),
                          std::tuple(kPatch, 4, Users{1}), std::tuple(kProxy, 100, Users{1}),
                          std::tuple(kFull, 900, Users{1})));
  EXPECT_THAT(HoldingsOf(world, 1006), IsEmpty());
}

TEST(MemoryOfFrame, WhatAClassNeedsOnTopIsAHoldingOfItsOwn) {
  World world = SixFrames({{{1001, 1006}}, {{1001, 1006}}, {{1001, 1006}}});
  world.policy.catalogue.classes.resize(2);
  world.policy.rates.classes.resize(2);
  SetMemory(world, 300, 100, 0, 1);
  world.scene.objects.class_index[1] = 1;
  world.scene.objects.asset = {7, 7, 7};
  // Full rigs: 300 for any of the three, 600 more for rows 0 and 2. Stand-ins are alike; a patch of row 1 needs none.
  EXPECT_THAT(HoldingsOf(world, 1001),
              ElementsAre(std::tuple(kPatch, 4, Users{0, 2}), std::tuple(kProxy, 100, Users{0, 1, 2}),
                          std::tuple(kFull, 300, Users{0, 1, 2}), std::tuple(kFull, 600, Users{0, 2})));
}

// ---- Random shots.

// Three classes whose figures differ, are equal at PROXY for two, and are nothing at COLOUR_PATCH for one.
void SetMixedMemory(World& world) {
  SetMemory(world, 900.5, 100, 4, 0);
  SetMemory(world, 300.25, 100, 0, 1);
  SetMemory(world, 1234.567, 90.1, 3.3, 2);
}

bool IsThere(const MixedObject& object, int32_t frame) {
  return Contains(object.seen, frame) || (Contains(object.cast, frame) && !Contains(object.replaced, frame));
}

// Looks at every object in every frame and keeps a set of what is held.
std::vector<double> HeldFrameByFrame(const MixedShot& shot, const World& world) {
  std::vector<double> memory_mb;
  for (int32_t frame = 1001; frame <= 1100; ++frame) {
    std::map<std::pair<uint32_t, Tier>, double> held;
    double sum = 0;
    for (const MixedObject& object : shot) {
      const bool painted_in = object.contained && object.tier == kPatch;
      if (!IsThere(object, frame) || painted_in || object.tier == kOut) continue;
      const double mb =
          world.policy.rates.classes[object.class_index].tier[static_cast<size_t>(Index(object.tier))].memory_mb;
      if (object.asset == kNone) sum += mb;
      if (object.asset == kNone) continue;
      double& once = held[{object.asset, object.tier}];
      once = std::max(once, mb);
    }
    for (const auto& [what, mb] : held) sum += mb;
    memory_mb.push_back(sum);
  }
  return memory_mb;
}

TEST(MemoryByFrame, AgreesWithASetOfWhatIsHeldInEveryFrame) {
  std::mt19937 random(3);
  for (int trial = 0; trial < 300; ++trial) {
    const MixedShot shot = DrawShot(random, 1 + random() % 40);
    MixedWorld mixed(shot, FromZero(shot.size()), FromZero(kMixedAssets));
    SetMixedMemory(mixed.world);
    const std::vector<double> got = MemoryByFrame(mixed.world.Input(), mixed.tier);
    const std::vector<double> want = HeldFrameByFrame(shot, mixed.world);
    ASSERT_EQ(got.size(), want.size());
    // The oracle adds at most 45 doubles under 1e5: 1e-9 is a hundred times their rounding.
    for (size_t i = 0; i < got.size(); ++i) ASSERT_NEAR(got[i], want[i], 1e-9) << "frame " << 1001 + i;
  }
}

// What the plan pays of the holdings is what the plan needs, in every frame.
TEST(MemoryOfFrame, PaidHoldingsAddUpToThePlan) {
  std::mt19937 random(4);
  for (int trial = 0; trial < 100; ++trial) {
    const MixedShot shot = DrawShot(random, 1 + random() % 40);
    MixedWorld mixed(shot, Shuffled(shot.size(), random), Shuffled(kMixedAssets, random));
    SetMixedMemory(mixed.world);
    const std::vector<double> by_frame = MemoryByFrame(mixed.world.Input(), mixed.tier);
    for (const int32_t frame : {1001, 1030, 1050, 1051, 1100}) {
      double paid = 0;
      for (const FrameMemory::Holding& holding : MemoryOfFrame(mixed.world.Input(), frame).holdings) {
        EXPECT_GT(holding.memory_mb, 0);
        const bool is_paid = std::any_of(holding.users.begin(), holding.users.end(),
                                         [&](uint32_t row) { return mixed.tier[row] == holding.tier; });
        if (is_paid) paid += holding.memory_mb;
      }
      EXPECT_NEAR(paid, by_frame[static_cast<size_t>(frame - 1001)], 1e-9);  // as above
    }
  }
}

// By object instead of row, and by the asset's own number.
using Named = std::tuple<uint32_t, Tier, double, std::vector<uint32_t>>;
std::vector<Named> NamedHoldings(const MixedWorld& mixed, const std::vector<uint32_t>& order,
                                 const std::vector<uint32_t>& asset_number, int32_t frame) {
  std::vector<Named> named;
  for (const FrameMemory::Holding& holding : MemoryOfFrame(mixed.world.Input(), frame).holdings) {
    uint32_t asset = kNone;
    for (uint32_t a = 0; a < kMixedAssets; ++a) {
      if (asset_number[a] == holding.asset) asset = a;
    }
    std::vector<uint32_t> users;
    for (const uint32_t row : holding.users) users.push_back(order[row]);
    named.emplace_back(asset, holding.tier, holding.memory_mb, users);
  }
  return named;
}

TEST(Memory, OrderOfSendingChangesNoBit) {
  std::mt19937 random(5);
  for (int trial = 0; trial < 100; ++trial) {
    const MixedShot shot = DrawShot(random, 1 + random() % 40);
    const auto order = Shuffled(shot.size(), random), numbers = Shuffled(kMixedAssets, random);
    MixedWorld first(shot, FromZero(shot.size()), FromZero(kMixedAssets)), second(shot, order, numbers);
    SetMixedMemory(first.world);
    SetMixedMemory(second.world);
    EXPECT_EQ(MemoryByFrame(first.world.Input(), first.tier), MemoryByFrame(second.world.Input(), second.tier));
    EXPECT_EQ(NamedHoldings(first, FromZero(shot.size()), FromZero(kMixedAssets), 1050),
              NamedHoldings(second, order, numbers, 1050));
  }
}

}  // namespace
}  // namespace scantling
