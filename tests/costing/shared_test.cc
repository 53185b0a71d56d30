// Set-ups an asset shares, and a third department: by hand arithmetic, and against sets in random shots.
//
// world.h at FULL_RIG: 4 hours set-up, 12 a second; PROXY: 2 and 6; COLOUR_PATCH: 1 and none; painted in: 0.25.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <numeric>
#include <random>
#include <tuple>

#include "server/costing/costing.h"
#include "tests/costing/mixed_shot.h"
#include "tests/costing/world.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

constexpr Tier kFull = Tier::kFullRig, kProxy = Tier::kProxy, kPatch = Tier::kColourPatch;

void SetShared(World& world, double full, double proxy, double patch, size_t class_index = 0) {
  PerTier<Rate>& tier = world.policy.rates.classes[class_index].tier;
  tier[3].shared_setup_hours = full;
  tier[2].shared_setup_hours = proxy;
  tier[1].shared_setup_hours = patch;
}

using Users = std::vector<uint32_t>;
using Found = std::tuple<uint32_t, uint16_t, Tier, double, Users>;
std::vector<Found> SharedOf(const World& world) {
  std::vector<Found> found;
  for (const SharedCost& shared : SharedCostsOf(world.Input())) {
    found.emplace_back(shared.asset, shared.class_index, shared.tier, shared.anim_hours, shared.users);
  }
  return found;
}

// ---- Shared set-ups.

TEST(PriceTiers, WhatHasNoAssetPaysSharedSetUpsItself) {
  World world({{{1001, 1048}}, {{1001, 1048}}});  // 2 s
  SetShared(world, 10, 5, 0.5);
  world.scene.objects.asset[1] = 3;
  const TierCosts costs = world.Price();
  // 1 + 0.5, 2 + 5 + 12, 4 + 10 + 24; row 1 shares them.
  EXPECT_THAT(costs.anim_hours, ElementsAre(ElementsAre(0, 1.5, 19, 38), ElementsAre(0, 1, 14, 28)));
}

TEST(PriceTiers, PaintedInPaysNoSharedSetUpAndStillPaysIt) {
  World world({{{1001, 1048}}, {{1001, 1048}}});
  SetShared(world, 10, 5, 0.5);
  world.scene.objects.container[1] = 0;
  world.holds.still[1] = 1;
  EXPECT_THAT(world.Price().anim_hours[1], ElementsAre(0, 0.25, 7, 14));
}

TEST(SharedCostsOf, OneForEveryAssetClassAndTierThatHasAny) {
  World world({{{1001, 1010}}, {{1001, 1010}}, {{1020, 1030}}, {{1001, 1010}}});
  world.policy.catalogue.classes.resize(2);
  world.policy.rates.classes.resize(2, world.policy.rates.classes[0]);
  SetShared(world, 10, 5, 0, 0);
  SetShared(world, 3, 0, 0, 1);
  world.scene.objects.asset = {8, kNone, 8, 8};
  world.scene.objects.class_index[3] = 1;
  EXPECT_THAT(SharedOf(world),
              ElementsAre(Found(8, 0, kProxy, 5, {0, 2}), Found(8, 0, kFull, 10, {0, 2}), Found(8, 1, kFull, 3, {3})));
}

TEST(SharedCostsOf, UsersAreSeenOrCastAndNotPaintedIn) {
  World world({{{1001, 1010}}, {}, {}, {{1001, 1010}}});
  SetShared(world, 10, 5, 0.5);
  world.scene.objects.asset = {8, 8, 8, 8};
  world.Cast(1, {{1040, 1050}});
  world.scene.objects.container[3] = 0;
  EXPECT_THAT(SharedOf(world), ElementsAre(Found(8, 0, kPatch, 0.5, {0, 1}), Found(8, 0, kProxy, 5, {0, 1, 3}),
                                           Found(8, 0, kFull, 10, {0, 1, 3})));
}

TEST(SharedCostsOf, NothingIsSharedWhereNoRateHasAny) {
  World world({{{1001, 1010}}});
  world.scene.objects.asset = {8};
  EXPECT_THAT(SharedOf(world), IsEmpty());
}

TEST(PriceTiers, EverythingFullSetsAnAssetUpOnceWithItsFirstObject) {
  World world({{{1001, 1010}}, {}, {{1001, 1010}}, {{1001, 1010}}});
  world.scene.frames = {1001, 1048};  // 4 + 12 * 2 = 28 hours each
  SetShared(world, 10, 5, 0.5);
  world.scene.objects.asset = {8, 8, 9, kNone};
  world.scene.objects.canonical = {1, 0, 2, 3};  // the never seen one has the first id
  EXPECT_THAT(world.Price().full_anim_hours, ElementsAre(28, 38, 38, 38));
}

TEST(PriceTiers, EverythingFullSetsAnAssetUpOnceForEveryClass) {
  World world({{{1001, 1010}}, {{1001, 1010}}, {{1001, 1010}}});
  world.scene.frames = {1001, 1048};
  world.policy.catalogue.classes.resize(2);
  world.policy.rates.classes.resize(2, world.policy.rates.classes[0]);
  SetShared(world, 10, 0, 0, 0);
  SetShared(world, 20, 0, 0, 1);
  world.scene.objects.class_index = {0, 1, 0};
  world.scene.objects.asset = {8, 8, 8};
  EXPECT_THAT(world.Price().full_anim_hours, ElementsAre(38, 48, 28));
}

// Hours of a plan: what objects cost themselves, and every shared set-up that a user takes.
double PlanHours(const MixedWorld& mixed) {
  const TierCosts costs = mixed.world.Price();
  double hours = 0;
  for (size_t row = 0; row < mixed.tier.size(); ++row) {
    hours += costs.anim_hours[row][static_cast<size_t>(Index(mixed.tier[row]))];
  }
  for (const SharedCost& shared : SharedCostsOf(mixed.world.Input())) {
    const bool is_paid = std::any_of(shared.users.begin(), shared.users.end(),
                                     [&](uint32_t row) { return mixed.tier[row] == shared.tier; });
    if (is_paid) hours += shared.anim_hours;
  }
  return hours;
}

// What set-ups a plan pays, from a set of (asset, class, tier) and one each for those without an asset.
double SetUpsPaid(const MixedShot& shot, const World& world) {
  std::map<std::tuple<uint32_t, uint16_t, Tier>, double> once;
  double hours = 0;
  for (const MixedObject& object : shot) {
    const bool is_there = !object.seen.empty() || !SubtractSpans(object.cast, object.replaced).empty();
    if (!is_there || (object.contained && object.tier == kPatch)) continue;
    const double own =
        world.policy.rates.classes[object.class_index].tier[static_cast<size_t>(Index(object.tier))].shared_setup_hours;
    if (object.asset == kNone) hours += own;
    if (object.asset != kNone) once[{object.asset, object.class_index, object.tier}] = own;
  }
  for (const auto& [what, own] : once) hours += own;
  return hours;
}

TEST(SharedCostsOf, PlansPayEverySetUpOnce) {
  std::mt19937 random(6);
  for (int trial = 0; trial < 200; ++trial) {
    const MixedShot shot = DrawShot(random, 1 + random() % 40);
    MixedWorld mixed(shot, Shuffled(shot.size(), random), Shuffled(kMixedAssets, random));
    const double before = PlanHours(mixed);
    SetShared(mixed.world, 10, 5, 0.5, 0);
    SetShared(mixed.world, 7, 0, 0, 1);
    SetShared(mixed.world, 3, 2.25, 1, 2);
    // Sums of at most 100 figures up to 3,000: 1e-9 is a thousand times their rounding.
    EXPECT_NEAR(PlanHours(mixed) - before, SetUpsPaid(shot, mixed.world), 1e-9);
  }
}

TEST(SharedCostsOf, OrderOfSendingChangesNothing) {
  std::mt19937 random(7);
  const auto named = [](const MixedWorld& mixed, const std::vector<uint32_t>& order,
                        const std::vector<uint32_t>& asset_number) {
    std::vector<Found> found = SharedOf(mixed.world);
    for (auto& [asset, class_index, tier, hours, users] : found) {
      asset = static_cast<uint32_t>(std::find(asset_number.begin(), asset_number.end(), asset) - asset_number.begin());
      for (uint32_t& user : users) user = order[user];
    }
    return found;
  };
  for (int trial = 0; trial < 100; ++trial) {
    const MixedShot shot = DrawShot(random, 1 + random() % 40);
    const auto order = Shuffled(shot.size(), random), numbers = Shuffled(kMixedAssets, random);
    MixedWorld first(shot, FromZero(shot.size()), FromZero(kMixedAssets)), second(shot, order, numbers);
    for (World* world : {&first.world, &second.world}) {
      SetShared(*world, 10, 5, 0.5, 0);
      SetShared(*world, 7, 0, 0, 1);
    }
    EXPECT_EQ(named(first, FromZero(shot.size()), FromZero(kMixedAssets)), named(second, order, numbers));
    const TierCosts first_costs = first.world.Price(), second_costs = second.world.Price();
    for (size_t i = 0; i < shot.size(); ++i) {
      EXPECT_EQ(first_costs.full_anim_hours[i], second_costs.full_anim_hours[second.row_of[i]]);
    }
  }
}

// ---- The third department.

// Set-up 3, 1 and 0.5 hours; 2, 1 and 0 a second.
void AddEffects(World& world) {
  world.policy.rates.other_department = "effects";
  world.policy.rates.money_per_other_hour = 1;
  PerTier<Rate>& tier = world.policy.rates.classes[0].tier;
  tier[3].other_setup_hours = 3;
  tier[2].other_setup_hours = 1;
  tier[1].other_setup_hours = 0.5;
  tier[3].other_hours_per_second = 2;
  tier[2].other_hours_per_second = 1;
}

TEST(PriceTiers, OtherHoursAreSetUpAndAnimatedSeconds) {
  World world({{{1011, 1034}}});
  AddEffects(world);
  world.style.handle_frames = 12;
  world.scene.frames = {1, 2000};
  world.scene.objects.complexity[0] = 1.5;
  world.holds.pose[0] = 8;                                                         // whatever the hold
  world.scene.spent = {{0, Tier::kFullRig, 99}, {0, Tier::kProxy, 99}};            // not theirs
  EXPECT_THAT(world.Price().other_hours, ElementsAre(ElementsAre(0, 0.5, 4, 9)));  // 1 + 1.5 * 2 s, 3 + 2 * 1.5 * 2 s
}

TEST(PriceTiers, StillThingsNeedTheOtherSetUpOnly) {
  World world({{{1001, 1048}}});
  AddEffects(world);
  world.holds.still[0] = 1;
  world.legibility.height_over_floor[0] = 1000;  // kept alive by animators
  world.policy.rates.classes[0].keep_alive_hours_per_second = 1;
  EXPECT_THAT(world.Price().other_hours, ElementsAre(ElementsAre(0, 0.5, 1, 3)));
}

TEST(PriceTiers, PaintedInNeverSeenAndReplacedNeedNoOtherHours) {
  World world({{{1001, 1048}}, {{1001, 1048}}, {}, {}});
  AddEffects(world);
  world.scene.objects.container[1] = 0;
  world.Cast(3, {{1001, 1024}});
  const std::vector<PerTier<double>> other_hours = world.Price().other_hours;
  EXPECT_THAT(other_hours[1], ElementsAre(0, 0, 3, 7));
  EXPECT_THAT(other_hours[2], ElementsAre(0, 0, 0, 0));
  EXPECT_THAT(other_hours[3], ElementsAre(0, 0.5, 2, 5));  // cast for a second
  world.Replace(3, {{1001, 1024}});
  EXPECT_THAT(world.Price().other_hours[3], ElementsAre(0, 0, 0, 0));
}

TEST(PriceTiers, EverythingFullCountsOtherHoursOverTheWholeShot) {
  World world({{{1001, 1010}}, {}});
  AddEffects(world);
  world.scene.frames = {1001, 1096};  // 4 s
  world.holds.still[0] = 1;
  world.scene.objects.complexity[1] = 2;
  EXPECT_THAT(world.Price().full_other_hours, ElementsAre(3 + 2 * 4, 3 + 2 * 2 * 4));
}

TEST(PriceTiers, NoThirdDepartmentHasNoColumns) {
  const TierCosts costs = World({{{1001, 1048}}}).Price();
  EXPECT_THAT(costs.other_hours, IsEmpty());
  EXPECT_THAT(costs.full_other_hours, IsEmpty());
}

}  // namespace
}  // namespace scantling
