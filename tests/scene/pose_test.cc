#include "server/scene/pose.h"

#include <gtest/gtest.h>

#include <cmath>

namespace scantling {
namespace {

TEST(Fold, CornersAreCentrePlusMinusHalfAxes) {
  // Box 1..3, 2..6, -1..0; a quarter turn about Z (x -> y, y -> -x) and a shift by (10, 20, 30).
  // Centre (2, 4, -0.5) -> (-4, 2, -0.5) + shift = (6, 22, 29.5). Half sizes 1, 2, 0.5.
  Affine quarter;
  quarter.linear = {0, 1, 0, -1, 0, 0, 0, 0, 1};
  quarter.translation = {10, 20, 30};
  const FoldedBox folded = Fold({{1, 2, -1}, {3, 6, 0}}, quarter);
  EXPECT_EQ(folded.centre, (Vec3{6, 22, 29.5}));
  EXPECT_EQ(folded.axis, (std::array<float, 9>{0, 1, 0, -2, 0, 0, 0, 0, 0.5f}));
}

TEST(Fold, KeepsACentimetreTenThousandKilometresOut) {
  Affine far;
  far.translation = {1e7, 0, 0};
  // 1e7 + 0.005 in double: spacing there is 2^-29 m (about 2e-9), far under a centimetre; in float it would be 1 m.
  EXPECT_NEAR(Fold({{0, 0, 0}, {0.01, 1, 1}}, far).centre[0] - 1e7, 0.005, 2e-9);
}

TEST(AffineOf, ReadsColumnMajorMatrices) {
  const std::array<double, 16> m = {1, 2, 3, 0, 4, 5, 6, 0, 7, 8, 9, 0, 10, 11, 12, 1};
  const Affine affine = AffineOf(m);
  EXPECT_EQ(affine.linear, (std::array<double, 9>{1, 2, 3, 4, 5, 6, 7, 8, 9}));
  EXPECT_EQ(affine.translation, (Vec3{10, 11, 12}));
}

TEST(RelativeDeterminant, IsOneForSquareAxesOfAnyScale) {
  for (const double scale : {1e-20, 1.0, 1e20}) {
    // Powers of ten are rounded, three times in the product: a few units in the last place.
    EXPECT_NEAR(RelativeDeterminant({scale, 0, 0, 0, 2 * scale, 0, 0, 0, -3 * scale}), 1, 1e-14);
  }
}

TEST(RelativeDeterminant, IsZeroForAFlatMatrixAndForANullColumn) {
  EXPECT_EQ(RelativeDeterminant({1, 0, 0, 0, 1, 0, 1, 1, 0}), 0);
  EXPECT_EQ(RelativeDeterminant({1, 0, 0, 0, 1, 0, 0, 0, 0}), 0);
}

TEST(RelativeDeterminant, IsTheSineBetweenTwoAxesInAPlane) {
  const double angle = 0.3;
  // Closed form: det of unit columns (1,0,0), (cos a, sin a, 0), (0,0,1) is sin a.
  EXPECT_NEAR(RelativeDeterminant({1, 0, 0, std::cos(angle), std::sin(angle), 0, 0, 0, 1}), std::sin(angle), 1e-15);
}

}  // namespace
}  // namespace scantling
