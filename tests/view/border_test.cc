// Boxes that the frustum cuts, by hand.
//
// Camera: SquareCamera, u = 500 + 500 x / depth, v = 500 - 500 y / depth, near 0.5, frustum |x|, |y| <= depth.

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

// Double arithmetic on areas up to 1e6 px^2.
constexpr double kTight = 1e-8;

// The chunk must give the same, rounded to float, flags alike.
ObjectView Measure(const Box& box, const Camera& camera) {
  const PoseChunk chunk = ChunkOf(box);
  const CameraView view = ViewOf(camera, 0);
  ViewBlock block;
  MeasureChunk(chunk, 0, view, block);
  const ObjectView object = MeasureObject(chunk, 0, 0, view);
  EXPECT_EQ(block.flags[0], object.flags);
  EXPECT_FLOAT_EQ(block.covered_px[0], static_cast<float>(object.covered_px));
  EXPECT_FLOAT_EQ(block.rendered_px[0], static_cast<float>(object.rendered_px));
  EXPECT_FLOAT_EQ(block.near_m[0], static_cast<float>(object.near_m));
  EXPECT_FLOAT_EQ(block.far_m[0], static_cast<float>(object.far_m));
  return object;
}

// A card at depth 10, x in [-11, -9]: half of it lies left of u = 0. 50 px wide and 100 px high remain.
TEST(Border, CardHalfOutOnTheLeftCoversHalf) {
  const ObjectView got = Measure(Upright({-10, 0, -10}, 1, 1, 0), SquareCamera());
  EXPECT_NEAR(got.covered_px, 50 * 100, kTight);
  EXPECT_EQ(got.flags, kInFrame | kClipped);
  EXPECT_NEAR(got.height_px, 100, kTight);
}

TEST(Border, CardOverACornerKeepsAQuarter) {
  for (double x : {-10.0, 10.0}) {
    for (double y : {-10.0, 10.0}) {
      EXPECT_NEAR(Measure(Upright({x, y, -10}, 1, 1, 0), SquareCamera()).covered_px, 50 * 50, kTight);
    }
  }
}

// Front face at depth 9.5, x in [-10, -9]: u runs from 500 - 5000/9.5 < 0 to a = 500 - 4500/9.5, high 500/9.5. Beside
// it the right side x = -9 up to b = 500 - 4500/10.5, where it is 500/10.5 high.
TEST(Border, CubeHalfOutOnTheLeftCoversItsRest) {
  const double a = 500 - 4500 / 9.5, b = 500 - 4500 / 10.5;
  const ObjectView got = Measure(Upright({-9.5, 0, -10}, 0.5, 0.5, 0.5), SquareCamera());
  EXPECT_NEAR(got.covered_px, a * 500 / 9.5 + (b - a) * (500 / 9.5 + 500 / 10.5) / 2, kTight);
}

// A wall beside the track, x = 2, depth 0.75 to 10. It comes into the picture at depth 2 (u = 1000): that is the
// nearest visible point, not its corner at 0.75. Height 1: 500 / 2 px. Area: from u = 500 + 1000/10 = 600 to 1000,
// upright edges 500/10 and 500/2.
TEST(Border, ScaleIsTakenAtTheNearestVisiblePoint) {
  const ObjectView got = Measure({{2, 0, -5.375}, {0, 0, 0}, {0, 0.5, 0}, {0, 0, 4.625}}, SquareCamera());
  EXPECT_NEAR(got.near_m, 2, kTight);
  EXPECT_NEAR(got.far_m, 10, kTight);
  EXPECT_NEAR(got.height_px, 250, kTight);
  EXPECT_NEAR(got.covered_px, 400 * (50 + 250) / 2, kTight);
}

// Ground y = -1, 200 m wide and long, the eye above its middle. Seen from v = 500 + 500/100 (depth 100) to v = 1000
// (depth 1), over the whole width.
TEST(Border, GroundPlateReachesFromTheHorizonToTheBottomEdge) {
  const ObjectView got = Measure({{0, -1, 0}, {100, 0, 0}, {0, 0, 0}, {0, 0, 100}}, SquareCamera());
  EXPECT_NEAR(got.covered_px, 1000 * 495, 1e-6);
  EXPECT_NEAR(got.near_m, 1, kTight);
  EXPECT_NEAR(got.far_m, 100, kTight);
  EXPECT_EQ(got.flags, kInFrame | kClipped | kCornerBehind);
}

// A rail y in [-0.25, 0], x in [-0.25, 0.25], depth from -4 to 4. The near plane 0.5 cuts it in a rectangle 500 px wide
// (x / 0.5 = +-0.5) and 250 px high; its top y = 0 is edge-on; all else lies behind that rectangle.
TEST(Border, NearPlaneCutsARectangleOutOfARail) {
  const ObjectView got = Measure(Upright({0, -0.125, 0}, 0.25, 0.125, 4), SquareCamera());
  EXPECT_NEAR(got.covered_px, 500 * 250, kTight);
  EXPECT_NEAR(got.near_m, 0.5, kTight);
  EXPECT_NEAR(got.far_m, 4, kTight);
  EXPECT_NEAR(got.height_px, 500 / 0.5 * 0.25, kTight);
}

TEST(Border, EyeInsideABoxSeesItEverywhere) {
  const ObjectView got = Measure(Upright({0, 0, -1}, 3, 3, 4), SquareCamera());
  EXPECT_NEAR(got.covered_px, 1e6, 1e-6);
  EXPECT_NEAR(got.near_m, 0.5, kTight);
  EXPECT_NEAR(got.far_m, 5, kTight);
  EXPECT_EQ(got.flags, kInFrame | kClipped | kCornerBehind);
}

// No face of the box meets the frustum at all.
TEST(Border, FrustumWhollyInsideABoxIsInFrame) {
  Camera camera = SquareCamera();
  camera.far_m = 7;
  const ObjectView got = Measure(Upright({0, 0, 0}, 50, 50, 50), camera);
  EXPECT_NEAR(got.covered_px, 1e6, 1e-6);
  EXPECT_NEAR(got.near_m, 0.5, kTight);
  EXPECT_NEAR(got.far_m, 7, kTight);
}

// A plate across the corner ray (1, 1, 1) at depth 5, its corners (x, y, depth) = (5, 5, 5) + s (3, -3, 0) + t (2, 2,
// -4): every corner of it is out of the picture, every corner of the frustum out of it.
TEST(Border, PlatePiercedByAFrustumEdgeIsInFrame) {
  const ObjectView got = Measure({{5, 5, -5}, {3, -3, 0}, {2, 2, 4}, {0, 0, 0}}, SquareCamera());
  EXPECT_TRUE(got.flags & kInFrame);
  EXPECT_GT(got.covered_px, 0);
}

// A rod past the corner: x = 5.2 + 3 s, y = 5.2 - 3 s at depth 5. Outside no single plane, yet x <= 5 and y <= 5 cannot
// both be; with centre 4.8 they can for |s| < 1/15.
TEST(Border, RodPastTheCornerIsOutAndRodAcrossItIsIn) {
  EXPECT_EQ(Measure({{5.2, 5.2, -5}, {3, -3, 0}, {0.01, 0.01, 0}, {0, 0, 0.01}}, SquareCamera()).flags, 0);
  EXPECT_EQ(Measure({{4.8, 4.8, -5}, {3, -3, 0}, {0.01, 0.01, 0}, {0, 0, 0.01}}, SquareCamera()).flags,
            kInFrame | kClipped);
}

TEST(Border, FarPlaneCutsDepthButNotTheFrontFace) {
  Camera camera = SquareCamera();
  camera.far_m = 10;
  const ObjectView got = Measure(Upright({0, 0, -10}, 0.5, 0.5, 0.5), camera);
  EXPECT_NEAR(got.covered_px, 500 / 9.5 * 500 / 9.5, kTight);
  EXPECT_NEAR(got.far_m, 10, kTight);
  EXPECT_EQ(got.flags, kInFrame | kClipped);
  EXPECT_EQ(Measure(Upright({0, 0, -10.75}, 0.5, 0.5, 0.5), camera).flags, 0);
}

// Overscan 100 px: the rendered window is |x| <= 1.2 depth. A card at depth 10, x in [10, 14]: u from 1000 to 1200, of
// which the band keeps 100 px; 100 px high.
TEST(Border, OverscanCountsAsRenderedOnly) {
  Camera camera = SquareCamera();
  camera.overscan_px = 100;
  const ObjectView cut = Measure(Upright({12, 0, -10}, 2, 1, 0), camera);
  EXPECT_NEAR(cut.covered_px, 0, kTight);
  EXPECT_NEAR(cut.rendered_px, 100 * 100, kTight);
  EXPECT_EQ(cut.flags, kInFrame | kClipped);
  const ObjectView inside = Measure(Upright({11, 0, -10}, 0.5, 1, 0), camera);
  EXPECT_EQ(inside.covered_px, 0);
  EXPECT_NEAR(inside.rendered_px, 50 * 100, kTight);
  EXPECT_EQ(inside.flags, kInFrame);
  const ObjectView across = Measure(Upright({10, 0, -10}, 1, 1, 0), camera);
  EXPECT_NEAR(across.covered_px, 50 * 100, kTight);
  EXPECT_NEAR(across.rendered_px, 100 * 100, kTight);
  EXPECT_EQ(across.flags, kInFrame | kClipped);
}

TEST(Border, EyeInsideABoxFillsTheOverscanToo) {
  Camera camera = SquareCamera();
  camera.overscan_px = 100;
  const ObjectView got = Measure(Upright({0, 0, 0}, 50, 50, 50), camera);
  EXPECT_NEAR(got.covered_px, 1e6, 1e-6);
  EXPECT_NEAR(got.rendered_px, 1.44e6, 1e-6);
}

// Window 10 m: x in [4, 6] keeps one metre, 100 px; y is 2 m, 200 px. Depth from -1 to 3, near 0.5.
TEST(Border, OrthographicBoxIsCutByTheSideAndTheNearPlane) {
  const ObjectView got = Measure(Upright({5, 0, -1}, 1, 1, 2), SquareOrthographic());
  EXPECT_NEAR(got.covered_px, 100 * 200, kTight);
  EXPECT_NEAR(got.near_m, 0.5, kTight);
  EXPECT_NEAR(got.far_m, 3, kTight);
  EXPECT_NEAR(got.height_px, 200, kTight);
  EXPECT_EQ(got.flags, kInFrame | kClipped | kCornerBehind);
}

// An edge turned to the camera and cut by the near plane: half-diagonals 1 in x and depth, edge at depth 0 behind near
// 0.5. The near plane shows the part |x| <= 0.5; the two faces to the camera carry on from there to |x| = 1.
TEST(Border, OrthographicNearPlaneLeavesTheOutlineWhole) {
  const ObjectView got = Measure({{0, 0, -1}, {0.5, 0, 0.5}, {0, 1, 0}, {-0.5, 0, 0.5}}, SquareOrthographic());
  EXPECT_NEAR(got.covered_px, 200 * 200, kTight);
  EXPECT_NEAR(got.near_m, 0.5, kTight);
}

// Objects may be stored as lines where a caller's box has no size in two axes; scene refuses them, view must not fall.
TEST(Border, LineAndPointCoverNothingAndDoNotFall) {
  const ObjectView line = Measure({{0, 0, -10}, {100, 0, 0}, {0, 0, 0}, {0, 0, 0}}, SquareCamera());
  EXPECT_EQ(line.covered_px, 0);
  EXPECT_TRUE(line.flags & kInFrame);
  const ObjectView point = Measure({{10, 0, -10}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}}, SquareCamera());
  EXPECT_EQ(point.covered_px, 0);
}

}  // namespace
}  // namespace scantling
