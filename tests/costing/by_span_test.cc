// Tier and hold by span, by hand arithmetic. A class of world.h at FULL_RIG: 4 hours set-up, 12 a second on twos;
// PROXY: 2 and 6; COLOUR_PATCH: 1 and none. Core: 36, 18 and 9 s a frame, rendered twice. phi: PROXY 0.25, COLOUR_PATCH
// 0.5, OMITTED 1: PROXY is free under 4 floors, a patch under 2, leaving it out under 1.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <random>

#include "server/costing/costing.h"
#include "tests/costing/world.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

SpanChoice Choose(const World& world, Tier tier = Tier::kFullRig, Tier least = Tier::kOmitted) {
  return ChooseBySpan(world.Input(), world.Price(), 0, tier, least);
}

std::vector<Tier> TiersOf(const SpanChoice& choice) {
  std::vector<Tier> tiers;
  for (const SpanTier& span : choice.spans) tiers.push_back(span.tier);
  return tiers;
}
std::vector<int32_t> HoldsOf(const SpanChoice& choice) {
  std::vector<int32_t> holds;
  for (const SpanTier& span : choice.spans) holds.push_back(span.hold);
  return holds;
}

// Near for 24 frames (a second), then far for 48.
World NearThenFar(float far_floors) {
  World world({{{1001, 1024}, {1040, 1087}}});
  world.legibility.sections[0].height_over_floor = 20;
  world.legibility.sections[1].height_over_floor = far_floors;
  world.legibility.height_over_floor[0] = 20;
  return world;
}

TEST(ChooseBySpan, FarSpanTakesTheLowerTierThatPaysItsSetUp) {
  const SpanChoice choice = Choose(NearThenFar(3.9f));
  EXPECT_THAT(TiersOf(choice), ElementsAre(Tier::kFullRig, Tier::kProxy));
  EXPECT_THAT(HoldsOf(choice), ElementsAre(2, 2));
  EXPECT_EQ(choice.spans[0].frames, (FrameRange{1001, 1024}));
  EXPECT_EQ(choice.spans[1].frames, (FrameRange{1040, 1087}));
  // Throughout: 4 + 12 * 3 = 40. By span: 4 + 12 * 1 + 2 + 6 * 2 = 30.
  EXPECT_DOUBLE_EQ(choice.saved_anim_hours, 10);
  // 2 * (36 - 18) core-s * 48 frames / 3600.
  EXPECT_DOUBLE_EQ(choice.saved_core_hours, 0.48);
}

TEST(ChooseBySpan, LowestTierThatShowsNothingIsTakenDownToTheLeastAllowed) {
  // By span with a patch: 4 + 12 + 1 = 17 of 40; left out: 16 of 40; core of 48 frames: 27 and 36 core-s less.
  EXPECT_THAT(TiersOf(Choose(NearThenFar(1.9f))), ElementsAre(Tier::kFullRig, Tier::kColourPatch));
  EXPECT_DOUBLE_EQ(Choose(NearThenFar(1.9f)).saved_anim_hours, 23);
  EXPECT_DOUBLE_EQ(Choose(NearThenFar(1.9f)).saved_core_hours, 2 * 27 * 48 / 3600.0);
  EXPECT_THAT(TiersOf(Choose(NearThenFar(0.75))), ElementsAre(Tier::kFullRig, Tier::kOmitted));
  EXPECT_DOUBLE_EQ(Choose(NearThenFar(0.75)).saved_anim_hours, 24);
  EXPECT_THAT(TiersOf(Choose(NearThenFar(0.75), Tier::kFullRig, Tier::kProxy)),
              ElementsAre(Tier::kFullRig, Tier::kProxy));
}

TEST(ChooseBySpan, NothingIsTakenThatAnySeenFrameMightShow) {
  // A section's 4 floors are a float and may have been a little more.
  EXPECT_THAT(Choose(NearThenFar(4)).spans, IsEmpty());
  EXPECT_THAT(TiersOf(Choose(NearThenFar(2))), ElementsAre(Tier::kFullRig, Tier::kProxy));
}

TEST(ChooseBySpan, WhatWouldBeUnseenHasNothingToAnimate) {
  EXPECT_THAT(HoldsOf(Choose(NearThenFar(1.9f))), ElementsAre(2, 0));
}

TEST(ChooseBySpan, SetUpThatDoesNotPayIsNotTaken) {
  // 8 frames are a third of a second: 12 / 3 - 6 / 3 = 2 hours saved by a stand-in, 2 its set-up: nothing, and fewer
  // core-hours; with a set-up of 2.05 hours would rise, though by less money than is saved by rendering.
  World world({{{1001, 1024}, {1040, 1047}}});
  world.legibility.sections[0].height_over_floor = 20;
  world.legibility.sections[1].height_over_floor = 3.9f;
  EXPECT_EQ(Choose(world).saved_anim_hours, 0);
  EXPECT_NEAR(Choose(world).saved_core_hours, 0.08, 1e-12);  // 2 * 18 * 8 / 3600, the difference of two near 1
  world.policy.rates.classes[0].tier[2].setup_hours = 2.05;
  EXPECT_THAT(Choose(world).spans, IsEmpty());
}

TEST(ChooseBySpan, OneLowerTierServesTwoSpansWhereASecondDoesNotPay) {
  // Near for 1 s, PROXY free for 2 s, a patch free for 4 frames (1/6 s). With all three: 4 + 12, 2 + 12, 1 = 31 hours.
  // Without the patch: 4 + 12, 2 + 12 + 1 = 31 too, and more to render: the patch stands. At 1.5 hours a patch the
  // stand-in serves both: 31 of 4 + 12 * (3 + 1/6) = 42.
  World world({{{1001, 1024}, {1031, 1078}, {1090, 1093}}});
  world.legibility.sections[0].height_over_floor = 20;
  world.legibility.sections[1].height_over_floor = 3.9f;
  world.legibility.sections[2].height_over_floor = 1.9f;
  EXPECT_THAT(TiersOf(Choose(world)), ElementsAre(Tier::kFullRig, Tier::kProxy, Tier::kColourPatch));
  world.policy.rates.classes[0].tier[1].setup_hours = 1.5;
  const SpanChoice choice = Choose(world);
  EXPECT_THAT(TiersOf(choice), ElementsAre(Tier::kFullRig, Tier::kProxy, Tier::kProxy));
  EXPECT_NEAR(choice.saved_anim_hours, 11, 1e-12);  // a few roundings of 42
}

TEST(ChooseBySpan, HoldsChangeAtSectionsThatTheTierMayNotChangeAt) {
  // One run cut by a beat: its nearer half keeps the tier for both; its farther half goes on fours.
  World world({{{1001, 1024}, {1025, 1072}}});
  world.legibility.sections[0].height_over_floor = 20;
  world.legibility.sections[1].height_over_floor = 1;
  world.holds.section = {2, 4};
  const SpanChoice choice = Choose(world);
  EXPECT_THAT(TiersOf(choice), ElementsAre(Tier::kFullRig, Tier::kFullRig));
  EXPECT_THAT(HoldsOf(choice), ElementsAre(2, 4));
  // 2 s at half the hours of twos: 12 * 2 / 2.
  EXPECT_DOUBLE_EQ(choice.saved_anim_hours, 12);
  EXPECT_EQ(choice.saved_core_hours, 0);
}

TEST(ChooseBySpan, FramesBetweenSpansGoToTheNearerTheEarlierOfTwo) {
  // Handles of 10: 1001..1034 and 1037..1074, the gap of two closed: 1001..1074. Between the spans lie 1025..1046, 22
  // frames: 11 each. So 35 frames near, 39 far (11 + 18 + 10 after).
  World world({{{1001, 1024}, {1047, 1064}}});
  world.legibility.sections[0].height_over_floor = 20;
  world.legibility.sections[1].height_over_floor = 1.9f;
  world.style.handle_frames = 10;
  world.style.settle_frames = 2;
  // The far ones as a patch: 12 hours a second less, 1 for its set-up.
  EXPECT_NEAR(Choose(world).saved_anim_hours, 12 * 39 / 24.0 - 1, 1e-12);
  // One frame fewer between them: 21, of which the near span has 11.
  world.legibility.sections[1].frames = world.legibility.spans[1] = {1046, 1063};
  EXPECT_NEAR(Choose(world).saved_anim_hours, 12 * 38 / 24.0 - 1, 1e-12);
}

TEST(ChooseBySpan, SeenSharesOfRenderingGoBySeenFrames) {
  World world = NearThenFar(1.9f);
  world.scene.cameras.resize(2);
  world.legibility.seen_camera_frames[0] = 90;
  world.legibility.rendered_megapixels[0] = 3;
  // 48 of 72 seen frames: 60 camera frames and 2 megapixels, at 27 and 270 core-s less, twice.
  EXPECT_DOUBLE_EQ(Choose(world).saved_core_hours, 2 * (27 * 60 + 270 * 2) / 3600.0);
}

TEST(ChooseBySpan, CastFramesAreMadeAsTheNearestSpanIs) {
  World world = NearThenFar(3.9f);
  world.Cast(0, {{1088, 1099}});  // 12 frames, half a second more of the far span
  const SpanChoice choice = Choose(world, Tier::kFullRig, Tier::kProxy);
  EXPECT_THAT(TiersOf(choice), ElementsAre(Tier::kFullRig, Tier::kProxy));
  EXPECT_DOUBLE_EQ(choice.saved_anim_hours, 6 * 2.5 - 2);
  EXPECT_DOUBLE_EQ(choice.saved_core_hours, 2 * 18 * 60 / 3600.0);
}

TEST(ChooseBySpan, WhatIsCastWhereItIsNotSeenKeepsItsHold) {
  World world = NearThenFar(20);
  world.holds.section = {2, 4};
  EXPECT_THAT(HoldsOf(Choose(world)), ElementsAre(2, 4));
  world.Cast(0, {{1010, 1020}});  // seen as well: no matter
  EXPECT_THAT(HoldsOf(Choose(world)), ElementsAre(2, 4));
  world.Cast(0, {{1090, 1090}});
  EXPECT_THAT(Choose(world).spans, IsEmpty());
}

TEST(ChooseBySpan, SpentWorkIsNeitherSavedNorChargedAgain) {
  // 40 hours throughout, 30 spent: 10 left. By span 4 + 12 = 16 hours of FULL_RIG are all spent, 14 of PROXY are not.
  World world = NearThenFar(3.9f);
  world.scene.spent = {{0, Tier::kFullRig, 30}};
  EXPECT_THAT(Choose(world).spans, IsEmpty());
  // With 20 spent: 20 left against 0 + 14.
  world.scene.spent = {{0, Tier::kFullRig, 20}};
  EXPECT_DOUBLE_EQ(Choose(world).saved_anim_hours, 6);
  // With the stand-in done as well (more than it needs): 20 against nothing.
  world.scene.spent.push_back({0, Tier::kProxy, 99});
  EXPECT_DOUBLE_EQ(Choose(world).saved_anim_hours, 20);
}

TEST(ChooseBySpan, ContainedObjectIsDrawnOntoItsContainerInASpan) {
  World world = NearThenFar(1.9f);
  world.AddObject({{1001, 1100}});
  world.scene.objects.container[0] = 1;
  // 40 throughout; 4 + 12 + 0.25 painted in; no core-hours over 48 frames.
  const SpanChoice choice = Choose(world, Tier::kFullRig, Tier::kColourPatch);
  EXPECT_THAT(TiersOf(choice), ElementsAre(Tier::kFullRig, Tier::kColourPatch));
  EXPECT_DOUBLE_EQ(choice.saved_anim_hours, 23.75);
  EXPECT_DOUBLE_EQ(choice.saved_core_hours, 2 * 36 * 48 / 3600.0);
}

TEST(ChooseBySpan, PaintedInOmittedAndNeverSeenObjectsHaveNoChoice) {
  World world = NearThenFar(0.5f);
  // On its own a patch may still be left out where it is not seen: 9 core-s a frame.
  EXPECT_DOUBLE_EQ(Choose(world, Tier::kColourPatch).saved_core_hours, 2 * 9 * 48 / 3600.0);
  EXPECT_THAT(Choose(world, Tier::kOmitted).spans, IsEmpty());
  world.AddObject({{1001, 1100}});
  world.scene.objects.container[0] = 1;
  world.legibility.sections[0].height_over_floor = 0.5f;  // not even where leaving it out shows nowhere
  EXPECT_THAT(Choose(world, Tier::kColourPatch).spans, IsEmpty());
  World never(std::vector<FrameSpans>(1));
  never.Cast(0, {{1001, 1048}});
  EXPECT_THAT(Choose(never).spans, IsEmpty());
}

TEST(ChooseBySpan, SetElementIsPaintedWhereTheViewOfItDoesNotTurn) {
  World world = NearThenFar(20);
  world.policy.catalogue.classes[0].kind = ClassKind::kSetElement;
  world.legibility.sections[0].turn_over_floor = 3;
  world.legibility.sections[1].turn_over_floor = 0.9f;
  EXPECT_THAT(TiersOf(Choose(world)), ElementsAre(Tier::kFullRig, Tier::kColourPatch));
  // A stand-in may carry the same painting.
  EXPECT_THAT(TiersOf(Choose(world, Tier::kFullRig, Tier::kProxy)), ElementsAre(Tier::kFullRig, Tier::kProxy));
  world.legibility.sections[1].turn_over_floor = 1.01f;
  EXPECT_THAT(Choose(world).spans, IsEmpty());
  // Under a floor of height it may be left out, unless the turn shows.
  world.legibility.sections[1] = {{1040, 1087}, 0.75f, 0.75f};
  EXPECT_THAT(TiersOf(Choose(world)), ElementsAre(Tier::kFullRig, Tier::kOmitted));
  world.legibility.sections[1].turn_over_floor = 1.5f;
  EXPECT_THAT(TiersOf(Choose(world)), ElementsAre(Tier::kFullRig, Tier::kProxy));
  // Where a patch throughout shows its turn already, leaving it out would weigh more.
  EXPECT_THAT(Choose(world, Tier::kColourPatch).spans, IsEmpty());
}

TEST(ChooseBySpan, WhatIsStillHasNoHoldUnlessKeptAlive) {
  World world = NearThenFar(3.9f);
  world.holds.still[0] = 1;
  // Set-up of a second tier is not paid by animation; make it free, so that rendering decides.
  world.policy.rates.classes[0].tier[2].setup_hours = 0;
  EXPECT_THAT(HoldsOf(Choose(world)), ElementsAre(0, 0));
  world.style.keep_alive_floors = 20;
  world.policy.rates.classes[0].keep_alive_hours_per_second = 1;
  EXPECT_THAT(HoldsOf(Choose(world)), ElementsAre(2, 2));
}

TEST(ChooseBySpan, SharedSetUpOfAnotherTierIsPaidInFull) {
  // 3 s full: 4 + 12 * 3 = 40, by span 4 + 12 + 2 + 12 = 30. An asset's stand-in shares 9 hours: 39; 10 eat it all up,
  // but for what rendering saves (2 * 18 * 48 / 3600), and 11 would let hours rise.
  World world = NearThenFar(3.9f);
  world.scene.objects.asset[0] = 5;
  world.policy.rates.classes[0].tier[3].shared_setup_hours = 20;  // stays paid whatever this object does
  const auto with = [&world](double hours) {
    world.policy.rates.classes[0].tier[2].shared_setup_hours = hours;
    return Choose(world, Tier::kFullRig, Tier::kProxy);
  };
  EXPECT_DOUBLE_EQ(with(9).saved_anim_hours, 1);
  EXPECT_EQ(with(10).saved_anim_hours, 0);
  EXPECT_DOUBLE_EQ(with(10).saved_core_hours, 0.48);
  EXPECT_THAT(with(11).spans, IsEmpty());
  // On its own at no tier but PROXY everywhere: the full rig's share is not saved.
  world.legibility.sections[0].height_over_floor = 3;
  EXPECT_DOUBLE_EQ(with(9).saved_anim_hours, 40 - (2 + 6 * 3) - 9);
  // Of no asset it pays both itself: 60 against 2 + 9 + 18.
  world.scene.objects.asset[0] = kNone;
  EXPECT_DOUBLE_EQ(with(9).saved_anim_hours, 60 - (2 + 9 + 6 * 3));
}

TEST(ChooseBySpan, PaintedInInASpanSharesNothing) {
  World world = NearThenFar(1.9f);
  world.AddObject({{1001, 1100}});
  world.scene.objects.container[0] = 1;
  world.scene.objects.asset[0] = 5;
  for (Rate& rate : world.policy.rates.classes[0].tier) rate.shared_setup_hours = 9;
  // As in ContainedObjectIsDrawnOntoItsContainerInASpan: 40 against 4 + 12 + 0.25.
  EXPECT_DOUBLE_EQ(Choose(world, Tier::kFullRig, Tier::kColourPatch).saved_anim_hours, 23.75);
}

// A third department: 3 and 1 hours set-up, 2 and 1 a second; patches need none.
void AddEffects(World& world) {
  world.policy.rates.other_department = "effects";
  world.policy.rates.money_per_other_hour = 1;
  PerTier<Rate>& tier = world.policy.rates.classes[0].tier;
  tier[3].other_setup_hours = 3;
  tier[3].other_hours_per_second = 2;
  tier[2].other_setup_hours = 1;
  tier[2].other_hours_per_second = 1;
}

TEST(ChooseBySpan, ThirdDepartmentSavesTooAndItsHoursDoNotRise) {
  World world = NearThenFar(3.9f);
  AddEffects(world);
  // 3 + 2 * 3 = 9 throughout; 3 + 2 * 1 + 1 + 1 * 2 = 8 by span.
  EXPECT_DOUBLE_EQ(Choose(world).saved_other_hours, 1);
  EXPECT_DOUBLE_EQ(Choose(world).saved_anim_hours, 10);
  world.policy.rates.classes[0].tier[2].other_setup_hours = 2;
  EXPECT_EQ(Choose(world).saved_other_hours, 0);
  EXPECT_DOUBLE_EQ(Choose(world).saved_anim_hours, 10);
  world.policy.rates.classes[0].tier[2].other_setup_hours = 2.5;
  EXPECT_THAT(Choose(world).spans, IsEmpty());
}

TEST(ChooseBySpan, ThirdDepartmentsMoneyCounts) {
  // Near 1 s, PROXY free for 2 s, a patch for 2 s more. A patch of 13 hours set-up: 4 + 12 + 2 + 12 + 13 = 43;
  // stand-ins for both: 4 + 12 + 2 + 24 = 42.
  World world({{{1001, 1024}, {1030, 1077}, {1090, 1137}}});
  world.scene.frames = {1001, 1137};
  world.legibility.sections[0].height_over_floor = 20;
  world.legibility.sections[1].height_over_floor = 3.9f;
  world.legibility.sections[2].height_over_floor = 1.9f;
  world.policy.rates.classes[0].tier[1].setup_hours = 13;
  world.policy.rates.classes[0].tier[1].core_s_per_frame = 18;  // of a stand-in: rendering says nothing
  EXPECT_THAT(TiersOf(Choose(world)), ElementsAre(Tier::kFullRig, Tier::kProxy, Tier::kProxy));
  // Effects: 3 + 2 + 1 + 4 = 10 with two stand-ins; 3 + 2 + 1 + 2 = 8 with the patch: 2 hours less outweigh 1.
  AddEffects(world);
  EXPECT_THAT(TiersOf(Choose(world)), ElementsAre(Tier::kFullRig, Tier::kProxy, Tier::kColourPatch));
  world.policy.rates.money_per_other_hour = 0.4;
  EXPECT_THAT(TiersOf(Choose(world)), ElementsAre(Tier::kFullRig, Tier::kProxy, Tier::kProxy));
}

// ---- The choice against all others, reckoned frame by frame.

struct Saved {
  double anim = 0, core = 0, other = 0;
  double money() const { return anim + core + other; }  // an hour of any kind costs 1 in world.h
};

int32_t DistanceTo(const FrameRange& span, int32_t frame) {
  return span.contains(frame) ? 0 : std::max(span.first - frame, frame - span.last);
}

// Frames of `spans` by nearest section, the earlier of two.
std::array<double, 3> ByNearest(const FrameSpans& spans, const World& world) {
  std::array<double, 3> counts = {};
  for (const FrameRange& span : spans) {
    for (int32_t frame = span.first; frame <= span.last; ++frame) {
      size_t nearest = 0;
      for (size_t s = 1; s < 3; ++s) {
        const auto distance = [&](size_t i) { return DistanceTo(world.legibility.sections[i].frames, frame); };
        if (distance(s) < distance(nearest)) nearest = s;
      }
      counts[nearest] += 1;
    }
  }
  return counts;
}

Saved SavedBy(const std::array<Tier, 3>& tiers, const World& world, const TierCosts& costs) {
  const FrameSpans cast = IndirectFrames(world.scene, 0);
  const FrameSpans cast_unseen = SubtractSpans(cast, world.legibility.spans);
  const auto animated = ByNearest(AnimatedSpans(world.scene, world.legibility, world.style, 0), world);
  const auto cast_by = ByNearest(cast_unseen, world);
  PerTier<double> anim = {};
  PerTier<bool> used = {};
  Saved saved = {costs.anim_hours[0][3], costs.core_hours[0][3], costs.other_hours[0][3]};
  for (size_t s = 0; s < 3; ++s) {
    const auto t = static_cast<size_t>(Index(tiers[s]));
    const Rate& rate = world.policy.rates.classes[0].tier[t];
    const int32_t hold = cast_unseen.empty() ? world.holds.section[s] : 2;
    const bool of_asset = world.scene.objects.asset[0] != kNone;
    if (!used[t]) anim[t] = rate.setup_hours + (of_asset && t == 3 ? 0 : rate.shared_setup_hours);
    if (!used[t]) saved.other -= rate.other_setup_hours;
    used[t] = true;
    saved.other -= rate.other_hours_per_second * animated[s] / 24;
    anim[t] += rate.hours_per_second * animated[s] / 24 * 2 / hold;
    const double frames = world.legibility.sections[s].frames.count() + cast_by[s];
    saved.core -= 2 * rate.core_s_per_frame * frames / 3600;
  }
  for (const double hours : anim) saved.anim -= hours;
  return saved;
}

bool ShowsNothing(const std::array<Tier, 3>& tiers, const World& world) {
  for (size_t s = 0; s < 3; ++s) {
    const double phi = world.policy.catalogue.classes[0].phi[static_cast<size_t>(Index(tiers[s]))];
    if (phi * world.legibility.sections[s].height_over_floor > 1) return false;
  }
  return true;
}

// Most money that any of the 64 ways to give three spans a tier saves where no kind of hours rises.
double MostMoneySaved(const World& world, const TierCosts& costs) {
  double most = 0;
  for (int code = 0; code < 64; ++code) {
    const std::array tiers = {static_cast<Tier>(code % 4), static_cast<Tier>(code / 4 % 4),
                              static_cast<Tier>(code / 16)};
    if (!ShowsNothing(tiers, world)) continue;
    const Saved saved = SavedBy(tiers, world, costs);
    // 1e-9: rounding of sums below 100; what is saved by choice is a thousand times that or more.
    if (saved.anim > -1e-9 && saved.core > -1e-9 && saved.other > -1e-9) most = std::max(most, saved.money());
  }
  return most;
}

World RandomWorld(std::mt19937& random) {
  std::uniform_real_distribution<float> floors(0.1f, 8);
  const auto from = [&](int32_t first) { return static_cast<int32_t>(first + random() % 20); };
  World world({{{from(1001), 1022}, {from(1030), 1060}, {from(1066), 1090}}});
  world.style.handle_frames = static_cast<int32_t>(random() % 9);
  world.style.settle_frames = static_cast<int32_t>(random() % 9);
  if (random() % 2 == 0) world.Cast(0, {{from(1015), 1036}, {1095, 1097}});
  for (size_t s = 0; s < 3; ++s) {
    world.legibility.sections[s].height_over_floor = floors(random);
    world.holds.section[s] = random() % 2 == 0 ? 2 : 4;
  }
  AddEffects(world);
  for (Rate& rate : world.policy.rates.classes[0].tier) {
    rate.setup_hours *= static_cast<double>(random() % 3);
    if (rate.setup_hours > 0) rate.shared_setup_hours = static_cast<double>(random() % 4);
    rate.other_setup_hours *= static_cast<double>(random() % 3);
  }
  if (random() % 2 == 0) world.scene.objects.asset[0] = 5;
  return world;
}

TEST(ChooseBySpan, NoOtherTiersThatShowNothingSaveMore) {
  std::mt19937 random(7);
  int chosen = 0;
  for (int trial = 0; trial < 2000; ++trial) {
    const World world = RandomWorld(random);
    const TierCosts costs = world.Price();
    const SpanChoice choice = ChooseBySpan(world.Input(), costs, 0, Tier::kFullRig, Tier::kOmitted);
    EXPECT_NEAR(choice.saved_anim_hours + choice.saved_core_hours + choice.saved_other_hours,
                MostMoneySaved(world, costs), 1e-9);
    if (choice.spans.empty()) continue;
    ++chosen;
    ASSERT_EQ(choice.spans.size(), 3u);
    const std::array tiers = {choice.spans[0].tier, choice.spans[1].tier, choice.spans[2].tier};
    EXPECT_TRUE(ShowsNothing(tiers, world));
    const Saved saved = SavedBy(tiers, world, costs);
    EXPECT_NEAR(choice.saved_anim_hours, saved.anim, 1e-9);
    EXPECT_NEAR(choice.saved_core_hours, saved.core, 1e-9);
    EXPECT_NEAR(choice.saved_other_hours, saved.other, 1e-9);
  }
  EXPECT_GT(chosen, 500);
  EXPECT_LT(chosen, 2000);
}

// With every span at the plan's own tier and hold the parts come to the plan's hours: the price of a choice that only
// differs in one span's hold differs by that span alone, whatever the handles, gaps, drawings and camera frames.
TEST(ChooseBySpan, PartsAddUpToThePlan) {
  std::mt19937 random(5);
  for (int trial = 0; trial < 500; ++trial) {
    World world({{{1010, 1022}, {1030, 1050}, {1060, 1080}}});
    for (Section& section : world.legibility.sections) section.height_over_floor = 20;
    world.style.handle_frames = static_cast<int32_t>(random() % 12);
    world.style.settle_frames = static_cast<int32_t>(random() % 12);
    const auto drawn = static_cast<int32_t>(1024 + random() % 4);
    world.Replace(0, {{drawn, drawn + 1}});
    world.holds.section = {8, 8, 8};  // a quarter of the hours of twos everywhere
    const TierCosts costs = world.Price();
    const SpanChoice choice = ChooseBySpan(world.Input(), costs, 0, Tier::kFullRig, Tier::kOmitted);
    // Three quarters of all but the set-up: a dozen sums of figures up to 50, 1e-12.
    EXPECT_NEAR(choice.saved_anim_hours, 0.75 * (costs.anim_hours[0][3] - 4), 1e-12);
    EXPECT_EQ(choice.saved_core_hours, 0);
  }
}

}  // namespace
}  // namespace scantling
