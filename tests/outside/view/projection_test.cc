// Projection against the matrices of glTF 2.0 and the window formula of OpenUSD.

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numbers>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::ChunkOf;
using view_test::Random;
using view_test::Uniform;
using view_test::Upright;

// Row-major here, as the specification prints them.
using Rows = std::array<std::array<double, 4>, 4>;

struct Projected {
  double u, v, depth_ndc;
};

// Normalised device coordinates run from -1 to 1, up and to the right.
Projected Through(const Rows& rows, const Vec3& p, const Camera& camera) {
  std::array<double, 4> clip;
  for (size_t i = 0; i < 4; ++i) clip[i] = rows[i][0] * p[0] + rows[i][1] * p[1] + rows[i][2] * p[2] + rows[i][3];
  return {camera.width_px * (1 + clip[0] / clip[3]) / 2, camera.height_px * (1 - clip[1] / clip[3]) / 2,
          clip[2] / clip[3]};
}

// The camera of the specification's sample: aspect 1.5, yfov 0.660593, near 0.01, far 100.
constexpr double kAspect = 1.5, kYfov = 0.660593, kNear = 0.01, kFar = 100;

Camera SampleCamera() {
  Camera camera = view_test::SquareCamera();
  camera.window_height = 24;
  camera.window_width = 24 * kAspect;
  camera.poses[0].focal_mm = 12 / std::tan(kYfov / 2);
  camera.width_px = 1500;
  camera.height_px = 1000;
  camera.near_m = kNear;
  camera.far_m = kFar;
  return camera;
}

// Source: glTF 2.0 specification, Cameras, Projection Matrices; entries for that sample by the closed forms
// m00 = 1 / (a tan(y/2)), m11 = 1 / tan(y/2), m22 = (f + n) / (n - f), m23 = 2 f n / (n - f).
constexpr Rows kSample = {
    {{1.944449862, 0, 0, 0}, {0, 2.916674794, 0, 0}, {0, 0, -1.000200020002, -0.020002000200}, {0, 0, -1, 0}}};

TEST(GltfPerspective, PointsLandWhereTheMatrixPutsThem) {
  Random random(31);
  const Camera camera = SampleCamera();
  const CameraView view = ViewOf(camera, 0);
  for (int k = 0; k < 2000; ++k) {
    const double depth = Uniform(random, 0.02, 90);
    const Vec3 p = {Uniform(random, -0.8, 0.8) * depth, Uniform(random, -0.5, 0.5) * depth, -depth};
    const Projected want = Through(kSample, p, camera);
    const auto got = ProjectCentre(ChunkOf(Upright(p, 0, 0, 0)), 0, 0, view);
    // The entries are printed to 1e-9 of about 2; half of 1500 px times |x / depth| < 0.8 makes that 6e-7 px.
    ASSERT_NEAR(got[0], want.u, 1e-6);
    ASSERT_NEAR(got[1], want.v, 1e-6);
  }
}

// In frame exactly where all three device coordinates lie within -1 and 1.
TEST(GltfPerspective, PointsAreInFrameWhereTheClipVolumeHoldsThem) {
  Random random(32);
  const Camera camera = SampleCamera();
  const CameraView view = ViewOf(camera, 0);
  int in = 0;
  for (int k = 0; k < 20000; ++k) {
    const double depth = view_test::LogUniform(random, 0.005, 200);
    const Vec3 p = {Uniform(random, -0.8, 0.8) * depth, Uniform(random, -0.5, 0.5) * depth, -depth};
    const Projected want = Through(kSample, p, camera);
    // Leave out what lies within the printed digits of a border.
    const double off = std::min({std::abs(want.u), std::abs(want.u - 1500), std::abs(want.v), std::abs(want.v - 1000)});
    if (off < 1e-5 || std::abs(depth - kFar) < 1e-6 || std::abs(depth - kNear) < 1e-9) continue;
    const bool inside = want.u > 0 && want.u < 1500 && want.v > 0 && want.v < 1000 && std::abs(want.depth_ndc) < 1;
    ASSERT_EQ(MeasureObject(ChunkOf(Upright(p, 0, 0, 0)), 0, 0, view).flags & kInFrame, inside ? kInFrame : 0);
    in += inside;
  }
  EXPECT_GT(in, 3000);
}

// Published beside the sample: 37.849191 and 54.432093 degrees, a 35 mm lens on 36 x 24.
TEST(GltfPerspective, SampleIsA35MillimetreLens) {
  const Camera camera = SampleCamera();
  const CameraView view = ViewOf(camera, 0);
  const double degree = 180 / std::numbers::pi;
  EXPECT_NEAR(2 * std::atan(view.centre_v / view.scale_v) * degree, 37.849191, 1e-6);
  EXPECT_NEAR(2 * std::atan(view.centre_u / view.scale_u) * degree, 54.432093, 1e-6);
  EXPECT_NEAR(camera.poses[0].focal_mm, 35, 1e-4);
}

// Source: glTF 2.0 specification, orthographic rows [1/r 0 0 0] [0 1/t 0 0] [0 0 2/(n-f) (f+n)/(n-f)], r = xmag,
// t = ymag: the window is 2 xmag by 2 ymag.
TEST(GltfOrthographic, PointsLandWhereTheMatrixPutsThem) {
  const double xmag = 6, ymag = 4;
  Camera camera = SampleCamera();
  camera.projection = Projection::kOrthographic;
  camera.window_width = 2 * xmag;
  camera.window_height = 2 * ymag;
  const Rows rows = {{{1 / xmag, 0, 0, 0},
                      {0, 1 / ymag, 0, 0},
                      {0, 0, 2 / (kNear - kFar), (kFar + kNear) / (kNear - kFar)},
                      {0, 0, 0, 1}}};
  Random random(33);
  for (int k = 0; k < 2000; ++k) {
    const Vec3 p = {Uniform(random, -8, 8), Uniform(random, -6, 6), Uniform(random, -120, 5)};
    const Projected want = Through(rows, p, camera);
    const ObjectView got = MeasureObject(ChunkOf(Upright(p, 0, 0, 0)), 0, 0, ViewOf(camera, 0));
    // A few ulp of 1e3 px.
    ASSERT_NEAR(got.u_px, want.u, 1e-9);
    ASSERT_NEAR(got.v_px, want.v, 1e-9);
    const bool inside = std::abs(p[0]) < xmag && std::abs(p[1]) < ymag && std::abs(want.depth_ndc) < 1;
    ASSERT_EQ(got.flags & kInFrame, inside ? kInFrame : 0);
  }
}

// Source: OpenUSD, UsdGeomCamera defaults (apertures 20.955 x 15.2908, focal length 50, one unit throughout) and
// GfCamera::GetFrustum: window = (+-aperture / 2 + offset) / focal length.
Camera UsdCamera(double offset_x, double offset_y) {
  Camera camera = view_test::SquareCamera();
  camera.window_width = 20.955;
  camera.window_height = 15.2908;
  camera.offset_x = offset_x;
  camera.offset_y = offset_y;
  camera.poses[0].focal_mm = 50;
  camera.width_px = 2048;
  camera.height_px = 1494;
  return camera;
}

TEST(UsdCamera, DefaultAnglesOfViewAreAsPublished) {
  const CameraView view = ViewOf(UsdCamera(0, 0), 0);
  const double degree = 180 / std::numbers::pi;
  EXPECT_NEAR(2 * std::atan(view.centre_u / view.scale_u) * degree, 23.670166, 1e-6);
  EXPECT_NEAR(2 * std::atan(view.centre_v / view.scale_v) * degree, 17.387291, 1e-6);
}

TEST(UsdCamera, ShiftedWindowHasItsEdgesWhereTheFormulaPutsThem) {
  for (double ox : {-3.0, 0.0, 2.5}) {
    for (double oy : {-1.0, 0.0, 4.0}) {
      const CameraView view = ViewOf(UsdCamera(ox, oy), 0);
      const double depth = 8, left = (-20.955 / 2 + ox) / 50, right = (20.955 / 2 + ox) / 50;
      const double low = (-15.2908 / 2 + oy) / 50, high = (15.2908 / 2 + oy) / 50;
      const auto bottom_left =
          ProjectCentre(ChunkOf(Upright({left * depth, low * depth, -depth}, 0, 0, 0)), 0, 0, view);
      const auto top_right =
          ProjectCentre(ChunkOf(Upright({right * depth, high * depth, -depth}, 0, 0, 0)), 0, 0, view);
      EXPECT_NEAR(bottom_left[0], 0, 1e-9);
      EXPECT_NEAR(bottom_left[1], 1494, 1e-9);
      EXPECT_NEAR(top_right[0], 2048, 1e-9);
      EXPECT_NEAR(top_right[1], 0, 1e-9);
    }
  }
}

}  // namespace
}  // namespace scantling
