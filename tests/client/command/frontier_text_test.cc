// The report and the table of a frontier made by hand: three budgets, of which the middle one is the knee.

#include "client/command/frontier_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_replace.h"
#include "client/command/frontier_csv.h"

namespace scantling::client {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;
using Request = v1::TraceFrontierRequest;

v1::FrontierPoint PointAt(int index, double anim_hours, double loss, double price) {
  v1::FrontierPoint point;
  point.set_index(index);
  point.set_anim_hours(anim_hours);
  point.set_fits(true);
  point.set_loss(loss);
  point.set_loss_bound(loss);
  point.set_used_anim_hours(anim_hours - 1);
  point.set_price_anim_hour(price);
  point.set_price_per_step(100 * price);
  point.set_full_rig(30 - 10 * index);
  point.set_proxy(5);
  point.set_needs_animation(1200);
  return point;
}

TracedFrontier ThreeBudgets() {
  TracedFrontier frontier;
  frontier.points = {PointAt(0, 300, 0, 0), PointAt(1, 200, 2, 0.02), PointAt(2, 100, 40, 0.38)};
  frontier.points[1].set_gap(0.001);
  frontier.summary.set_shot_id("qy_0100");
  frontier.summary.set_style("ink");
  frontier.summary.set_along(Request::ANIM_HOURS);
  frontier.summary.set_knee(1);
  frontier.summary.set_nothing_lost_anim_hours(300);
  frontier.summary.set_other_department("effects");
  frontier.summary.set_estimate_note("These figures are estimates.");
  return frontier;
}

std::string Unwrapped(const std::string& text) { return absl::StrReplaceAll(text, {{"\n  ", " "}}); }

TEST(FrontierTable, EveryBudgetStandsOnItsLineAndTheKneeIsMarked) {
  const std::string text = FrontierTable(ThreeBudgets(), false);
  EXPECT_THAT(text, testing::StartsWith(
                        "\n  animator-hours  used  loss     gap   price  full  proxy  patch  omitted  animate\n"
                        "             300   299     0       0       0    30      5      0        0    1,200\n"
                        "             200   199  2.00  0.100%  0.0200    20      5      0        0    1,200  knee\n"
                        "             100  99.0  40.0       0   0.380    10      5      0        0    1,200\n"));
  EXPECT_THAT(Unwrapped(text), HasSubstr("price: loss won back per hour more;"));
}

TEST(FrontierTable, NextToNothingIsToldAsSuch) {
  TracedFrontier frontier = ThreeBudgets();
  frontier.points[1].set_loss(3e-7);
  frontier.points[1].set_gap(1e-9);
  frontier.points[1].set_price_anim_hour(9.9e-5);
  EXPECT_THAT(FrontierTable(frontier, false), testing::ContainsRegex("<0.0001 +<0.0001% +<0.0001"));
}

TEST(FrontierTable, AlongBothShowsBothBudgetsAndThePriceOfAStep) {
  TracedFrontier frontier = ThreeBudgets();
  frontier.summary.set_along(Request::BOTH);
  for (auto& point : frontier.points) point.set_core_hours(50);
  const std::string text = FrontierTable(frontier, false);
  EXPECT_THAT(text, HasSubstr("animator-hours  used  core-hours  used  loss"));
  EXPECT_THAT(text, testing::ContainsRegex("200 +199 +50.0 +0 +2.00 +0.100% +2.00 +20"));
  EXPECT_THAT(text, testing::ContainsRegex("300 +299 +50.0 +0 +0 +0 +- +30"));  // there is no looser one
  EXPECT_THAT(Unwrapped(text), HasSubstr("by a step to the next larger budgets"));
}

TEST(FrontierTable, BudgetThatNothingFitsSaysSo) {
  TracedFrontier frontier = ThreeBudgets();
  frontier.points[2] = v1::FrontierPoint();
  frontier.points[2].set_index(2);
  frontier.points[2].set_anim_hours(100);
  EXPECT_THAT(FrontierTable(frontier, false), testing::ContainsRegex("\n +100 +no plan fits\n"));
}

TEST(FrontierTable, ThirtyLinesUnlessAllAreWanted) {
  TracedFrontier frontier = ThreeBudgets();
  frontier.points.clear();
  for (int i = 0; i < 100; ++i) frontier.points.push_back(PointAt(i, 1000 - i, i, 0.1));
  frontier.summary.set_knee(50);
  const std::string some = FrontierTable(frontier, false);
  EXPECT_THAT(some, HasSubstr("  30 of 100 budgets; all with --all\n"));
  EXPECT_THAT(some, testing::ContainsRegex(" 950 .* knee\n"));
  EXPECT_THAT(some, HasSubstr("\n           1,000   999"));
  EXPECT_THAT(some, HasSubstr("\n             901   900"));
  const std::string all = FrontierTable(frontier, true);
  EXPECT_THAT(all, Not(HasSubstr("--all")));
  EXPECT_EQ(std::count(all.begin(), all.end(), '\n') - std::count(some.begin(), some.end(), '\n'), 70 - 1);
}

TEST(ShownLines, EndsAndTheWantedOneAreAlwaysAmongThem) {
  EXPECT_THAT(ShownLines(3, 5, -1), ElementsAre(0, 1, 2));
  EXPECT_THAT(ShownLines(9, 3, -1), ElementsAre(0, 4, 8));
  EXPECT_THAT(ShownLines(9, 3, 7), ElementsAre(0, 7, 8));
  EXPECT_THAT(ShownLines(9, 3, 4), ElementsAre(0, 4, 8));
  EXPECT_THAT(ShownLines(9, 3, 9), ElementsAre(0, 4, 8));  // there is none such
  for (int must = 0; must < 100; ++must) {
    const std::vector<size_t> lines = ShownLines(100, 30, must);
    EXPECT_EQ(lines.size(), 30u);
    EXPECT_EQ(lines.front(), 0u);
    EXPECT_EQ(lines.back(), 99u);
    EXPECT_TRUE(std::is_sorted(lines.begin(), lines.end()));
    EXPECT_EQ(std::count(lines.begin(), lines.end(), static_cast<size_t>(must)), 1) << must;
  }
}

TEST(FrontierHeader, TellsEndsAndLimitsThatStay) {
  TracedFrontier frontier = ThreeBudgets();
  EXPECT_EQ(FrontierHeader(frontier), "Shot qy_0100   style ink\n3 budgets, from 300 down to 100 animator-hours\n");
  frontier.options.set_other_hours(30);
  EXPECT_THAT(FrontierHeader(frontier), testing::EndsWith("100 animator-hours, each within 30.0 effects-hours\n"));
  frontier.summary.set_along(Request::OTHER_HOURS);
  EXPECT_THAT(FrontierHeader(frontier), HasSubstr("from 0 down to 0 effects-hours"));
}

TEST(FindingsText, TellsTheKneesRuleAndFromWhereOnNothingIsLost) {
  const TracedFrontier frontier = ThreeBudgets();
  const std::string text = Unwrapped(FindingsText(frontier.summary, frontier.points));
  EXPECT_THAT(text, HasSubstr("Knee at 200 animator-hours: of two neighbouring budgets between which the price of a "
                              "step drops most, the larger."));
  EXPECT_THAT(text, HasSubstr("Nothing visible is lost any more from 300 animator-hours on."));
}

TEST(FindingsText, SaysWhereThereIsNoKneeNoEndAndNoPlan) {
  TracedFrontier frontier = ThreeBudgets();
  frontier.summary.clear_knee();
  frontier.summary.clear_nothing_lost_anim_hours();
  EXPECT_THAT(FindingsText(frontier.summary, frontier.points), HasSubstr("No knee"));
  EXPECT_THAT(FindingsText(frontier.summary, frontier.points), HasSubstr("A limit that stays keeps something"));
  for (auto& point : frontier.points) point.set_fits(false);
  EXPECT_THAT(FindingsText(frontier.summary, frontier.points), HasSubstr("No plan fits any of these budgets."));
}

TEST(FrontierText, HoldsTableChartFindingsAndWhatTheFiguresAre) {
  const std::string text = FrontierText(ThreeBudgets(), false);
  EXPECT_THAT(text, HasSubstr("o plan   @ knee"));
  EXPECT_THAT(text, testing::ContainsRegex("100 +animator-hours +300\n\n  Knee at 200"));
  EXPECT_THAT(text, testing::EndsWith(
                        "\n  These figures are estimates. They decide nobody's job or schedule by themselves.\n"));
}

TEST(FrontierText, HostileNamesCannotSteerTheTerminal) {
  TracedFrontier frontier = ThreeBudgets();
  frontier.summary.set_shot_id("\x1B]0;x\x07");
  frontier.summary.set_other_department("\x1B[2J");
  frontier.summary.set_along(Request::OTHER_HOURS);
  EXPECT_THAT(FrontierText(frontier, false), Not(HasSubstr("\x1B")));
}

TEST(FrontierText, EmptyFrontierIsStillAReport) {
  EXPECT_THAT(FrontierText(TracedFrontier(), false), HasSubstr("No plan fits"));
}

TEST(FrontierCsv, HeaderNamesAreStableAndCarryTheirUnits) {
  EXPECT_EQ(FrontierCsvHeader(),
            "index,most_anim_hours,most_core_hours,most_other_hours,fits,loss_frame_octaves,loss_bound_frame_octaves,"
            "gap,used_anim_hours,used_core_hours,used_other_hours,price_anim_hour,price_core_hour,price_other_hour,"
            "price_per_step,full_rig,proxy,colour_patch,omitted,needs_animation\r\n");
}

TEST(FrontierCsv, RecordHoldsWhatIsKnownAndNothingElse) {
  v1::FrontierPoint point = PointAt(1, 200, 2, 0.02);
  EXPECT_EQ(FrontierCsvRecord(point), "1,200,,,true,2,2,0,199,0,0,0.02,0,0,2,20,5,0,0,1200\r\n");
  point.set_fits(false);
  EXPECT_EQ(FrontierCsvRecord(point), "1,200,,,false,,,,,,,,,,,,,,,\r\n");
}

}  // namespace
}  // namespace scantling::client
