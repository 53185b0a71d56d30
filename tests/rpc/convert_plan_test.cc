// Plans of a real shot under the shipped policy, written and read back.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>

#include "server/policy/load.h"
#include "tests/rpc/shot_maker.h"

namespace scantling {
namespace {

const Policy& ShippedPolicy() {
  static const absl::StatusOr<Policy> policy = LoadPolicy(SCANTLING_SOURCE_DIR "/config", "ink");
  EXPECT_TRUE(policy.ok()) << policy.status();
  return *policy;
}

// "ada" and "ben" ten metres before the camera, "zoe" behind it.
std::unique_ptr<PlannedShot> PlanSmall() {
  v1::Shot shot = MakeShot();
  v1::SceneObject& zoe = *shot.add_objects();
  FillPerson(zoe, "zoe");
  zoe.set_asset_id("zoe_rig");
  zoe.mutable_transform()->set_matrices(14, 10);
  Violations violations;
  Scene scene = SceneFromProto(shot, ShippedPolicy().catalogue, SceneLimits(), violations);
  EXPECT_TRUE(violations.empty());
  const Stop stop;
  PlanFaults faults;
  auto planned = PlanShot(std::move(scene), {ShippedPolicy(), *ShippedPolicy().FindStyle("ink"), stop, nullptr},
                          PlanRequest(), faults);
  EXPECT_TRUE(planned.ok()) << planned.status();
  return *std::move(planned);
}

TEST(PlanToProto, EveryObjectHasItsDecisionById) {
  const auto planned = PlanSmall();
  v1::PlanShotResponse response;
  v1::PlanOptions options;
  options.set_style("ink");
  ToProto(*planned, options, response);
  const v1::Plan& plan = response.plan();
  EXPECT_EQ(plan.shot_id(), "qy_0010");
  EXPECT_EQ(plan.style(), "ink");
  EXPECT_EQ(plan.mode(), "unseen");
  EXPECT_EQ(plan.frames().last(), 1004);
  EXPECT_EQ(plan.rate().numerator(), 24);
  EXPECT_EQ(plan.options().style(), "ink");
  EXPECT_THAT(plan.estimate_note(), testing::HasSubstr("estimates"));
  ASSERT_EQ(plan.decisions_size(), 3);
  EXPECT_EQ(plan.decisions(0).object_id(), "ada");
  EXPECT_EQ(plan.decisions(1).object_id(), "ben");
  EXPECT_EQ(plan.decisions(2).object_id(), "zoe");
  EXPECT_EQ(response.stage_times_size(), static_cast<int>(planned->clocks.size()));
}

TEST(PlanToProto, WhatIsSeenHasFiguresAndWhatIsNotHasNone) {
  const auto planned = PlanSmall();
  const v1::Decision ada = DecisionToProto(*planned, 0), zoe = DecisionToProto(*planned, 2);
  // 1.75 m at the near face, 10 - 0.125 m off: 35 / 15 * 858 / 9.875 * 1.75 = 354.786 px; a float away.
  EXPECT_NEAR(ada.height_px(), 35.0 / 15 * 858 / 9.875 * 1.75, 354.8 * 1e-6);
  EXPECT_EQ(ada.class_name(), "person");
  EXPECT_NE(ada.floor_term(), v1::FLOOR_TERM_UNSPECIFIED);
  EXPECT_GT(ada.floor_px(), 0);
  ASSERT_EQ(ada.seen_size(), 1);
  EXPECT_EQ(ada.seen(0).first(), 1001);
  EXPECT_EQ(ada.seen(0).last(), 1004);
  EXPECT_FALSE(ada.reason_text().empty());

  EXPECT_EQ(zoe.tier(), v1::OMITTED);
  EXPECT_EQ(zoe.reason(), v1::OFF_SCREEN);
  EXPECT_EQ(zoe.asset_id(), "zoe_rig");
  EXPECT_EQ(zoe.floor_term(), v1::FLOOR_TERM_UNSPECIFIED);
  EXPECT_EQ(zoe.height_px(), 0);
  EXPECT_EQ(zoe.seen_size(), 0);
  EXPECT_EQ(zoe.animated_size(), 0);
  EXPECT_EQ(zoe.hold(), 0);
}

TEST(PlanToProto, TotalsAgreeWithTheDecisions) {
  const auto planned = PlanSmall();
  v1::PlanShotResponse response;
  ToProto(*planned, {}, response);
  const v1::Totals& totals = response.plan().totals();
  int64_t omitted = 0, animated = 0;
  double loss = 0, anim_hours = 0;
  for (const v1::Decision& decision : response.plan().decisions()) {
    omitted += decision.tier() == v1::OMITTED;
    animated += decision.needs_animation();
    loss += decision.loss();
    anim_hours += decision.anim_hours();
  }
  EXPECT_EQ(totals.objects(), 3);
  EXPECT_EQ(totals.full_rig() + totals.proxy() + totals.colour_patch() + totals.omitted(), 3);
  EXPECT_EQ(totals.omitted(), omitted);
  EXPECT_EQ(totals.needs_animation(), animated);
  // Sums of three doubles against sums of integers of 1e-10 and 1e-6.
  EXPECT_NEAR(totals.loss(), loss, 1e-9);
  EXPECT_NEAR(totals.plan().anim_hours().mean(), anim_hours, 1e-8);
  ASSERT_EQ(totals.unseen_saving_size(), 3);
  EXPECT_EQ(totals.unseen_saving(0).phi_scale(), 0.5);
  EXPECT_EQ(totals.unseen_saving(2).phi_scale(), 1.5);
  EXPECT_EQ(totals.rate_fps(), 24);
  EXPECT_EQ(totals.hours_per_animator_week(), ShippedPolicy().rates.hours_per_animator_week);
  // Every range is in order.
  EXPECT_LE(totals.plan().anim_hours().p10(), totals.plan().anim_hours().p50());
  EXPECT_LE(totals.plan().anim_hours().p50(), totals.plan().anim_hours().p90());
}

TEST(PlanToProto, ExplanationsShowEveryTierAndFrame) {
  const auto planned = PlanSmall();
  v1::ExplainDecisionResponse ben;
  ExplanationToProto(*planned, 1, Stop(), ben);
  EXPECT_EQ(ben.decision().object_id(), "ben");
  ASSERT_EQ(ben.decision().tiers_size(), 4);
  EXPECT_EQ(ben.decision().tiers(0).tier(), v1::FULL_RIG);
  EXPECT_EQ(ben.decision().tiers(3).tier(), v1::OMITTED);
  EXPECT_EQ(ben.decision().tiers(0).loss(), 0);
  // The directive forbids what lies below PROXY, and says so.
  EXPECT_TRUE(ben.decision().tiers(1).allowed());
  EXPECT_FALSE(ben.decision().tiers(2).allowed());
  EXPECT_FALSE(ben.decision().tiers(3).allowed());
  EXPECT_FALSE(ben.decision().tiers(3).why_not().empty());
  ASSERT_EQ(ben.frames_size(), 4);
  EXPECT_EQ(ben.frames(3).frame(), 1004);
  EXPECT_EQ(ben.frames(0).camera_id(), "main");
  EXPECT_TRUE(ben.frames(0).seen());
  EXPECT_EQ(ben.frames(0).floor_terms_px_size(), 6);
  EXPECT_EQ(ben.totals().objects(), 3);

  v1::ExplainDecisionResponse zoe;
  ExplanationToProto(*planned, 2, Stop(), zoe);
  ASSERT_EQ(zoe.frames_size(), 4);
  EXPECT_FALSE(zoe.frames(0).seen());
  EXPECT_EQ(zoe.frames(0).floor_terms_px_size(), 0);
}

TEST(ToProto, EnumsGoByName) {
  for (const Tier tier : kAllTiers) EXPECT_EQ(v1::Tier_Name(ToProto(tier)), Name(tier));
  const std::vector<std::pair<Reason, const char*>> reasons = {{Reason::kReadInFull, "READ_IN_FULL"},
                                                               {Reason::kOffScreen, "OFF_SCREEN"},
                                                               {Reason::kHidden, "HIDDEN"},
                                                               {Reason::kUnreadable, "UNREADABLE"},
                                                               {Reason::kTraded, "TRADED"},
                                                               {Reason::kDirective, "DIRECTIVE"},
                                                               {Reason::kPaintedIn, "PAINTED_IN"},
                                                               {Reason::kIndirectlySeen, "INDIRECTLY_SEEN"},
                                                               {Reason::kWorkDone, "WORK_DONE"},
                                                               {Reason::kTooSmall, "TOO_SMALL"},
                                                               {Reason::kContainerOmitted, "CONTAINER_OMITTED"},
                                                               {Reason::kHoldsContents, "HOLDS_CONTENTS"},
                                                               {Reason::kReplaced, "REPLACED"},
                                                               {Reason::kKeptAsBefore, "KEPT_AS_BEFORE"},
                                                               {Reason::kCrowdShare, "CROWD_SHARE"},
                                                               {Reason::kLikeItsTwins, "LIKE_ITS_TWINS"}};
  for (const auto& [reason, name] : reasons) EXPECT_EQ(v1::Reason_Name(ToProto(reason)), name);
  const std::vector<std::pair<FloorTerm, const char*>> terms = {
      {FloorTerm::kAcuity, "ACUITY"},          {FloorTerm::kInkLine, "INK_LINE"},
      {FloorTerm::kPlateShift, "PLATE_SHIFT"}, {FloorTerm::kMotionBlur, "MOTION_BLUR"},
      {FloorTerm::kDefocus, "DEFOCUS"},        {FloorTerm::kAttention, "ATTENTION"}};
  for (const auto& [term, name] : terms) EXPECT_EQ(v1::FloorTerm_Name(ToProto(term)), name);
}

}  // namespace
}  // namespace scantling
