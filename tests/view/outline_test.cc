// Outlines on a grid: hulls, and rows asked one by one and all at once.

#include "server/view/outline.h"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::LogUniform;
using view_test::Random;
using view_test::Uniform;

TEST(HullOf, KeepsTheFourCornersOfASquareWithPointsInside) {
  const std::vector<PicturePoint> points = {{0, 0}, {1, 1}, {2, 0}, {2, 2}, {0, 2}, {1, 0}, {0.5, 1.5}};
  EXPECT_EQ(HullOf(points).size(), 4u);
}

TEST(HullOf, OfOnePlaceIsThatPlace) {
  const std::vector<PicturePoint> points = {{3, 4}, {3, 4}, {3, 4}};
  ASSERT_EQ(HullOf(points).size(), 1u);
  EXPECT_EQ(HullOf(points)[0].v, 4);
}

// Square 3..9 px on cells of 2 px: cells 2, 3 (4..8) lie inside, 1 to 4 (2..10) are touched.
TEST(OutlineRows, SquareCoversWhatLiesInsideAndTouchesWhatItReaches) {
  const CellGrid grid{10, 10, 2, 0, 0};
  const Outline square = {{3, 3}, {9, 3}, {9, 9}, {3, 9}};
  const OutlineRows rows(square, grid);
  EXPECT_EQ(rows.begin(), 1);
  EXPECT_EQ(rows.end(), 5);
  for (int32_t row = 1; row < 5; ++row) {
    const CellRun covered = rows.Covered(row), touched = rows.Touched(row);
    EXPECT_EQ(covered.end - covered.begin, row == 2 || row == 3 ? 2 : 0) << row;
    EXPECT_EQ(touched.begin, 1);
    EXPECT_EQ(touched.end, 5);
  }
}

Outline RandomOutline(Random& random) {
  const double size = LogUniform(random, 0.01, 300);
  const double u = Uniform(random, -40, 140), v = Uniform(random, -40, 140);
  std::vector<PicturePoint> points;
  for (int i = 0; i < 8; ++i) {
    points.push_back({u + Uniform(random, -size, size), v + Uniform(random, -size, size)});
    // Corners on lines between cells are where rounding would show.
    if (Uniform(random, 0, 1) < 0.2) points.back().v = std::round(points.back().v / 2) * 2;
    if (Uniform(random, 0, 1) < 0.2) points.back().u = std::round(points.back().u / 2) * 2;
  }
  return HullOf(points);
}

// All at once touches no cell less than row by row, and at most one more at either end: where an edge comes within the
// margin of a line between cells.
TEST(OutlineSpans, TouchAtLeastWhatRowsTouch) {
  Random random(5);
  const CellGrid grid{50, 45, 2, 0, 0};
  OutlineSpans spans;
  for (int i = 0; i < 20'000; ++i) {
    const Outline outline = RandomOutline(random);
    const OutlineRows rows(outline, grid);
    spans.Find(outline, grid);
    ASSERT_EQ(spans.first, rows.begin());
    ASSERT_EQ(spans.spans.size(), static_cast<size_t>(std::max(rows.end() - rows.begin(), 0)));
    for (int32_t row = rows.begin(); row < rows.end(); ++row) {
      const CellRun one = rows.Touched(row),
                    all = spans.Cells(spans.spans[static_cast<size_t>(row - spans.first)], grid);
      if (one.end <= one.begin) continue;
      ASSERT_LE(all.begin, one.begin) << i;
      ASSERT_GE(all.end, one.end) << i;
      ASSERT_GE(all.begin, one.begin - 1) << i;
      ASSERT_LE(all.end, one.end + 1) << i;
    }
  }
}

// Sum over rows of height times middle width: exact for every row but those in which a corner lies, so within the area
// of two rows at the outline's width, and exact for a parallelogram with corners on lines.
TEST(OutlineSpans, MiddlesAddUpToTheArea) {
  const CellGrid grid{50, 45, 2, 0, 0};
  const Outline slanted = {{10, 4}, {30, 4}, {40, 24}, {20, 24}};  // 20 px wide, 20 high
  OutlineSpans spans;
  spans.Find(slanted, grid);
  double area = 0;
  for (const RowSpan& span : spans.spans) area += span.high * std::max(0.0, span.middle_most - span.middle_least);
  EXPECT_NEAR(area, 400, 1e-9);
}

}  // namespace
}  // namespace scantling
