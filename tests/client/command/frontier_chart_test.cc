// Charts small enough to draw by hand. Cubes stand evenly on the upward scale: 0, 1, 8 and 27.

#include "client/command/frontier_chart.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>

namespace scantling::client {
namespace {

using testing::HasSubstr;

constexpr char kLegend[] = "     loss   o plan   @ knee   . surely reached   x no plan fits\n";

TEST(FrontierChart, CubesAreEvenlySpacedAndDotsStandAtTheTighterPlan) {
  // Nine columns from 10 to 50 hours: one every 5, so plans stand in columns 0, 2, 4 and 8.
  EXPECT_EQ(
      FrontierChart({{50, true, 0}, {30, true, 1}, {20, true, 8, true}, {10, true, 27}}, "animator-hours", {9, 4}),
      std::string(kLegend) +
          "     27.0 |o.\n"
          "     8.00 |  @.\n"
          "     1.00 |    o...\n"
          "        0 |        o\n"
          "          +---------\n"
          "           10.0 50.0  animator-hours\n");
}

TEST(FrontierChart, BudgetsThatNothingFitsStandOnTheAxis) {
  EXPECT_EQ(FrontierChart({{3, true, 0}, {2, true, 8}, {1, false, 0}}, "core-hours", {5, 3}),
            std::string(kLegend) +
                "     8.00 |  o.\n"
                "     1.00 |\n"
                "        0 |    o\n"
                "          +x----\n"
                "           1.00 3.00  core-hours\n");
}

TEST(FrontierChart, UnitStandsBetweenTheEndsWhereItFits) {
  // 20 columns less 4 and 4 of the ends and 5 of the unit leave 7: 3 before and 4 behind.
  EXPECT_THAT(FrontierChart({{1, true, 1}, {2, true, 0}}, "hours", {20, 2}),
              HasSubstr("\n           1.00   hours    2.00\n"));
}

TEST(FrontierChart, OrderOfMarksChangesNothing) {
  const std::vector<BudgetMark> marks = {{3, true, 0}, {2, true, 8}, {1, true, 27}};
  EXPECT_EQ(FrontierChart(marks, "h", {}), FrontierChart({marks[2], marks[0], marks[1]}, "h", {}));
}

TEST(FrontierChart, NothingLostAnywhereIsOneLineAtTheBottom) {
  EXPECT_THAT(FrontierChart({{1, true, 0}, {2, true, 0}}, "h", {4, 3}), HasSubstr("        0 |o..o\n"));
}

TEST(FrontierChart, NothingToCompareIsNoChart) {
  EXPECT_EQ(FrontierChart({}, "h", {}), "");
  EXPECT_EQ(FrontierChart({{1, true, 2}}, "h", {}), "");
  EXPECT_EQ(FrontierChart({{1, true, 2}, {1, true, 2}}, "h", {}), "");
  EXPECT_EQ(FrontierChart({{1, false, 0}, {2, false, 0}}, "h", {}), "");
}

TEST(FrontierChart, WhatIsNoNumberIsLeftOut) {
  constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(FrontierChart({{1, true, 1}, {2, true, kNan}, {kNan, true, 1}, {3, true, 0}}, "h", {}),
            FrontierChart({{1, true, 1}, {3, true, 0}}, "h", {}));
}

TEST(FrontierChart, ManyPlansInOneColumnAllShow) {
  std::vector<BudgetMark> marks;
  for (int i = 0; i < 4; ++i) marks.push_back({0.001 * i, true, static_cast<double>(27 - 9 * i)});
  marks.push_back({100, true, 0});
  // 27, 18 and 9 have cube roots 3, 2.62 and 2.08 of 3: rows 3, 3 and 2 of four.
  EXPECT_THAT(FrontierChart(marks, "h", {3, 4}),
              HasSubstr("     27.0 |o\n     8.00 |o\n     1.00 |\n        0 |o.o\n"));
}

}  // namespace
}  // namespace scantling::client
