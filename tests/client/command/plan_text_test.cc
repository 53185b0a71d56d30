// The report a layout artist reads, on small plans made by hand.

#include "client/command/plan_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_replace.h"

namespace scantling::client {
namespace {

using testing::HasSubstr;
using testing::Not;

void AddObject(v1::Plan& plan, const std::string& id, v1::Tier tier, v1::Reason reason, double hours) {
  v1::Decision* decision = plan.add_decisions();
  decision->set_object_id(id);
  decision->set_class_name("person");
  decision->set_tier(tier);
  decision->set_reason(reason);
  if (hours == 0) return;
  decision->set_needs_animation(true);
  decision->set_anim_hours(hours);
  decision->set_hold(2);
  decision->add_animated()->set_first(1001);
  decision->mutable_animated(0)->set_last(1240);
}

v1::Plan QuayPlan() {
  v1::Plan plan;
  plan.set_shot_id("qy_0100");
  plan.set_style("ink");
  plan.set_mode("unseen");
  plan.mutable_frames()->set_first(1001);
  plan.mutable_frames()->set_last(1240);
  plan.mutable_rate()->set_numerator(24);
  plan.mutable_rate()->set_denominator(1);
  plan.set_estimate_note("These figures are estimates.");
  v1::Totals& totals = *plan.mutable_totals();
  totals.set_objects(7);
  totals.set_full_rig(1);
  totals.set_proxy(4);
  totals.set_omitted(2);
  totals.set_hours_per_animator_week(40);
  totals.set_rate_fps(24);
  totals.set_proved_optimal(true);
  AddObject(plan, "lamplighter", v1::FULL_RIG, v1::READ_IN_FULL, 38.4);
  plan.mutable_decisions(0)->set_reason_text("Its detail is read from 1001 to 1240.");
  for (const char* id : {"walker_1", "walker_2", "walker_3", "walker_4"}) {
    AddObject(plan, id, v1::PROXY, v1::UNREADABLE, 1.5);
  }
  AddObject(plan, "far_1", v1::OMITTED, v1::OFF_SCREEN, 0);
  AddObject(plan, "far_2", v1::OMITTED, v1::OFF_SCREEN, 0);
  return plan;
}

// A wrapped paragraph on one line.
std::string Unwrapped(const std::string& text) { return absl::StrReplaceAll(text, {{"\n  ", " "}}); }

TEST(AnimationListText, AlikeOnesAreDrawnTogetherAndNamedOnesStandAlone) {
  EXPECT_EQ(AnimationListText(QuayPlan(), {}),
            "\nNEEDS ANIMATING: 5 of 7\n"
            "  object        class   tier      frames        hold  hours  why\n"
            "  lamplighter   person  full rig  1001-1240        2     38  Its detail is read from 1001 to 1240.\n"
            // four of 1.5 hours
            "  walker_1 + 3  person  proxy     in 1001-1240     2    6.0  what is left out is too small to be read\n");
}

TEST(AnimationListText, AllMeansOneLineEach) {
  const std::string text = AnimationListText(QuayPlan(), {.all = true});
  for (const char* id : {"walker_1 ", "walker_2 ", "walker_3 ", "walker_4 "}) EXPECT_THAT(text, HasSubstr(id));
  EXPECT_THAT(text, Not(HasSubstr(" + ")));
}

TEST(AnimationListText, UnitIsTheReadersChoice) {
  // 240 frames are 15 feet, and four times that 60.
  const std::string text = AnimationListText(QuayPlan(), {.unit = WorkUnit::kFeet});
  EXPECT_THAT(text, HasSubstr("hold  feet  why\n"));
  EXPECT_THAT(text, HasSubstr("2    15  Its detail"));
  EXPECT_THAT(text, HasSubstr("2    60  what"));
}

TEST(RestText, IsCountedByTierAndReason) {
  EXPECT_EQ(RestText(QuayPlan(), {}),
            "\nTHE REST, not animated: 2\n"
            "  tier     objects  core-hours  loss  why                          classes\n"
            "  omitted        2           0     0  no shot camera ever sees it  person 2\n");
}

TEST(RestText, ManyClassesAreSummedUp) {
  v1::Plan plan;
  for (const char* name : {"a", "b", "c", "d", "e", "f", "a"}) {
    AddObject(plan, "x", v1::OMITTED, v1::OFF_SCREEN, 0);
    plan.mutable_decisions(plan.decisions_size() - 1)->set_class_name(name);
  }
  EXPECT_THAT(RestText(plan, {}), HasSubstr("a 2, b 1, c 1, d 1, 2 other classes 2\n"));
}

TEST(HeaderText, SaysModeAndWhatIsShown) {
  v1::Plan plan = QuayPlan();
  EXPECT_THAT(HeaderText(plan, {}),
              HasSubstr("Shot qy_0100   style ink   nothing visible given up   frames 1001-1240 at 24 fps"));
  plan.set_mode("budget");
  plan.mutable_options()->set_anim_hours(400);
  plan.mutable_options()->set_core_hours(12.5);
  EXPECT_THAT(HeaderText(plan, {}), HasSubstr("within 400 animator-hours and 12.5 core-hours"));
  EXPECT_THAT(HeaderText(plan, {.filter_text = "tier proxy"}), HasSubstr("Shown: 7 of 7 (tier proxy)"));
}

TEST(CostText, RangesStandSideBySide) {
  v1::Plan plan = QuayPlan();
  v1::Range& anim = *plan.mutable_totals()->mutable_plan()->mutable_anim_hours();
  anim.set_mean(44.4);
  anim.set_p10(31.2);
  anim.set_p50(42.7);
  anim.set_p90(61.8);
  plan.mutable_totals()->set_animator_weeks(1.11);
  const std::string text = CostText(plan, {});
  EXPECT_THAT(text, testing::ContainsRegex("this plan +31 +43 +62 +0 +0 +0\n"));
  EXPECT_THAT(text, HasSubstr("mean: 44 animator-hours = 1.1 animator-weeks of 40.0 h"));
  EXPECT_THAT(text, Not(HasSubstr("bought")));  // nothing is bought where nothing visible is given up
  plan.set_mode("budget");
  EXPECT_THAT(CostText(plan, {}), HasSubstr("of it bought: some visible loss"));
}

TEST(ProofText, NoLossIsSaidInWords) {
  const std::string text = ProofText(QuayPlan());
  EXPECT_THAT(text, HasSubstr("No visible loss"));
}

TEST(ProofText, GapAndPricesAreSaidInWords) {
  v1::Plan plan = QuayPlan();
  plan.set_mode("budget");
  plan.mutable_options()->set_anim_hours(400);
  plan.mutable_options()->set_core_hours(10);
  v1::Totals& totals = *plan.mutable_totals();
  totals.set_loss(12.5);
  totals.set_loss_bound(12.0);
  totals.set_gap(0.04);
  totals.set_proved_optimal(false);
  totals.set_price_anim_hour(0.75);
  const std::string text = Unwrapped(ProofText(plan));
  EXPECT_THAT(text, HasSubstr("Visible loss 12.5 frame-octaves"));
  EXPECT_THAT(text, HasSubstr("loses less than 12.0"));
  EXPECT_THAT(text, HasSubstr("4.00% from"));
  EXPECT_THAT(text, HasSubstr("One more animator-hour would win back about 0.750"));
  EXPECT_THAT(text, HasSubstr("does not bind"));
  totals.set_interrupted(true);
  EXPECT_THAT(ProofText(plan), HasSubstr("Cut short by the time limit"));
}

TEST(PlanText, EndsWithWhatTheFiguresAre) {
  EXPECT_THAT(
      PlanText(QuayPlan(), {}),
      testing::EndsWith("\n  These figures are estimates. They decide nobody's job or schedule by themselves.\n"));
}

TEST(PlanText, EmptyPlanIsStillAReport) {
  const std::string text = PlanText(v1::Plan(), {});
  EXPECT_THAT(text, HasSubstr("NEEDS ANIMATING: 0 of 0"));
}

TEST(PlanText, HostileIdsCannotSteerTheTerminal) {
  v1::Plan plan = QuayPlan();
  plan.set_shot_id("\x1B]0;x\x07");
  plan.mutable_decisions(0)->set_object_id("\x1B[31m");
  EXPECT_THAT(PlanText(plan, {}), Not(HasSubstr("\x1B")));
}

}  // namespace
}  // namespace scantling::client
