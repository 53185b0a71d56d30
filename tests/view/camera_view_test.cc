// The six numbers of a camera view, by hand.

#include <gtest/gtest.h>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::SquareCamera;
using view_test::SquareOrthographic;

// Sums and products of a few numbers of size 1e3: a few ulp, 1e-12.
constexpr double kTight = 1e-9;

TEST(ViewOf, PerspectiveScaleIsPictureTimesFocalOverWindow) {
  Camera camera = SquareCamera();
  camera.window_width = 36;
  camera.window_height = 24;
  camera.poses[0].focal_mm = 50;
  const CameraView view = ViewOf(camera, 0);
  EXPECT_NEAR(view.scale_u, 1000.0 * 50 / 36, kTight);
  EXPECT_NEAR(view.scale_v, 1000.0 * 50 / 24, kTight);
  EXPECT_NEAR(view.centre_u, 500, kTight);
  EXPECT_NEAR(view.centre_v, 500, kTight);
}

TEST(ViewOf, OrthographicScaleIgnoresFocalLength) {
  Camera camera = SquareOrthographic();
  camera.poses[0].focal_mm = 85;
  const CameraView view = ViewOf(camera, 0);
  EXPECT_NEAR(view.scale_u, 100, kTight);
  EXPECT_NEAR(view.scale_v, 100, kTight);
}

// u = W (1/2 + (f x / depth - ox) / aw): ox = 0.5 mm of 2 mm moves the picture a quarter of 1000 px to the left.
// v = H (1/2 - (f y / depth - oy) / ah): oy = 0.5 mm moves it a quarter down.
TEST(ViewOf, WindowOffsetShiftsThePictureTheOtherWay) {
  Camera camera = SquareCamera();
  camera.offset_x = camera.offset_y = 0.5;
  const CameraView view = ViewOf(camera, 0);
  EXPECT_NEAR(view.centre_u, 250, kTight);
  EXPECT_NEAR(view.centre_v, 750, kTight);
}

TEST(ViewOf, TakesThePoseOfItsFrame) {
  Camera camera = SquareCamera();
  camera.poses.resize(2, camera.poses[0]);
  camera.poses[1].focal_mm = 3;
  camera.poses[1].position_m = {1, 2, 3};
  EXPECT_NEAR(ViewOf(camera, 0).scale_u, 500, kTight);
  EXPECT_NEAR(ViewOf(camera, 1).scale_u, 1500, kTight);
  EXPECT_EQ(ViewOf(camera, 1).position_m, (Vec3{1, 2, 3}));
}

TEST(ViewOf, StaticCameraServesEveryFrame) { EXPECT_NEAR(ViewOf(SquareCamera(), 17).scale_u, 500, kTight); }

}  // namespace
}  // namespace scantling
