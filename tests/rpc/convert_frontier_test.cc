// Points and summaries made by hand, written.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <utility>

#include "server/rpc/convert.h"

namespace scantling {
namespace {

FrontierPoint APoint() {
  FrontierPoint point;
  point.index = 7;
  point.limits.anim_hours = 120.5;
  point.limits.other_hours = 30;
  point.fits = true;
  point.loss = 4.5;
  point.loss_bound = 4.25;
  point.gap = 0.25 / 4.5;
  point.used = {120, 80, 29};
  point.price = {0.5, 0.125, 0.25};
  point.price_per_step = 1.75;
  point.count[static_cast<size_t>(Index(Tier::kFullRig))] = 1;
  point.count[static_cast<size_t>(Index(Tier::kProxy))] = 2;
  point.count[static_cast<size_t>(Index(Tier::kColourPatch))] = 3;
  point.count[static_cast<size_t>(Index(Tier::kOmitted))] = 4;
  point.needs_animation = 5;
  return point;
}

TEST(FrontierToProto, EveryFigureOfAPoint) {
  const v1::FrontierPoint out = ToProto(APoint());
  EXPECT_EQ(out.index(), 7);
  EXPECT_EQ(out.anim_hours(), 120.5);
  EXPECT_FALSE(out.has_core_hours());
  EXPECT_EQ(out.other_hours(), 30);
  EXPECT_TRUE(out.fits());
  EXPECT_EQ(out.loss(), 4.5);
  EXPECT_EQ(out.loss_bound(), 4.25);
  EXPECT_EQ(out.gap(), 0.25 / 4.5);
  EXPECT_EQ(out.used_anim_hours(), 120);
  EXPECT_EQ(out.used_core_hours(), 80);
  EXPECT_EQ(out.used_other_hours(), 29);
  EXPECT_EQ(out.price_anim_hour(), 0.5);
  EXPECT_EQ(out.price_core_hour(), 0.125);
  EXPECT_EQ(out.price_other_hour(), 0.25);
  EXPECT_EQ(out.price_per_step(), 1.75);
  EXPECT_EQ(out.full_rig(), 1);
  EXPECT_EQ(out.proxy(), 2);
  EXPECT_EQ(out.colour_patch(), 3);
  EXPECT_EQ(out.omitted(), 4);
  EXPECT_EQ(out.needs_animation(), 5);
}

TEST(FrontierToProto, WhereNothingFitsOnlyTheLimitsAreTold) {
  FrontierPoint point = APoint();
  point.fits = false;
  v1::FrontierPoint limits;
  limits.set_index(7);
  limits.set_anim_hours(120.5);
  limits.set_other_hours(30);
  EXPECT_EQ(ToProto(point).SerializeAsString(), limits.SerializeAsString());
}

Frontier AFrontier() {
  Frontier frontier;
  frontier.shot_id = "qy_010";
  frontier.style = "ink";
  frontier.points.resize(3);
  frontier.knee = 0;  // the first point is one too
  frontier.nothing_lost.emplace();
  frontier.nothing_lost->anim_hours = 200;
  frontier.nothing_lost->core_hours = 90;
  frontier.nothing_lost->other_hours = 40;
  frontier.clocks = {{"measuring", 1.5}, {"solving", 2.5}};
  return frontier;
}

Policy WithEffects() {
  Policy policy;
  policy.rates.name = "shipped";
  policy.rates.other_department = "effects";
  return policy;
}

TEST(SummaryToProto, TellsOfTheWholeSweep) {
  const v1::FrontierSummary out = SummaryToProto(AFrontier(), {}, WithEffects());
  EXPECT_EQ(out.shot_id(), "qy_010");
  EXPECT_EQ(out.style(), "ink");
  EXPECT_EQ(out.points(), 3);
  ASSERT_TRUE(out.has_knee());
  EXPECT_EQ(out.knee(), 0);
  EXPECT_THAT(out.estimate_note(), testing::HasSubstr("rate card \"shipped\""));
  ASSERT_EQ(out.stage_times_size(), 2);
  EXPECT_EQ(out.stage_times(1).stage(), "solving");
  EXPECT_EQ(out.stage_times(1).milliseconds(), 2.5);
  EXPECT_EQ(out.other_department(), "effects");
}

TEST(SummaryToProto, LeastBudgetsAreThoseOfTheSweepAlone) {
  using Sent = v1::TraceFrontierRequest;
  FrontierRequest sweep;
  const std::pair<Along, Sent::Along> all[] = {{Along::kAnimHours, Sent::ANIM_HOURS},
                                               {Along::kCoreHours, Sent::CORE_HOURS},
                                               {Along::kOtherHours, Sent::OTHER_HOURS},
                                               {Along::kBoth, Sent::BOTH}};
  for (const auto& [along, sent] : all) {
    sweep.along = along;
    const v1::FrontierSummary out = SummaryToProto(AFrontier(), sweep, WithEffects());
    EXPECT_EQ(out.along(), sent);
    EXPECT_EQ(out.has_nothing_lost_anim_hours(), along == Along::kAnimHours || along == Along::kBoth);
    EXPECT_EQ(out.has_nothing_lost_core_hours(), along == Along::kCoreHours || along == Along::kBoth);
    EXPECT_EQ(out.has_nothing_lost_other_hours(), along == Along::kOtherHours);
    if (along == Along::kBoth) {
      EXPECT_EQ(out.nothing_lost_anim_hours(), 200);
      EXPECT_EQ(out.nothing_lost_core_hours(), 90);
    }
    if (along == Along::kOtherHours) {
      EXPECT_EQ(out.nothing_lost_other_hours(), 40);
    }
  }
}

TEST(SummaryToProto, WhatIsNotKnownIsNotSet) {
  Frontier frontier = AFrontier();
  frontier.knee.reset();
  frontier.nothing_lost.reset();
  const v1::FrontierSummary out = SummaryToProto(frontier, {}, Policy());
  EXPECT_FALSE(out.has_knee());
  EXPECT_FALSE(out.has_nothing_lost_anim_hours());
  EXPECT_EQ(out.other_department(), "");
}

TEST(ProgressToProto, StagesAreTheApis) {
  const std::pair<const char*, const char*> all[] = {{"receiving", "receiving"}, {"measuring", "measuring"},
                                                     {"pricing", "choosing"},    {"choosing", "choosing"},
                                                     {"solving", "choosing"},    {"answering", "answering"}};
  for (const auto& [stage, told] : all) {
    const v1::Progress progress = ProgressToProto(stage, 0.5, 12);
    EXPECT_EQ(progress.stage(), told);
    EXPECT_EQ(progress.fraction(), 0.5);
    EXPECT_EQ(progress.objects(), 12);
  }
}

}  // namespace
}  // namespace scantling
