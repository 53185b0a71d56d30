// A chart small enough to draw by hand.

#include "client/command/chart.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace scantling::client {
namespace {

TEST(HeightChart, OctavesAreEvenlySpaced) {
  // Heights 1, 2, 4 and 8 px on four rows of a logarithmic scale stand one row apart; the floor is 1 throughout.
  std::vector<ChartPoint> points;
  for (int i = 0; i < 4; ++i) points.push_back({i + 1, true, static_cast<double>(1 << i), 1});
  EXPECT_EQ(HeightChart(points, {72, 4}),
            "      px   * height   - floor   # both\n"
            "    8.00 |   *\n"
            "    4.00 |  *\n"
            "    2.00 | *\n"
            "    1.00 |#---\n"
            "         +----\n"
            "          1  4\n");
}

TEST(HeightChart, UnseenFramesAreBlank) {
  const std::string chart = HeightChart({{1, true, 4, 1}, {2, false, 9, 9}, {3, true, 4, 1}}, {72, 2});
  EXPECT_THAT(chart, testing::HasSubstr("|* *\n"));
  EXPECT_THAT(chart, testing::HasSubstr("|- -\n"));
}

TEST(HeightChart, NothingSeenIsNoChart) {
  EXPECT_EQ(HeightChart({}, {}), "");
  EXPECT_EQ(HeightChart({{1, false, 3, 1}}, {}), "");
  EXPECT_EQ(HeightChart({{1, true, 0, 0}}, {}), "");
}

TEST(HeightChart, ManyFramesAreDrawnTogetherByTheirLargest) {
  std::vector<ChartPoint> points;
  for (int i = 0; i < 240; ++i) points.push_back({i, true, i == 100 ? 64.0 : 2.0, 1});
  const std::string chart = HeightChart(points, {24, 4});
  // Column 10 of 24 holds frames 100 to 109.
  EXPECT_THAT(chart, testing::HasSubstr("   64 |          *\n"));
}

TEST(HeightChart, OneSizeThroughoutIsOneRow) {
  EXPECT_THAT(HeightChart({{1, true, 5, 5}}, {}), testing::HasSubstr("    5.00 |#\n"));
}

TEST(VisibleRow, TellsHiddenFromOffScreenAndDrawn) {
  const auto point = [](bool in_frame, double visible, bool replaced = false) {
    ChartPoint p;
    p.in_frame = in_frame;
    p.visible_fraction = visible;
    p.replaced = replaced;
    return p;
  };
  EXPECT_EQ(VisibleRow({point(true, 1), point(true, 0.52), point(true, 0.01), point(true, 0), point(false, 0),
                        point(true, 1, true)},
                       {}),
            "#51x /");
  // Two frames a column: the more visible of the two.
  EXPECT_EQ(VisibleRow({point(false, 0), point(true, 0), point(true, 0.3), point(true, 0.9)}, {2, 10}), "x9");
}

TEST(HeightChart, RowOfVisibilityStandsUnderItWhereSomethingIsHidden) {
  ChartPoint seen = {1, true, 4, 1, false, 1, true}, hidden = {2, false, 4, 1, false, 0, true};
  EXPECT_THAT(HeightChart({seen, hidden}, {72, 2}), testing::HasSubstr("\n visible |#x\n"));
  EXPECT_THAT(HeightChart({seen, seen}, {72, 2}), testing::Not(testing::HasSubstr("visible")));
}

}  // namespace
}  // namespace scantling::client
