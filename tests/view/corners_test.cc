// Projected corners and centre, and how far a view has turned.

#include <gtest/gtest.h>

#include <cmath>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::Box;
using view_test::ChunkOf;
using view_test::SquareCamera;
using view_test::SquareOrthographic;
using view_test::Upright;

// A few ulp of 1e3 px.
constexpr double kTight = 1e-9;

Corners Box1() { return {{{0, 0}, {8, 0}, {0, 4}, {8, 4}, {2, 1}, {6, 1}, {2, 3}, {6, 3}}}; }

Corners ScaledAndShifted(const Corners& from, double scale, double du, double dv) {
  Corners to = from;
  for (auto& corner : to) corner = {scale * corner[0] + du, scale * corner[1] + dv};
  return to;
}

TEST(ProjectCorners, OrderIsOneBitAnAxis) {
  const PoseChunk chunk = ChunkOf(Upright({0, 0, -4}, 1, 2, 1));
  const std::optional<Corners> corners = ProjectCorners(chunk, 0, 0, ViewOf(SquareCamera(), 0));
  ASSERT_TRUE(corners.has_value());
  // Bit 2 is +c = +z, towards the camera: depth 3; without it depth 5.
  EXPECT_NEAR((*corners)[0][0], 500 - 500.0 * 1 / 5, kTight);
  EXPECT_NEAR((*corners)[0][1], 500 + 500.0 * 2 / 5, kTight);
  EXPECT_NEAR((*corners)[1][0], 500 + 500.0 * 1 / 5, kTight);
  EXPECT_NEAR((*corners)[2][1], 500 - 500.0 * 2 / 5, kTight);
  EXPECT_NEAR((*corners)[7][0], 500 + 500.0 * 1 / 3, kTight);
  EXPECT_NEAR((*corners)[7][1], 500 - 500.0 * 2 / 3, kTight);
}

TEST(ProjectCorners, NoneWhereOneCornerLiesOnTheNearPlane) {
  const CameraView view = ViewOf(SquareCamera(), 0);  // near 0.5
  EXPECT_FALSE(ProjectCorners(ChunkOf(Upright({0, 0, -1.5}, 1, 1, 1)), 0, 0, view).has_value());
  EXPECT_TRUE(ProjectCorners(ChunkOf(Upright({0, 0, -1.5078125}, 1, 1, 1)), 0, 0, view).has_value());
}

TEST(ProjectCentre, IsNotANumberAtOrBehindThePerspectiveEye) {
  const CameraView view = ViewOf(SquareCamera(), 0);
  EXPECT_TRUE(std::isnan(ProjectCentre(ChunkOf(Upright({0, 0, 0}, 1, 1, 1)), 0, 0, view)[0]));
  EXPECT_TRUE(std::isnan(ProjectCentre(ChunkOf(Upright({0, 0, 2}, 1, 1, 1)), 0, 0, view)[1]));
  EXPECT_NEAR(ProjectCentre(ChunkOf(Upright({1, 1, -2}, 1, 1, 1)), 0, 0, view)[0], 750, kTight);
}

TEST(ProjectCentre, IsANumberBehindTheOrthographicPlane) {
  const auto centre = ProjectCentre(ChunkOf(Upright({1, 1, 2}, 1, 1, 1)), 0, 0, ViewOf(SquareOrthographic(), 0));
  EXPECT_NEAR(centre[0], 600, kTight);
  EXPECT_NEAR(centre[1], 400, kTight);
}

TEST(TurnResidual, IsNothingForShiftAndUniformScale) {
  EXPECT_NEAR(TurnResidual(Box1(), ScaledAndShifted(Box1(), 1, 13, -7)), 0, kTight);
  EXPECT_NEAR(TurnResidual(Box1(), ScaledAndShifted(Box1(), 2.5, -300, 40)), 0, kTight);
}

// Reference (+-3, +-1), each twice; now (+-1, +-1). Means 0. along = 8 (3 + 1) = 32, square = 8 (9 + 1) = 80, s = 0.4.
// Left at a corner: (1 - 1.2, 1 - 0.4) = (-0.2, 0.6), length sqrt(0.4).
TEST(TurnResidual, UnevenSqueezeLeavesItsHandComputedResidual) {
  const Corners wide = {{{-3, -1}, {3, -1}, {-3, 1}, {3, 1}, {-3, -1}, {3, -1}, {-3, 1}, {3, 1}}};
  const Corners square = {{{-1, -1}, {1, -1}, {-1, 1}, {1, 1}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}}};
  EXPECT_NEAR(TurnResidual(wide, square), std::sqrt(0.4), kTight);
}

// A quarter turn: along = 0, so s = 0 and the corner farthest from the mean is left whole: hypot(3, 1).
TEST(TurnResidual, QuarterTurnLeavesTheWholeRadius) {
  const Corners wide = {{{-3, -1}, {3, -1}, {-3, 1}, {3, 1}, {-3, -1}, {3, -1}, {-3, 1}, {3, 1}}};
  Corners turned = wide;
  for (auto& corner : turned) corner = {-corner[1], corner[0]};
  EXPECT_NEAR(TurnResidual(wide, turned), std::sqrt(10.0), kTight);
}

// Upside down the free fit would be s = -1 and leave nothing; a painting is not used upside down: s = 0.
TEST(TurnResidual, PaintingIsNotUsedUpsideDown) {
  const Corners wide = {{{-3, -1}, {3, -1}, {-3, 1}, {3, 1}, {-3, -1}, {3, -1}, {-3, 1}, {3, 1}}};
  EXPECT_NEAR(TurnResidual(wide, ScaledAndShifted(wide, -1, 0, 0)), std::sqrt(10.0), kTight);
}

TEST(TurnResidual, ReferenceShrunkToOnePointLeavesTheWholeRadius) {
  const Corners point = ScaledAndShifted(Box1(), 0, 5, 5);
  // Mean of Box1 is (4, 2); its farthest corner lies (4, 2) away.
  EXPECT_NEAR(TurnResidual(point, Box1()), std::sqrt(20.0), kTight);
}

TEST(TurnResidual, OfAConeOfViewGrowsAsTheCameraPasses) {
  const PoseChunk chunk = ChunkOf(Upright({0, 0, -20}, 2, 3, 4));
  Camera camera = SquareCamera();
  const Corners reference = *ProjectCorners(chunk, 0, 0, ViewOf(camera, 0));
  double before = 0;
  for (double x : {1.0, 2.0, 4.0, 8.0}) {
    camera.poses[0].position_m[0] = x;
    const double turn = TurnResidual(reference, *ProjectCorners(chunk, 0, 0, ViewOf(camera, 0)));
    EXPECT_GT(turn, before);
    before = turn;
  }
}

}  // namespace
}  // namespace scantling
