// Two references that share no step with the product.
//
//   area      rays through a grid of points of the picture, each cut with the box by its slabs (Kay & Kajiya 1986) and
//             counted where it is inside the box somewhere between near and far
//   in frame  separating axes of two convex bodies: they are apart if and only if they are apart along the normal of a
//             face of one of them or along a cross product of an edge of each (Gottschalk, Lin & Manocha 1996)

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::Box;
using view_test::ChunkOf;
using view_test::Cross;
using view_test::Dot;
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

// Ray origin + t direction, t the depth.
struct Ray {
  Vec3 origin, direction;
};

Ray RayThrough(const Camera& camera, const CameraView& view, double u, double v) {
  const CameraPose& pose = camera.poses[0];
  const double x = (u - view.centre_u) / view.scale_u, y = (view.centre_v - v) / view.scale_v;
  if (camera.projection == Projection::kPerspective) {
    return {pose.position_m, Minus(ToWorld(pose, x, y, 1), pose.position_m)};
  }
  const Vec3 at = ToWorld(pose, x, y, 0);
  return {at, Minus(ToWorld(pose, x, y, 1), at)};
}

bool Hits(const Ray& ray, const Box& box, double near, double far) {
  const Vec3 from = Minus(ray.origin, box.centre);
  const std::array<Vec3, 3> normals = {Cross(box.b, box.c), Cross(box.c, box.a), Cross(box.a, box.b)};
  const double half = std::abs(Dot(box.a, normals[0]));
  for (const Vec3& n : normals) {
    const double at = Dot(n, from), speed = Dot(n, ray.direction);
    if (speed == 0) {
      if (std::abs(at) > half) return false;
      continue;
    }
    const double one = (-half - at) / speed, other = (half - at) / speed;
    near = std::max(near, std::min(one, other));
    far = std::min(far, std::max(one, other));
  }
  return near <= far;
}

constexpr int kGrid = 160;  // rays each way over the whole rendered picture

// px^2 in the delivered and the rendered picture.
std::array<double, 2> CountedArea(const Camera& camera, const CameraView& view, const Box& box) {
  const double width = view.width_px + 2 * view.overscan_px, height = view.height_px + 2 * view.overscan_px;
  const double cell = width / kGrid * height / kGrid;
  std::array<double, 2> area = {0, 0};
  for (int i = 0; i < kGrid; ++i) {
    for (int j = 0; j < kGrid; ++j) {
      const double u = (i + 0.5) * width / kGrid - view.overscan_px, v = (j + 0.5) * height / kGrid - view.overscan_px;
      if (!Hits(RayThrough(camera, view, u, v), box, view.near_m, view.far_m)) continue;
      area[1] += cell;
      if (u > 0 && u < view.width_px && v > 0 && v < view.height_px) area[0] += cell;
    }
  }
  return area;
}

Box BoxNear(Random& random, const Camera& camera, const CameraView& view) {
  const double depth = LogUniform(random, 0.3, 40);
  const double spread = camera.projection == Projection::kPerspective ? depth : 1;
  const Vec3 centre =
      ToWorld(camera.poses[0], (Uniform(random, -0.3, 1.3) * view.width_px - view.centre_u) / view.scale_u * spread,
              (view.centre_v - Uniform(random, -0.3, 1.3) * view.height_px) / view.scale_v * spread, depth);
  return RandomlyTurned(random, centre,
                        {depth * LogUniform(random, 0.02, 1.5), depth * LogUniform(random, 0.02, 1.5),
                         depth * LogUniform(random, 0.02, 1.5)});
}

// The outline is convex: a line of the grid crosses it at most twice, so the count is off by at most one cell a line at
// each end, 2 kGrid cells in all (and 2 kGrid more for the delivered window's own border). Over many boxes the errors
// cancel; the sums must agree to 0.2%.
void ExpectCountedArea(Projection projection, int cameras) {
  Random random(7);
  double counted = 0, measured = 0;
  int clipped = 0;
  for (int k = 0; k < cameras; ++k) {
    const Camera camera = RandomCamera(random, projection);
    const CameraView view = ViewOf(camera, 0);
    const PoseChunk chunk = ChunkOf(BoxNear(random, camera, view));
    const ObjectView got = MeasureObject(chunk, 0, 0, view);
    const std::array<double, 2> want = CountedArea(camera, view, Stored(chunk, 0));
    const double picture = (view.width_px + 2 * view.overscan_px) * (view.height_px + 2 * view.overscan_px);
    ASSERT_NEAR(got.rendered_px, want[1], picture * 2 / kGrid) << k;
    ASSERT_NEAR(got.covered_px, want[0], picture * 4 / kGrid) << k;
    counted += want[0] + want[1];
    measured += got.covered_px + got.rendered_px;
    clipped += (got.flags & kClipped) != 0;
  }
  EXPECT_NEAR(measured, counted, 0.002 * counted);
  EXPECT_GT(clipped, cameras / 4);
}

TEST(MeasureObject, PerspectiveAreaMatchesCountedRays) { ExpectCountedArea(Projection::kPerspective, 250); }

TEST(MeasureObject, OrthographicAreaMatchesCountedRays) { ExpectCountedArea(Projection::kOrthographic, 100); }

// ---- In frame, by separating axes

std::vector<Vec3> CornersOf(const Box& box) {
  std::vector<Vec3> corners;
  for (double s : {-1.0, 1.0}) {
    for (double t : {-1.0, 1.0}) {
      for (double r : {-1.0, 1.0}) {
        corners.push_back(Plus(box.centre, Plus(Times(s, box.a), Plus(Times(t, box.b), Times(r, box.c)))));
      }
    }
  }
  return corners;
}

// Near corners, then far ones, each: left bottom, right bottom, right top, left top.
std::vector<Vec3> FrustumCorners(const Camera& camera, const CameraView& view) {
  std::vector<Vec3> corners;
  for (double depth : {view.near_m, view.far_m}) {
    const double spread = camera.projection == Projection::kPerspective ? depth : 1, o = view.overscan_px;
    const double left = (-o - view.centre_u) / view.scale_u, right = (view.width_px + o - view.centre_u) / view.scale_u;
    const double low = (view.centre_v - view.height_px - o) / view.scale_v, high = (view.centre_v + o) / view.scale_v;
    for (const auto& [x, y] :
         {std::array{left, low}, std::array{right, low}, std::array{right, high}, std::array{left, high}}) {
      corners.push_back(ToWorld(camera.poses[0], x * spread, y * spread, depth));
    }
  }
  return corners;
}

// Greatest distance between the two bodies along any axis, in metres; negative: they overlap.
double Gap(const std::vector<Vec3>& axes, const std::vector<Vec3>& one, const std::vector<Vec3>& other) {
  double gap = -1e300;
  for (const Vec3& axis : axes) {
    const double length = std::sqrt(Dot(axis, axis));
    if (length < 1e-9) continue;
    double low1 = 1e300, high1 = -1e300, low2 = 1e300, high2 = -1e300;
    for (const Vec3& p : one) low1 = std::min(low1, Dot(p, axis)), high1 = std::max(high1, Dot(p, axis));
    for (const Vec3& p : other) low2 = std::min(low2, Dot(p, axis)), high2 = std::max(high2, Dot(p, axis));
    gap = std::max(gap, std::max(low1 - high2, low2 - high1) / length);
  }
  return gap;
}

double GapToFrustum(const Camera& camera, const CameraView& view, const Box& box) {
  const std::vector<Vec3> f = FrustumCorners(camera, view);
  const std::vector<Vec3> frustum_edges = {Minus(f[1], f[0]), Minus(f[3], f[0]), Minus(f[4], f[0]),
                                           Minus(f[5], f[1]), Minus(f[6], f[2]), Minus(f[7], f[3])};
  std::vector<Vec3> axes = {Cross(box.b, box.c), Cross(box.c, box.a), Cross(box.a, box.b),
                            Cross(frustum_edges[0], frustum_edges[1])};
  for (size_t k = 0; k < 4; ++k) axes.push_back(Cross(Minus(f[k], f[(k + 1) % 4]), frustum_edges[2 + k]));
  for (const Vec3& edge : {box.a, box.b, box.c}) {
    for (const Vec3& frustum_edge : frustum_edges) axes.push_back(Cross(edge, frustum_edge));
  }
  return Gap(axes, CornersOf(box), f);
}

// Positions are of order 1e2 m, so the reference itself is good to 1e-12; within 1e-10 m it decides nothing.
void ExpectSameAsSeparatingAxes(Projection projection, int boxes) {
  Random random(11);
  int in = 0, close_misses = 0, undecided = 0;
  for (int k = 0; k < boxes; ++k) {
    Camera camera = RandomCamera(random, projection);
    camera.far_m = Uniform(random, 20, 60);
    const CameraView view = ViewOf(camera, 0);
    const PoseChunk chunk = ChunkOf(BoxNear(random, camera, view));
    const double gap = GapToFrustum(camera, view, Stored(chunk, 0));
    const bool got = MeasureObject(chunk, 0, 0, view).flags & kInFrame;
    if (std::abs(gap) < 1e-10) {
      ++undecided;
      continue;
    }
    ASSERT_EQ(got, gap < 0) << k << " gap " << gap;
    in += got;
    close_misses += !got && gap < 0.05;
  }
  EXPECT_LT(undecided, boxes / 1000);
  EXPECT_GT(in, boxes / 5);
  EXPECT_GT(boxes - in, boxes / 20);
  EXPECT_GT(close_misses, 0);
}

TEST(MeasureObject, PerspectiveInFrameMatchesSeparatingAxes) {
  ExpectSameAsSeparatingAxes(Projection::kPerspective, 40000);
}

TEST(MeasureObject, OrthographicInFrameMatchesSeparatingAxes) {
  ExpectSameAsSeparatingAxes(Projection::kOrthographic, 10000);
}

}  // namespace
}  // namespace scantling
