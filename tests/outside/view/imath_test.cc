// Against Imath's Frustum and FrustumTest, a general-purpose library.
//
// What it can and cannot be asked: isVisible(point) is exact; isVisible(box) may say yes to a box past a corner, never
// no to one in frame; completelyContains(box) is exact up to boundary cases. It wants a finite far plane and an
// unmirrored camera (a mirrored one rejects points it should accept), and its boxes are axis-aligned. Imath multiplies
// row vectors.

#include <Imath/ImathBox.h>
#include <Imath/ImathFrustum.h>
#include <Imath/ImathFrustumTest.h>
#include <Imath/ImathMatrix.h>
#include <gtest/gtest.h>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::ChunkOf;
using view_test::LogUniform;
using view_test::Random;
using view_test::RandomCamera;
using view_test::ToWorld;
using view_test::Uniform;
using view_test::Upright;

struct Pair {
  Camera camera;
  CameraView view;
  Imath::Frustumd frustum;
  Imath::FrustumTest<double> test;
  Imath::M44d to_camera;
};

// Window edges as Imath takes them: at the near plane (perspective), in metres (orthographic).
Pair RandomPair(Random& random, Projection projection) {
  Pair pair;
  Camera& camera = pair.camera = RandomCamera(random, projection);
  camera.overscan_px = 0;
  camera.far_m = Uniform(random, 20, 120);
  pair.view = ViewOf(camera, 0);
  const bool flat = projection == Projection::kOrthographic;
  const double spread = flat ? 1 : camera.near_m / camera.poses[0].focal_mm;
  const double left = (camera.offset_x - camera.window_width / 2) * spread;
  const double right = (camera.offset_x + camera.window_width / 2) * spread;
  const double low = (camera.offset_y - camera.window_height / 2) * spread;
  const double high = (camera.offset_y + camera.window_height / 2) * spread;
  pair.frustum.set(camera.near_m, camera.far_m, left, right, high, low, flat);
  // Camera to world: the rows of a row-vector matrix are the camera's axes in the world, then its position.
  const auto& r = camera.poses[0].world_to_camera;
  const auto& p = camera.poses[0].position_m;
  const Imath::M44d to_world(r[0], r[1], r[2], 0, r[3], r[4], r[5], 0, r[6], r[7], r[8], 0, p[0], p[1], p[2], 1);
  pair.test.setFrustum(pair.frustum, to_world);
  pair.to_camera = to_world.inverse();
  return pair;
}

Vec3 PointBefore(Random& random, const Pair& pair) {
  const double depth = LogUniform(random, 0.1, 200);
  const double spread = pair.view.projection == Projection::kPerspective ? depth : 20;
  return ToWorld(pair.camera.poses[0], Uniform(random, -1.2, 1.2) * spread, Uniform(random, -0.8, 0.8) * spread, depth);
}

// Imath's screen runs from -1 to 1. Its inverse of the camera matrix and ours differ by about 1e-14 at 50 m.
void ExpectSamePlaces(Projection projection) {
  Random random(41);
  for (int k = 0; k < 5000; ++k) {
    const Pair pair = RandomPair(random, projection);
    const Vec3 p = PointBefore(random, pair);
    Imath::V3d local;
    pair.to_camera.multVecMatrix(Imath::V3d(p[0], p[1], p[2]), local);
    const Imath::V2d screen = pair.frustum.projectPointToScreen(local);
    const auto got = ProjectCentre(ChunkOf(Upright(p, 0, 0, 0)), 0, 0, pair.view);
    const double size = 1 + std::abs(got[0]) + std::abs(got[1]);
    ASSERT_NEAR(got[0], 2048 * (1 + screen.x) / 2, 1e-9 * size);
    ASSERT_NEAR(got[1], 858 * (1 - screen.y) / 2, 1e-9 * size);
  }
}

TEST(Imath, PerspectivePointsLandAtTheSamePlace) { ExpectSamePlaces(Projection::kPerspective); }
TEST(Imath, OrthographicPointsLandAtTheSamePlace) { ExpectSamePlaces(Projection::kOrthographic); }

// A box without extent is in frame exactly where its point is visible. Random points come no nearer to a plane than
// 1e-9, far outside the rounding of either side.
void ExpectSamePoints(Projection projection) {
  Random random(42);
  int visible = 0;
  for (int k = 0; k < 40000; ++k) {
    const Pair pair = RandomPair(random, projection);
    const Vec3 p = PointBefore(random, pair);
    const bool want = pair.test.isVisible(Imath::V3d(p[0], p[1], p[2]));
    ASSERT_EQ(MeasureObject(ChunkOf(Upright(p, 0, 0, 0)), 0, 0, pair.view).flags & kInFrame, want ? kInFrame : 0) << k;
    visible += want;
  }
  EXPECT_GT(visible, 2000);
}

TEST(Imath, PerspectivePointsAreVisibleAlike) { ExpectSamePoints(Projection::kPerspective); }
TEST(Imath, OrthographicPointsAreVisibleAlike) { ExpectSamePoints(Projection::kOrthographic); }

void ExpectBoxesAlike(Projection projection) {
  Random random(43);
  int contained = 0, rejected = 0, past_a_corner = 0;
  for (int k = 0; k < 40000; ++k) {
    const Pair pair = RandomPair(random, projection);
    const Vec3 p = PointBefore(random, pair);
    // Halves of whole sixteenths, exact in float, so that both sides see one box.
    const auto half = [&] { return std::ceil(LogUniform(random, 0.05, 6) * 16) / 16; };
    const Vec3 h = {half(), half(), half()};
    const Imath::Box3d box(Imath::V3d(p[0] - h[0], p[1] - h[1], p[2] - h[2]),
                           Imath::V3d(p[0] + h[0], p[1] + h[1], p[2] + h[2]));
    ViewBlock block;
    MeasureChunk(ChunkOf(Upright(p, h[0], h[1], h[2])), 0, pair.view, block);
    const uint8_t flags = block.flags[0];
    ASSERT_TRUE(pair.test.isVisible(box) || !(flags & kInFrame)) << k;
    ASSERT_EQ(pair.test.completelyContains(box), flags == kInFrame) << k;
    contained += flags == kInFrame;
    rejected += flags == 0;
    past_a_corner += flags == 0 && pair.test.isVisible(box);
  }
  EXPECT_GT(contained, 500);
  EXPECT_GT(rejected, 2000);
  EXPECT_GT(past_a_corner, 0);  // where Imath may say yes, and does
}

TEST(Imath, PerspectiveBoxesAreContainedAlike) { ExpectBoxesAlike(Projection::kPerspective); }
TEST(Imath, OrthographicBoxesAreContainedAlike) { ExpectBoxesAlike(Projection::kOrthographic); }

}  // namespace
}  // namespace scantling
