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

}  // namespace
}  // namespace scantling::client
