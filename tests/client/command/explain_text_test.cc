// One object's explanation, on an answer made by hand.

#include "client/command/explain_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace scantling::client {
namespace {

using testing::HasSubstr;
using testing::Not;

v1::ExplainDecisionResponse Answer(int frames) {
  v1::ExplainDecisionResponse answer;
  v1::Decision& decision = *answer.mutable_decision();
  decision.set_object_id("walker_7");
  decision.set_class_name("person");
  decision.set_tier(v1::PROXY);
  decision.set_reason_text("What a proxy leaves out is too small to be read.");
  v1::TierFigures* full = decision.add_tiers();
  full->set_tier(v1::FULL_RIG);
  full->set_allowed(true);
  full->set_anim_hours(12);
  v1::TierFigures* proxy = decision.add_tiers();
  proxy->set_tier(v1::PROXY);
  proxy->set_allowed(true);
  v1::TierFigures* omitted = decision.add_tiers();
  omitted->set_tier(v1::OMITTED);
  omitted->set_why_not("more than 4 octaves too coarse");
  decision.add_flips()->set_tier(v1::FULL_RIG);
  decision.mutable_flips(0)->set_size_factor(1.25);
  for (int i = 0; i < frames; ++i) {
    v1::FrameFigures* figures = answer.add_frames();
    figures->set_frame(1001 + i);
    figures->set_camera_id("quay");
    figures->set_seen(true);
    figures->set_height_px(20);
    figures->set_floor_px(2);
    figures->set_floor_term(v1::INK_LINE);
  }
  answer.mutable_totals()->set_rate_fps(24);
  answer.mutable_totals()->set_hours_per_animator_week(40);
  return answer;
}

TEST(ExplainText, TellsTierReasonTiersAndFlips) {
  const std::string text = ExplainText(Answer(3), {});
  EXPECT_THAT(text, testing::StartsWith("walker_7: proxy\n  What a proxy leaves out is too small to be read.\n"));
  EXPECT_THAT(text, testing::ContainsRegex("full rig +12 +0 +0 +0 +yes\n"));
  EXPECT_THAT(text, testing::ContainsRegex("proxy +0 +0 +0 +0 +chosen\n"));
  EXPECT_THAT(text, HasSubstr("no: more than 4 octaves too coarse"));
  EXPECT_THAT(text, HasSubstr("It would be full rig if it appeared 1.25 times as large"));
  EXPECT_THAT(text, HasSubstr("SEEN FROM quay\n"));
}

TEST(FlipsText, EveryKindOfFlipHasItsSentence) {
  v1::Decision decision;
  decision.add_flips()->set_tier(v1::PROXY);
  decision.mutable_flips(0)->set_price_factor(0.5);
  decision.add_flips()->set_tier(v1::OMITTED);
  decision.mutable_flips(1)->set_directive("the lamplighter stays full");
  const std::string text = FlipsText(decision);
  EXPECT_THAT(text, HasSubstr("proxy if every hour were worth 0.500 times"));
  EXPECT_THAT(text, HasSubstr("omitted but for the directive: the lamplighter stays full"));
  EXPECT_EQ(FlipsText(v1::Decision()), "");
}

TEST(FlipsText, BudgetFlipsNameTheBudgetAndThatThePlanIsRelaxed) {
  v1::Decision decision;
  decision.add_flips()->set_tier(v1::PROXY);
  decision.mutable_flips(0)->set_anim_hours(812);
  decision.add_flips()->set_tier(v1::OMITTED);
  decision.mutable_flips(1)->set_core_hours(0);  // no core-hours at all is a budget
  decision.add_flips()->set_tier(v1::FULL_RIG);
  decision.mutable_flips(2)->set_other_hours(30);
  const std::string text = FlipsText(decision, "effects");
  EXPECT_THAT(text, HasSubstr("With 812 animator-hours, all else as it is, it would become a proxy (relaxed plan:"));
  EXPECT_THAT(text, HasSubstr("With 0 core-hours, all else as it is, it would become omitted (relaxed plan:"));
  EXPECT_THAT(text, HasSubstr("With 30.0 effects-hours, all else as it is, it would become a full rig"));
  EXPECT_THAT(FlipsText(decision), HasSubstr("With 30.0 hours of the third department"));
}

TEST(DecisionText, TellsTheEarlierTierAndTheThirdDepartmentsHours) {
  v1::Decision decision;
  decision.set_tier(v1::PROXY);
  EXPECT_THAT(DecisionText(decision, {}, WorkUnit::kHours), Not(HasSubstr("earlier plan")));
  decision.set_earlier(v1::FULL_RIG);
  decision.set_other_hours(2.5);
  EXPECT_THAT(DecisionText(decision, {}, WorkUnit::kHours), HasSubstr("  In the earlier plan: full rig\n"));
  EXPECT_THAT(DecisionText(decision, {}, WorkUnit::kHours), HasSubstr("Hours of the third department: 2.5\n"));
  decision.set_earlier(v1::PROXY);
  EXPECT_THAT(DecisionText(decision, {}, WorkUnit::kHours), HasSubstr("In the earlier plan: proxy, as now\n"));
}

TEST(FramesTable, ShowsTwoDozenFramesFromFirstToLastUnlessAllAreWanted) {
  const std::string some = FramesTable(Answer(240), "quay", false);
  EXPECT_EQ(std::count(some.begin(), some.end(), '\n'), 1 + 24 + 1);  // heading, frames, what is left out
  EXPECT_THAT(some, HasSubstr("\n   1001  yes"));
  EXPECT_THAT(some, HasSubstr("\n   1240  yes"));
  EXPECT_THAT(some, HasSubstr("24 of 240 frames; all with --all"));
  const std::string all = FramesTable(Answer(240), "quay", true);
  EXPECT_EQ(std::count(all.begin(), all.end(), '\n'), 1 + 240);
  EXPECT_EQ(FramesTable(Answer(1), "quay", false).find("of 1 frames"), std::string::npos);
  EXPECT_EQ(FramesTable(Answer(1), "another", false), "");
}

TEST(ExplainText, ObjectNeverSeenSaysSo) {
  v1::ExplainDecisionResponse answer = Answer(2);
  for (auto& figures : *answer.mutable_frames()) figures.set_seen(false);
  EXPECT_THAT(ExplainText(answer, {}), HasSubstr("never seen"));
}

TEST(HoldsText, SaysWhatTheAnimatorMustKnow) {
  v1::Decision decision;
  EXPECT_EQ(HoldsText(decision), "");
  decision.set_still(true);
  EXPECT_THAT(HoldsText(decision), HasSubstr("Nothing to animate."));
  decision.set_kept_alive(true);
  EXPECT_THAT(HoldsText(decision), HasSubstr("kept alive"));
  decision.set_still(false);
  decision.set_hold(3);
  decision.set_poses_per_cycle(4.5);
  decision.set_phase(2);
  decision.set_path_jump_px(6);
  decision.set_path_split(v1::WITH_POSES);
  EXPECT_THAT(HoldsText(decision),
              HasSubstr("Poses stay 3 frames: its movement reads with 4.50 poses a cycle. A new pose"));
  EXPECT_THAT(HoldsText(decision), HasSubstr("starts 2 frames after the first frame"));
  EXPECT_THAT(HoldsText(decision), HasSubstr("goes with the poses, largest jump 6.00 px."));
  decision.set_path_split(v1::SPLIT);
  decision.set_path_hold(1);
  EXPECT_THAT(HoldsText(decision), HasSubstr("path on 1, largest jump 6.00 px"));
  decision.set_path_split(v1::WOULD_SLIP);
  decision.set_contact_slip_px(14);
  EXPECT_THAT(HoldsText(decision), HasSubstr("feet would slip 14.0 px"));
}

TEST(BySpanText, TellsTierAndHoldOfEachSpanAndWhatTheySave) {
  v1::Decision decision;
  EXPECT_EQ(BySpanText(decision), "");
  v1::SpanChoice::Span* span = decision.mutable_by_span()->add_spans();
  span->mutable_frames()->set_first(1001);
  span->mutable_frames()->set_last(1020);
  span->set_tier(v1::COLOUR_PATCH);
  decision.mutable_by_span()->set_saved_anim_hours(7);
  EXPECT_THAT(BySpanText(decision), testing::ContainsRegex("1001-1020 +colour patch +-\n"));
  EXPECT_THAT(BySpanText(decision), HasSubstr("Saves 7.0 animator-hours"));
}

TEST(DecisionText, TellsBandHiddenFramesAndWhatIsCast) {
  v1::Decision decision;
  decision.set_object_id("a");
  decision.set_near_m(12);
  decision.set_band("midground");
  decision.set_visible_fraction(0.4);
  decision.set_hidden_frames(7);
  decision.add_indirect()->set_first(1001);
  decision.mutable_indirect(0)->set_last(1010);
  const std::string text = DecisionText(decision, {}, WorkUnit::kHours);
  EXPECT_THAT(text, HasSubstr("in the midground; 40% of it\n  visible there"));
  EXPECT_THAT(text, HasSubstr("Hidden in 7 frames"));
  EXPECT_THAT(text, HasSubstr("light is seen in 1001-1010"));
}

}  // namespace
}  // namespace scantling::client
