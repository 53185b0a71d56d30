// What bounded a plan, its crowds, its memory, its third department, and what changed, on plans made by hand.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "client/command/plan_text.h"

namespace scantling::client {
namespace {

using testing::HasSubstr;
using testing::Not;

std::string Unwrapped(const std::string& text) { return absl::StrReplaceAll(text, {{"\n  ", " "}}); }

void AddLimit(v1::Plan& plan, const std::string& what, double most, double used, double price) {
  v1::Limit& limit = *plan.mutable_totals()->add_limits();
  limit.set_what(what);
  limit.set_most(most);
  limit.set_used(used);
  limit.set_price(price);
}

TEST(LimitsText, BudgetsComeFirstThenWhatPressesMost) {
  v1::Plan plan;
  plan.mutable_totals()->set_other_department("effects");
  AddLimit(plan, "memory in frame 1044, MB", 16000, 15990, 0.5);
  AddLimit(plan, "omitted of quay_crowd", 200, 200, 2);
  AddLimit(plan, "memory in frame 1045, MB", 16000, 9000, 0);
  AddLimit(plan, "core-hours", 90, 45, 0);
  AddLimit(plan, "effects", 30, 30, 0.25);
  EXPECT_EQ(LimitsText(plan, {}),
            "\n  WHAT BOUNDED IT           at most    used  loss won back per unit more\n"
            "  core-hours                   90.0    45.0                does not bind\n"
            "  effects-hours                30.0    30.0                        0.250\n"
            "  omitted of quay_crowd         200     200                         2.00\n"
            "  memory in frame 1044, MB   16,000  15,990                        0.500\n"
            "  1 more of crowds or frames were held to and do not bind\n");
  EXPECT_THAT(LimitsText(plan, {.all = true}), HasSubstr("memory in frame 1045, MB"));
}

TEST(LimitsText, ManyAreCounted) {
  v1::Plan plan;
  for (int i = 0; i < 40; ++i) AddLimit(plan, absl::StrCat("memory in frame ", i, ", MB"), 1, 1, 1 + i);
  const std::string text = LimitsText(plan, {});
  EXPECT_THAT(text, HasSubstr("memory in frame 39, MB"));  // the dearest
  EXPECT_THAT(text, Not(HasSubstr("memory in frame 27, MB")));
  EXPECT_THAT(text, HasSubstr("  and 28 more; all with --all\n"));  // 40 - 12
  EXPECT_THAT(LimitsText(plan, {.all = true}), HasSubstr("memory in frame 0, MB"));
}

TEST(LimitsText, NothingBoundedIsNoText) { EXPECT_EQ(LimitsText(v1::Plan(), {}), ""); }

TEST(CrowdsText, TellsWhatIsKeptTheEmptiestCellAndTheNearestTwins) {
  v1::Plan plan;
  v1::CrowdFigures& crowd = *plan.mutable_totals()->add_crowds();
  crowd.set_name("quay_crowd");
  crowd.set_members(400);
  crowd.set_seen(380);
  crowd.set_kept(190);
  crowd.set_keep_share(0.5);
  crowd.set_emptiest_column(3);
  crowd.set_emptiest_row(1);
  crowd.set_emptiest_share(0.41);
  crowd.set_least_covered_share(0.3);
  crowd.set_twin_a("walker_12");
  crowd.set_twin_b("walker_88");
  crowd.set_twins_px(34);
  crowd.set_twins_frame(1044);
  EXPECT_EQ(
      Unwrapped(CrowdsText(plan)),
      "\nCROWDS quay_crowd: 190 kept of 380 seen, 50% (asked for: at least 50%); 20 more are never seen. Emptiest "
      "cell: column 3, row 1, where 41% of what it covers is kept (asked for: at least 30%). Nearest twins: "
      "walker_12 and walker_88, 34.0 px apart in frame 1044.\n");
  crowd.set_emptiest_share(1);
  EXPECT_THAT(Unwrapped(CrowdsText(plan)), HasSubstr("In every cell of the picture all that it covers is kept."));
}

TEST(CrowdsText, SaysNothingOfWhatWasNotAskedFor) {
  v1::Plan plan;
  EXPECT_EQ(CrowdsText(plan), "");
  plan.mutable_totals()->add_crowds()->set_name("gulls");
  EXPECT_EQ(CrowdsText(plan), "\nCROWDS\n  gulls: 0 kept of 0 seen.\n");
}

TEST(MemoryText, TellsThePeakTheLimitAndWhereItCouldNotBeMet) {
  v1::Plan plan;
  EXPECT_EQ(MemoryText(plan), "");
  plan.mutable_totals()->set_peak_memory_mb(17250);
  plan.mutable_totals()->set_peak_memory_frame(1044);
  EXPECT_EQ(
      MemoryText(plan),
      "\nMEMORY\n  Most memory in one frame: 17,250 MB, in frame 1044 (what an asset needs counts once a frame).\n");
  plan.mutable_options()->set_memory_mb(16000);
  EXPECT_THAT(MemoryText(plan), HasSubstr("in frame 1044; allowed 16,000 MB (what"));
  v1::FrameRange& over = *plan.mutable_totals()->add_over_memory();
  over.set_first(1040);
  over.set_last(1052);
  EXPECT_THAT(Unwrapped(MemoryText(plan)), HasSubstr("Over the limit in frames 1040-1052: no plan was found"));
  over.set_last(1040);
  EXPECT_THAT(Unwrapped(MemoryText(plan)), HasSubstr("Over the limit in frame 1040: no plan was found"));
}

TEST(CostText, ThirdDepartmentStandsInATableOfItsOwn) {
  v1::Plan plan;
  EXPECT_THAT(CostText(plan, {}), Not(HasSubstr("COST OF")));
  v1::Totals& totals = *plan.mutable_totals();
  totals.set_other_department("effects");
  v1::Range& hours = *totals.mutable_plan()->mutable_other_hours();
  hours.set_p10(8);
  hours.set_p50(12);
  hours.set_p90(18);
  totals.mutable_saved_by_span()->mutable_anim_hours()->set_mean(3);
  const std::string text = CostText(plan, {});
  EXPECT_THAT(text, testing::ContainsRegex("COST OF EFFECTS, estimated +effects-hours P10 +P50 +P90\n"));
  EXPECT_THAT(text, testing::ContainsRegex("this plan +8.0 +12 +18\n"));
  // By span only animator-hours are saved: that line stands in the first table and not in the second.
  EXPECT_EQ(text.find("tier and hold of each span"), text.rfind("tier and hold of each span"));
}

TEST(CostText, SharedSetUpsAreTold) {
  v1::Plan plan;
  EXPECT_THAT(CostText(plan, {}), Not(HasSubstr("once an asset")));
  plan.mutable_totals()->set_shared_anim_hours(120);
  EXPECT_THAT(CostText(plan, {}), HasSubstr("Of these 120 animator-hours are set-ups that are paid once an asset"));
}

TEST(ProofText, PriceOfTheThirdDepartmentIsToldByItsName) {
  v1::Plan plan;
  plan.mutable_options()->set_other_hours(10);
  plan.mutable_totals()->set_other_department("effects");
  plan.mutable_totals()->set_price_other_hour(0.25);
  EXPECT_THAT(Unwrapped(ProofText(plan)), HasSubstr("One more effects-hour would win back about 0.250"));
}

TEST(HeaderText, NamesEveryBudget) {
  v1::Plan plan;
  plan.set_mode("budget");
  plan.mutable_options()->set_memory_mb(16000);
  EXPECT_THAT(HeaderText(plan, {}), HasSubstr("   within 16,000 MB a frame   "));
  plan.mutable_options()->set_anim_hours(400);
  plan.mutable_options()->set_other_hours(30);
  plan.mutable_totals()->set_other_department("effects");
  EXPECT_THAT(HeaderText(plan, {}), HasSubstr("within 400 animator-hours, 30.0 effects-hours and 16,000 MB a frame"));
}

v1::Decision Changed(const std::string& id, v1::Tier earlier, v1::Tier now, double loss) {
  v1::Decision decision;
  decision.set_object_id(id);
  decision.set_earlier(earlier);
  decision.set_tier(now);
  decision.set_loss(loss);
  decision.set_reason(v1::TRADED);
  return decision;
}

v1::Plan Replanned() {
  v1::Plan plan;
  v1::Totals& totals = *plan.mutable_totals();
  totals.set_objects(1503);
  v1::Steadiness& steadiness = *totals.mutable_steadiness();
  steadiness.set_earlier(1500);
  steadiness.set_changed(2);
  steadiness.set_changed_freely(31);
  steadiness.set_loss(0.003);
  *plan.add_decisions() = Changed("little", v1::FULL_RIG, v1::PROXY, 0.5);
  *plan.add_decisions() = Changed("same", v1::PROXY, v1::PROXY, 3);
  *plan.add_decisions() = Changed("much", v1::PROXY, v1::OMITTED, 2);
  *plan.add_decisions() = Changed("added", v1::TIER_UNSPECIFIED, v1::PROXY, 4);
  return plan;
}

TEST(ChangeText, ListsWhatChangedMostLossFirstAndWhatKeepingCosts) {
  EXPECT_EQ(ChangeText(Replanned(), {}),
            "\nCHANGED since the earlier plan: 2\n"
            "  object  was       is       hours   loss  why\n"
            "  much    proxy     omitted      0   2.00  given up for the budget\n"
            "  little  full rig  proxy        0  0.500  given up for the budget\n"
            "  2 of 1,500 decisions changed; 31 would have, had nothing been kept. Keeping to it costs 0.00300 "
            "frame-octaves. 3\n"
            "  objects were not in it.\n");
}

TEST(ChangeText, WithoutAnEarlierPlanSaysNothing) {
  v1::Plan plan = Replanned();
  plan.mutable_totals()->clear_steadiness();
  EXPECT_EQ(ChangeText(plan, {}), "");
}

TEST(ChangeText, NothingChangedIsSaid) {
  v1::Plan plan;
  plan.mutable_totals()->mutable_steadiness()->set_unknown(1);
  EXPECT_EQ(ChangeText(plan, {}),
            "\nCHANGED since the earlier plan: 0\n"
            "  0 of 0 decisions changed; 0 would have, had nothing been kept. Keeping to it costs no loss. 1 earlier "
            "decision is on\n"
            "  objects that this shot does not have.\n");
  // Within its gap the plan that keeps nothing may have been the worse one.
  plan.mutable_totals()->mutable_steadiness()->set_loss(-1e-5);
  EXPECT_THAT(Unwrapped(ChangeText(plan, {})), HasSubstr("costs no loss that was proved"));
}

TEST(ChangeText, FifteenUnlessAllAreWanted) {
  v1::Plan plan = Replanned();
  for (int i = 0; i < 20; ++i) *plan.add_decisions() = Changed("x", v1::FULL_RIG, v1::PROXY, 0.1);
  EXPECT_THAT(ChangeText(plan, {}), HasSubstr("  and 7 more; all with --all\n"));  // 22 - 15
  EXPECT_THAT(ChangeText(plan, {.all = true}), Not(HasSubstr("--all")));
}

TEST(PlanText, PartsStandInTheirOrder) {
  v1::Plan plan = Replanned();
  plan.mutable_totals()->set_peak_memory_mb(1);
  AddLimit(plan, "core-hours", 1, 1, 1);
  plan.mutable_totals()->add_crowds()->set_name("gulls");
  const std::string text = PlanText(plan, {});
  size_t at = 0;
  for (const char* part :
       {"NEEDS ANIMATING", "THE REST", "CHANGED", "COST", "MEMORY", "WHAT BOUNDED IT", "CROWDS", "LOSS AND PROOF"}) {
    const size_t next = text.find(part);
    ASSERT_NE(next, text.npos) << part;
    EXPECT_GE(next, at) << part;
    at = next;
  }
}

}  // namespace
}  // namespace scantling::client
