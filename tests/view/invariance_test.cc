// What must not change a measurement.

#include <gtest/gtest.h>

#include <cmath>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::Add;
using view_test::Box;
using view_test::EmptyChunk;
using view_test::LogUniform;
using view_test::Minus;
using view_test::Plus;
using view_test::Random;
using view_test::RandomCamera;
using view_test::RandomlyTurned;
using view_test::Stored;
using view_test::Times;
using view_test::ToWorld;
using view_test::Uniform;

Box BoxInView(Random& random, const Camera& camera) {
  const double depth = LogUniform(random, 5, 100);
  const Vec3 centre =
      ToWorld(camera.poses[0], Uniform(random, -0.6, 0.6) * depth, Uniform(random, -0.4, 0.4) * depth, depth);
  return RandomlyTurned(random, centre,
                        {LogUniform(random, 0.1, 3), LogUniform(random, 0.1, 3), LogUniform(random, 0.1, 3)});
}

PoseChunk RandomChunk(Random& random, const Camera& camera) {
  PoseChunk chunk = EmptyChunk();
  for (int i = 0; i < kChunkLanes; ++i) Add(chunk, BoxInView(random, camera));
  return chunk;
}

// Every stored centre moved by the same vector, exactly as far as double allows.
PoseChunk Moved(const PoseChunk& from, const Vec3& by) {
  PoseChunk to = from;
  for (size_t i = 0; i < kChunkLanes; ++i) {
    to.centre_x[i] += by[0];
    to.centre_y[i] += by[1];
    to.centre_z[i] += by[2];
  }
  return to;
}

// 1e7 m away a double moves in steps of 2e-9 m; at depth 5 m and at most 4551 px per unit (80 mm on 36 mm, 2048 px)
// that is 2e-6 px. Lengths in px, so areas are compared by their square roots.
TEST(MeasureChunk, SceneTenThousandKilometresAwayMeasuresTheSame) {
  Random random(3);
  int seen = 0;
  for (int k = 0; k < 60; ++k) {
    Camera camera = RandomCamera(random, k % 3 ? Projection::kPerspective : Projection::kOrthographic);
    const PoseChunk chunk = RandomChunk(random, camera);
    ViewBlock here, there;
    MeasureChunk(chunk, 0, ViewOf(camera, 0), here);
    const Vec3 by = {1e7, -0.7e7, 0.3e7};
    camera.poses[0].position_m = Plus(camera.poses[0].position_m, by);
    MeasureChunk(Moved(chunk, by), 0, ViewOf(camera, 0), there);
    for (int i = 0; i < kChunkLanes; ++i) {
      ASSERT_EQ(here.flags[i], there.flags[i]);
      ASSERT_NEAR(here.height_px[i], there.height_px[i], 1e-3);
      ASSERT_NEAR(std::sqrt(here.covered_px[i]), std::sqrt(there.covered_px[i]), 1e-3);
      ASSERT_NEAR(std::sqrt(here.rendered_px[i]), std::sqrt(there.rendered_px[i]), 1e-3);
      if (std::abs(here.u_px[i]) < 8192) {
        ASSERT_NEAR(here.u_px[i], there.u_px[i], 1e-3);
      }
      if (std::abs(here.v_px[i]) < 8192) {
        ASSERT_NEAR(here.v_px[i], there.v_px[i], 1e-3);
      }
      seen += here.flags[i] != 0;
    }
  }
  EXPECT_GT(seen, 5000);
}

// Factors that are not powers of two round the stored axes anew, by 6e-8 of each: a corner moves by at most 6e-8 L in
// the picture, L the length in px of the three half-axes laid end to end at the nearest depth. The outline is shorter
// than 8 L, so its area changes by less than 5e-7 L^2; the rounding of the area to float adds 1.2e-7 of at most 4 L^2.
double RoundingOfArea(const Box& box, double near_m, const CameraView& view) {
  double length = 0;
  for (const Vec3& axis : {box.a, box.b, box.c}) length += std::sqrt(view_test::Dot(axis, axis));
  const double px = length * std::max(view.scale_u, view.scale_v) / near_m;
  return near_m > 0 ? 1e-6 * px * px : 0;
}

// The cheated set: built smaller and set nearer by one factor, with near and far clear of it.
TEST(MeasureChunk, ScalingObjectAndDistanceAboutTheCameraChangesNothing) {
  Random random(5);
  for (double factor : {1.0 / 7, 1e-3, 0.5, 3.0, 1e4}) {
    Camera camera = RandomCamera(random, Projection::kPerspective);
    camera.near_m = 1e-6;
    camera.far_m = std::numeric_limits<double>::infinity();
    const Vec3 eye = camera.poses[0].position_m;
    const PoseChunk chunk = RandomChunk(random, camera);
    PoseChunk scaled = EmptyChunk();
    for (int i = 0; i < kChunkLanes; ++i) {
      const Box box = Stored(chunk, i);
      Add(scaled, {Plus(eye, Times(factor, Minus(box.centre, eye))), Times(factor, box.a), Times(factor, box.b),
                   Times(factor, box.c)});
    }
    const CameraView view = ViewOf(camera, 0);
    ViewBlock one, other;
    MeasureChunk(chunk, 0, view, one);
    MeasureChunk(scaled, 0, view, other);
    int seen = 0;
    for (int i = 0; i < kChunkLanes; ++i) {
      ASSERT_EQ(one.flags[i], other.flags[i]) << factor;
      ASSERT_NEAR(one.covered_px[i], other.covered_px[i], RoundingOfArea(Stored(chunk, i), one.near_m[i], view));
      ASSERT_NEAR(one.height_px[i], other.height_px[i], 1e-6 * one.height_px[i]) << factor;
      ASSERT_NEAR(one.near_m[i] * factor, other.near_m[i], 1e-6 * other.near_m[i]) << factor;
      seen += one.flags[i] != 0;
    }
    EXPECT_GT(seen, kChunkLanes / 4);
  }
}

// A box whose local axes are swapped, turned round or mirrored is the same box.
TEST(MeasureChunk, MirroredBoxesMeasureTheSame) {
  Random random(9);
  const Camera camera = RandomCamera(random, Projection::kPerspective);
  const PoseChunk chunk = RandomChunk(random, camera);
  PoseChunk mirrored = EmptyChunk();
  for (int i = 0; i < kChunkLanes; ++i) {
    const Box box = Stored(chunk, i);
    Add(mirrored, {box.centre, Times(-1, box.a), box.b, box.c});
  }
  ViewBlock one, other;
  MeasureChunk(chunk, 0, ViewOf(camera, 0), one);
  MeasureChunk(mirrored, 0, ViewOf(camera, 0), other);
  for (int i = 0; i < kChunkLanes; ++i) {
    ASSERT_EQ(one.flags[i], other.flags[i]);
    // Sums in another order, double: at most the last digit of the float.
    ASSERT_FLOAT_EQ(one.covered_px[i], other.covered_px[i]);
    ASSERT_FLOAT_EQ(one.near_m[i], other.near_m[i]);
  }
}

// A mirrored camera (rows of determinant -1) shows the mirrored picture: u runs the other way, sizes stay.
TEST(MeasureChunk, MirroredCameraTurnsThePictureAround) {
  Random random(13);
  Camera camera = RandomCamera(random, Projection::kPerspective);
  camera.offset_x = 0;
  const PoseChunk chunk = RandomChunk(random, camera);
  ViewBlock one, other;
  MeasureChunk(chunk, 0, ViewOf(camera, 0), one);
  for (size_t j = 0; j < 3; ++j) camera.poses[0].world_to_camera[j] *= -1;
  MeasureChunk(chunk, 0, ViewOf(camera, 0), other);
  for (int i = 0; i < kChunkLanes; ++i) {
    ASSERT_EQ(one.flags[i], other.flags[i]);
    ASSERT_FLOAT_EQ(one.covered_px[i], other.covered_px[i]);
    // Two roundings to float of at most 1e4 px.
    ASSERT_NEAR(one.u_px[i], 2048 - other.u_px[i], 1.2e-7 * std::abs(one.u_px[i]) + 3e-4);
  }
}

// Nested boxes: what is inside covers no more, and no part of it is nearer or farther.
TEST(MeasureObject, LargerBoxCoversNoLess) {
  Random random(17);
  for (int k = 0; k < 3000; ++k) {
    const Camera camera = RandomCamera(random, k % 2 ? Projection::kPerspective : Projection::kOrthographic);
    const CameraView view = ViewOf(camera, 0);
    Box box = BoxInView(random, camera);
    PoseChunk chunk = EmptyChunk();
    Add(chunk, box);
    for (Vec3* axis : {&box.a, &box.b, &box.c}) *axis = Times(Uniform(random, 1, 8), *axis);
    Add(chunk, box);
    const ObjectView small = MeasureObject(chunk, 0, 0, view), large = MeasureObject(chunk, 1, 0, view);
    // Slack for rounding in double on areas up to 2e6 px^2, and for axes stored as float.
    ASSERT_GE(large.covered_px, small.covered_px * (1 - 1e-6)) << k;
    if (small.flags) {
      ASSERT_TRUE(large.flags & kInFrame);
      ASSERT_LE(large.near_m, small.near_m * (1 + 1e-6));
      ASSERT_GE(large.far_m, small.far_m * (1 - 1e-6));
    }
  }
}

}  // namespace
}  // namespace scantling
