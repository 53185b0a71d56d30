// What is really seen, through all stages: hiding, masks, drawings that stand for frames, shadows, holds and spans, on
// the demonstration shot and on small shots made of it.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <set>
#include <string>

#include "server/rpc/convert.h"
#include "tests/planning/demo_shot.h"

namespace scantling {
namespace {

using testing::DemoScene;
using testing::PlanOrFail;
using testing::Sample;
using testing::SceneOf;
using testing::ShippedPolicy;

const std::string& ClassName(const PlannedShot& shot, uint32_t object) {
  return ShippedPolicy().catalogue.classes[shot.scene.objects.class_index[object]].name;
}

// Holds of what needs animating, by class: how many objects are on each. `near_m`: at most so far away, apparently.
std::map<int, int> HoldsOf(const PlannedShot& shot, const std::set<std::string>& classes, double near_m = 1e9) {
  std::map<int, int> holds;
  for (const Decision& decision : shot.plan.decisions) {
    if (!decision.needs_animation || !classes.count(ClassName(shot, decision.object))) continue;
    if (shot.legibility.apparent_m[decision.object] > near_m) continue;
    ++holds[decision.hold];
  }
  return holds;
}

int Sum(const std::map<int, int>& holds, int least, int most) {
  int sum = 0;
  for (const auto& [hold, count] : holds) sum += hold >= least && hold <= most ? count : 0;
  return sum;
}

// Common practice, no source: leads and near crowd on twos, what stands or sits about on threes and fours, what is far
// away longer still.
TEST(DemonstrationHolds, AreWhatTheTradeWouldDraw) {
  const auto shot = PlanOrFail(DemoScene(1500, 1), {});
  ASSERT_NE(shot, nullptr);
  const auto leads = HoldsOf(*shot, {"lead", "animal_lead"});
  EXPECT_GE(Sum(leads, 2, 2), 1);
  EXPECT_EQ(Sum(leads, 3, 99), 0) << "a lead never above twos";

  const auto near_crowd = HoldsOf(*shot, {"person"}, 20);
  EXPECT_GE(Sum(near_crowd, 2, 2), 5);
  EXPECT_EQ(Sum(near_crowd, 2, 2), Sum(near_crowd, 1, 99)) << "all of them";

  const auto sitting = HoldsOf(*shot, {"passenger", "tenant"});
  EXPECT_GE(Sum(sitting, 3, 4), 5);
  EXPECT_EQ(Sum(sitting, 3, 4), Sum(sitting, 1, 99));

  // On the hillside nobody needs animating at no visible loss; had the reapers to be made, they would stay longest.
  int hillside = 0;
  for (uint32_t object = 0; object < shot->scene.objects.size(); ++object) {
    const std::string& name = ClassName(*shot, object);
    if ((name != "reaper" && name != "hay_cart") || shot->legibility.sight[object] != Sight::kSeen) continue;
    ++hillside;
    EXPECT_GT(shot->holds.pose[object], 4) << shot->scene.objects.id[object];
  }
  EXPECT_GT(hillside, 10);
}

TEST(DemonstrationHolds, NeighboursInTheCrowdChangePosesOnDifferentFrames) {
  const auto shot = PlanOrFail(DemoScene(1500, 1), {});
  ASSERT_NE(shot, nullptr);
  std::map<std::pair<int, int>, int> phases;  // (hold, phase) of walkers
  for (const Decision& decision : shot->plan.decisions) {
    if (!decision.needs_animation || ClassName(*shot, decision.object) != "person") continue;
    ++phases[{decision.hold, shot->holds.phase[decision.object]}];
  }
  // On twos there are two phases; left to itself a crowd would all take the first.
  const int first = phases[{2, 0}], second = phases[{2, 1}];
  EXPECT_GT(std::min(first, second) * 4, std::max(first, second)) << first << " and " << second;
}

TEST(Hiding, TenantsAreSeenThroughWindowsOnly) {
  v1::Shot shot = Sample(1500);
  const auto open = PlanOrFail(SceneOf(shot), {});
  for (v1::SceneObject& object : *shot.mutable_objects()) {
    if (object.class_name() == "dwelling") object.mutable_particulars()->clear_openings();
  }
  const auto walled_up = PlanOrFail(SceneOf(shot), {});
  ASSERT_TRUE(open != nullptr && walled_up != nullptr);
  int seen = 0, hidden = 0;
  for (uint32_t object = 0; object < open->scene.objects.size(); ++object) {
    if (ClassName(*open, object) != "tenant") continue;
    seen += open->legibility.sight[object] == Sight::kSeen;
    hidden += walled_up->legibility.sight[object] == Sight::kHidden;
    EXPECT_NE(walled_up->legibility.sight[object], Sight::kSeen) << open->scene.objects.id[object];
  }
  EXPECT_GT(seen, 10);
  EXPECT_GT(hidden, 10);
}

TEST(Hiding, OnlyEverTakesAway) {
  v1::Shot shot = Sample(700);
  const auto with = PlanOrFail(SceneOf(shot), {});
  Scene scene = SceneOf(shot);
  std::fill(scene.objects.inner_box.begin(), scene.objects.inner_box.end(), 0.0f);
  for (Particulars& particulars : scene.particulars) particulars.mesh = {};
  const auto without = PlanOrFail(std::move(scene), {});
  ASSERT_TRUE(with != nullptr && without != nullptr);
  int hidden = 0;
  for (uint32_t object = 0; object < with->scene.objects.size(); ++object) {
    EXPECT_LE(with->legibility.seen_frames[object], without->legibility.seen_frames[object]);
    EXPECT_LE(with->legibility.rendered_megapixels[object], without->legibility.rendered_megapixels[object]);
    // A set element's patch is painted for its middle seen frame, which is another where less of it is seen.
    const uint16_t class_index = with->scene.objects.class_index[object];
    const bool figure = ShippedPolicy().catalogue.classes[class_index].kind == ClassKind::kFigure;
    for (size_t tier = 0; figure && tier < kTierCount; ++tier) {
      EXPECT_LE(with->legibility.loss[object][kPhiAsGiven][tier], without->legibility.loss[object][kPhiAsGiven][tier]);
    }
    EXPECT_EQ(without->legibility.hidden_frames[object], 0);
    hidden += with->legibility.sight[object] == Sight::kHidden;
  }
  EXPECT_GT(hidden, 20);
}

// Eight stereo pairs, all eyes in one place, see what one sees, and each picture counts once. Their depth maps do not
// fit at once, so that frames go by in blocks.
TEST(Hiding, FramesInBlocksGiveTheLossesOfFramesAtOnce) {
  v1::Shot shot = Sample(300);
  const auto one = PlanOrFail(SceneOf(shot), {});
  shot.mutable_cameras(0)->set_stereo_pair("pair_0");
  for (int eye = 1; eye < 16; ++eye) {
    v1::ShotCamera camera = shot.cameras(0);
    camera.set_id("eye_" + std::to_string(eye));
    camera.set_stereo_pair("pair_" + std::to_string(eye / 2));
    *shot.add_cameras() = camera;
  }
  const auto many = PlanOrFail(SceneOf(shot), {});
  ASSERT_TRUE(one != nullptr && many != nullptr);
  for (uint32_t object = 0; object < one->scene.objects.size(); ++object) {
    const PerTier<double>&loss = one->legibility.loss[object][kPhiAsGiven],
          &eight = many->legibility.loss[object][kPhiAsGiven];
    // Eight pictures are added up: seven roundings of half an ulp.
    for (size_t tier = 0; tier < kTierCount; ++tier) EXPECT_NEAR(eight[tier], 8 * loss[tier], 1e-15 * eight[tier]);
  }
  EXPECT_EQ(one->legibility.spans, many->legibility.spans);
  EXPECT_EQ(one->legibility.hidden_frames, many->legibility.hidden_frames);
  EXPECT_EQ(one->holds.phase, many->holds.phase);
}

void AddPose(v1::TransformTrack& track, double x, double z) {
  for (const double number : {1., 0., 0., 0., 0., 1., 0., 0., 0., 0., 1., 0., x, 0., z, 1.}) track.add_matrices(number);
}

void AddBox(const std::string& id, const std::string& class_name, double half, v1::Shot& shot) {
  v1::SceneObject& object = *shot.add_objects();
  object.set_id(id);
  object.set_class_name(class_name);
  v1::Vector3 &min = *object.mutable_box()->mutable_min_m(), &max = *object.mutable_box()->mutable_max_m();
  min.set_x(-half);
  min.set_y(-half);
  min.set_z(-half);
  max.set_x(half);
  max.set_y(half);
  max.set_z(half);
}

// Thirteen frames: a wall two metres to each side (solid to 1.9 m: its class's inner box is 0.95 of it) passes in steps
// of a metre at 10 m, from x = -6 to 6; a person of 0.4 m stands behind it at 20 m, in the line of sight.
v1::Shot PassingWall() {
  v1::Shot shot;
  shot.set_shot_id("qy_wall");
  shot.mutable_frames()->set_first(1001);
  shot.mutable_frames()->set_last(1013);
  shot.mutable_rate()->set_numerator(24);
  shot.mutable_rate()->set_denominator(1);
  v1::ShotCamera& camera = *shot.add_cameras();
  camera.set_id("main");
  camera.set_window_width(36);
  camera.set_window_height(15);
  camera.add_focal_mm(35);
  camera.set_image_width_px(2048);
  camera.set_image_height_px(858);
  camera.set_near_m(0.1);
  AddPose(*camera.mutable_transform(), 0, 0);
  AddBox("wall", "wall", 2, shot);
  for (int frame = 0; frame < 13; ++frame) AddPose(*shot.mutable_objects(0)->mutable_transform(), frame - 6, -10);
  AddBox("ada", "person", 0.2, shot);
  AddPose(*shot.mutable_objects(1)->mutable_transform(), 0, -20);
  return shot;
}

// The wall's solid front stands at 8.1 m, 1.9 m to each side: it covers all of ada (0.2 m at 19.8 m and more, so 0.083
// m at 8.1 m) where its middle is within 1.8 m of the line of sight, a cell of 4 px (0.016 m) aside: x = -1, 0, 1.
TEST(Hiding, PassingWallHidesOnlyWhileItStandsBefore) {
  const auto planned = PlanOrFail(SceneOf(PassingWall()), {});
  ASSERT_NE(planned, nullptr);
  EXPECT_EQ(planned->legibility.hidden_frames[1], 3);
  const auto spans = planned->legibility.spans_of(1);
  EXPECT_EQ(FrameSpans(spans.begin(), spans.end()), (FrameSpans{{1001, 1005}, {1009, 1013}}));
}

TEST(Hiding, WhatOneCameraLosesAnotherStillSees) {
  v1::Shot shot = PassingWall();
  v1::ShotCamera beside = shot.cameras(0);
  beside.set_id("beside");
  beside.mutable_transform()->set_matrices(12, 16);  // looks past the wall while it stands before the first
  beside.mutable_transform()->set_matrices(14, 5);
  *shot.add_cameras() = beside;
  shot.mutable_objects(1)->mutable_transform()->set_matrices(12, 3);  // in frame of both
  shot.mutable_objects(1)->mutable_transform()->set_matrices(14, -30);
  const auto both = PlanOrFail(SceneOf(shot), {});
  shot.mutable_cameras()->RemoveLast();
  const auto one = PlanOrFail(SceneOf(shot), {});
  ASSERT_TRUE(both != nullptr && one != nullptr);
  EXPECT_GT(one->legibility.hidden_frames[1], 0);
  EXPECT_EQ(both->legibility.hidden_frames[1], 0);
  EXPECT_EQ(both->legibility.seen_frames[1], 13);
  EXPECT_EQ(both->legibility.seen_camera_frames[1], 13 + one->legibility.seen_frames[1]);
}

TEST(Masks, MaskOverTheWholePictureHidesEverything) {
  v1::Shot shot = Sample(100);
  v1::Mask* mask = shot.mutable_cameras(0)->add_masks();
  mask->set_right(1);
  mask->set_bottom(1);
  v1::FrameRange* frames = mask->add_frames();
  frames->set_first(1001);
  frames->set_last(1010);
  const auto planned = PlanOrFail(SceneOf(shot), {});
  ASSERT_NE(planned, nullptr);
  for (const FrameRange& span : planned->legibility.spans) EXPECT_GT(span.last, 1000);
  for (uint32_t object = 0; object < planned->scene.objects.size(); ++object) {
    for (const FrameRange& span : planned->legibility.spans_of(object)) EXPECT_GT(span.first, 1010);
  }
}

TEST(Replaced, FramesOfADrawingNeedNeitherAnimatingNorRendering) {
  v1::Shot shot = Sample(300);
  const auto whole = PlanOrFail(SceneOf(shot), {});
  v1::FrameRange* frames = shot.add_replaced();
  frames->set_first(1001);
  frames->set_last(1100);
  const auto planned = PlanOrFail(SceneOf(shot), {});
  ASSERT_TRUE(whole != nullptr && planned != nullptr);
  for (uint32_t object = 0; object < planned->scene.objects.size(); ++object) {
    for (const FrameRange& span : AnimatedSpans(planned->scene, planned->legibility, *planned->style, object)) {
      EXPECT_GT(span.first, 1100) << planned->scene.objects.id[object];
    }
    EXPECT_LE(planned->legibility.rendered_megapixels[object], whole->legibility.rendered_megapixels[object]);
  }
  EXPECT_LT(planned->plan.totals.plan.anim_hours.mean, whole->plan.totals.plan.anim_hours.mean);
}

TEST(IndirectSight, ShadowCastersOffScreenAreAnimatedWhereTheyCast) {
  const auto shot = PlanOrFail(DemoScene(1500, 1), {});
  ASSERT_NE(shot, nullptr);
  int cast = 0;
  for (const Decision& decision : shot->plan.decisions) {
    if (decision.reason != Reason::kIndirectlySeen) continue;
    ++cast;
    EXPECT_GE(decision.tier, Tier::kProxy);
    const FrameSpans frames = IndirectFrames(shot->scene, decision.object);
    ASSERT_FALSE(frames.empty());
    if (!decision.needs_animation) continue;
    const FrameSpans animated = AnimatedSpans(shot->scene, shot->legibility, *shot->style, decision.object);
    EXPECT_TRUE(SubtractSpans(frames, animated).empty()) << shot->scene.objects.id[decision.object];
  }
  EXPECT_GT(cast, 0);
}

TEST(BySpan, ChoicesSaveWhatTheySayAndNothingIsLostByThem) {
  const auto shot = PlanOrFail(DemoScene(1500, 1), {});
  ASSERT_NE(shot, nullptr);
  double saved = 0;
  for (const Decision& decision : shot->plan.decisions) {
    const SpanChoice choice = SpanChoiceOf(shot->input(), decision);
    if (choice.spans.empty()) continue;
    EXPECT_GE(choice.saved_anim_hours, 0);
    EXPECT_GE(choice.saved_core_hours, 0);
    EXPECT_GT(choice.saved_anim_hours + choice.saved_core_hours, 0);
    saved += choice.saved_anim_hours;
    for (const SpanTier& span : choice.spans) EXPECT_LE(span.tier, decision.tier);
  }
  EXPECT_NEAR(shot->plan.totals.saved_by_span.anim_hours.mean, saved, 1e-6 * (1 + saved));
}

TEST(SharedHolds, WhatOneContainerHoldsSharesOneHoldWhenAsked) {
  const v1::Shot sample = Sample(1500);
  PlanFaults faults;
  const Stop stop;
  PlanRequest request;
  request.holds.share_in_containers = true;
  const auto planned =
      PlanShot(SceneOf(sample), {ShippedPolicy(), *ShippedPolicy().FindStyle("ink"), stop, {}}, request, faults);
  ASSERT_TRUE(planned.ok()) << planned.status();
  std::map<uint32_t, std::set<std::pair<int, int>>> by_container;
  for (uint32_t object = 0; object < (*planned)->scene.objects.size(); ++object) {
    const uint32_t container = (*planned)->scene.objects.container[object];
    if (container == kNone || ClassName(**planned, object) != "passenger") continue;
    by_container[container].insert({(*planned)->holds.pose[object], (*planned)->holds.phase[object]});
  }
  ASSERT_FALSE(by_container.empty());
  for (const auto& [container, holds] : by_container) EXPECT_EQ(holds.size(), 1u);
}

}  // namespace
}  // namespace scantling
