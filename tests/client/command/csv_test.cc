// CSV by the rules of RFC 4180 section 2, and the formula guard.

#include "client/command/csv.h"

#include <gtest/gtest.h>

#include <cmath>
#include <sstream>

#include "client/command/plan_csv.h"

namespace scantling::client {
namespace {

TEST(CsvCell, QuotesOnlyWhereTheRulesAskForIt) {
  EXPECT_EQ(CsvCell("plain text"), "plain text");
  EXPECT_EQ(CsvCell(""), "");
  EXPECT_EQ(CsvCell("a,b"), "\"a,b\"");
  EXPECT_EQ(CsvCell("say \"no\""), "\"say \"\"no\"\"\"");
  EXPECT_EQ(CsvCell("two\nlines"), "\"two\nlines\"");
  EXPECT_EQ(CsvCell("two\rlines"), "\"two\rlines\"");
}

TEST(CsvRecord, EndsWithCarriageReturnAndLineFeed) {
  EXPECT_EQ(CsvRecord({"a", "", "c"}), "a,,c\r\n");
  EXPECT_EQ(CsvRecord({}), "\r\n");
}

TEST(FormulaSafe, PutsAnApostropheBeforeWhatWouldRun) {
  for (const char* risky : {"=1+1", "+1", "-1", "@sum", "\tx", "\rx", "\nx"}) {
    EXPECT_EQ(FormulaSafe(risky), std::string("'") + risky);
  }
  EXPECT_EQ(FormulaSafe("walker=1"), "walker=1");
  EXPECT_EQ(FormulaSafe(""), "");
}

TEST(CsvNumber, ReadsBackTheSame) {
  for (const double value : {0.1, 1.0 / 3, 1e-300, -2.5e9, 0.0}) EXPECT_EQ(std::stod(CsvNumber(value)), value);
  EXPECT_EQ(CsvNumber(0.1), "0.1");
  EXPECT_EQ(CsvNumber(std::nan("")), "nan");
}

v1::Plan OneObject() {
  v1::Plan plan;
  plan.mutable_totals()->set_rate_fps(24);
  plan.mutable_totals()->set_hours_per_animator_week(40);
  v1::Decision* decision = plan.add_decisions();
  decision->set_object_id("=cmd, or so");
  decision->set_class_name("person");
  decision->set_tier(v1::PROXY);
  decision->set_reason(v1::UNREADABLE);
  decision->set_needs_animation(true);
  decision->add_animated()->set_first(1);
  decision->mutable_animated(0)->set_last(24);
  decision->add_animated()->set_first(33);
  decision->mutable_animated(1)->set_last(40);
  decision->set_hold(3);
  decision->set_anim_hours(10);
  decision->set_floor_term(v1::INK_LINE);
  decision->set_path_hold(1);
  decision->set_path_split(v1::SPLIT);
  decision->set_phase(2);
  decision->set_poses_per_cycle(4.5);
  decision->add_indirect()->set_first(7);
  decision->mutable_indirect(0)->set_last(9);
  decision->set_hidden_frames(12);
  decision->set_visible_fraction(0.25);
  decision->set_band("midground");
  decision->set_other_hours(2.5);
  decision->set_earlier(v1::FULL_RIG);
  return plan;
}

TEST(PlanCsv, HeaderNamesAreStableAndCarryTheirUnits) {
  const std::string csv = PlanCsv(v1::Plan(), false);
  EXPECT_EQ(csv,
            "object_id,class_name,asset_id,container_id,tier,reason,reason_text,needs_animation,animated_frames,"
            "hold_frames,anim_hours,animator_weeks,animated_seconds,animated_feet,core_hours,loss_frame_octaves,"
            "seen_frames,height_px,floor_px,floor_term,largest_frame,near_m,apparent_m,"
            "path_hold_frames,path_split,phase_frames,poses_per_cycle,path_jump_px,contact_slip_px,still,kept_alive,"
            "saved_by_span_anim_hours,saved_by_span_core_hours,indirect_frames,hidden_frames,visible_fraction,band,"
            "other_hours,earlier_tier\r\n");
}

TEST(PlanCsv, RecordHoldsEveryColumnOfTheDecision) {
  const std::string csv = PlanCsv(OneObject(), false);
  const std::string record = csv.substr(csv.find("\r\n") + 2);
  // 24 + 8 = 32 frames: 32 / 24 s, 32 / 16 = 2 feet; 10 / 40 = 0.25 weeks. 4/3 in its shortest form.
  EXPECT_EQ(record,
            "\"'=cmd, or so\",person,,,PROXY,UNREADABLE,,true,1-24 33-40,3,10,0.25,1.3333333333333333,2,0,0,,0,0,"
            "INK_LINE,0,0,0,1,SPLIT,2,4.5,0,0,false,false,0,0,7-9,12,0.25,midground,2.5,FULL_RIG\r\n");
}

TEST(PlanCsv, ObjectThatWasNotInTheEarlierPlanHasAnEmptyCell) {
  v1::Plan plan;
  plan.add_decisions();
  EXPECT_TRUE(PlanCsv(plan, false).ends_with(",0,\r\n"));
}

TEST(PlanCsv, RawTextLeavesIdsAsTheyAre) {
  EXPECT_NE(PlanCsv(OneObject(), true).find("\"=cmd, or so\""), std::string::npos);
}

}  // namespace
}  // namespace scantling::client
