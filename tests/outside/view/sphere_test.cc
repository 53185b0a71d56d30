// The image of a sphere between those of boxes.
//
// Source: closed form, image area on the plane at depth 1 of a sphere of radius r at distance l and depth z > r:
// pi r^2 sqrt(l^2 - r^2) / (z^2 - r^2)^1.5 (own derivation; an ellipse whose bounds are those of Mara & McGuire, 2D
// Polyhedral Bounds of a Clipped, Perspective-Projected 3D Sphere, JCGT 2(2), 2013).

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::Add;
using view_test::EmptyChunk;
using view_test::Random;
using view_test::RandomlyTurned;

constexpr double kPx2PerUnit = 500 * 500;  // SquareCamera, picture plane at depth 1

double SphereArea(double x, double y, double depth, double r) {
  const double l2 = x * x + y * y + depth * depth, r2 = r * r;
  return std::numbers::pi * r2 * std::sqrt(l2 - r2) / std::pow(depth * depth - r2, 1.5);
}

TEST(SphereImage, ClosedFormGivesThePublishedValues) {
  EXPECT_NEAR(SphereArea(0, 0, 10, 1), 0.031733259127, 1e-12);
  EXPECT_NEAR(SphereArea(3, 0, 10, 1), 0.033144308188, 1e-12);
  EXPECT_NEAR(SphereArea(3, 4, 10, 2), 0.146958834706, 1e-12);
}

// Mean image area of 256,000 randomly turned cubes of half-edge `half`, and its standard error.
struct Mean {
  double area = 0, standard_error = 0, least = 1e300, most = 0;
};

Mean MeanImage(const Vec3& centre, double half) {
  Random random(61);
  const CameraView view = ViewOf(view_test::SquareCamera(), 0);
  double sum = 0, squares = 0;
  Mean mean;
  const int chunks = 1000;
  for (int k = 0; k < chunks; ++k) {
    PoseChunk chunk = EmptyChunk();
    for (int i = 0; i < kChunkLanes; ++i) Add(chunk, RandomlyTurned(random, centre, {half, half, half}));
    ViewBlock block;
    MeasureChunk(chunk, 0, view, block);
    for (float px2 : block.covered_px) {
      const double area = px2 / kPx2PerUnit;
      sum += area;
      squares += area * area;
      mean.least = std::min(mean.least, area);
      mean.most = std::max(mean.most, area);
    }
  }
  const double count = chunks * kChunkLanes;
  mean.area = sum / count;
  mean.standard_error = std::sqrt(std::max(0.0, squares / count - mean.area * mean.area) / count);
  return mean;
}

// A cube about the sphere hides it whatever way it is turned; a cube in it stays within its image. Half-edges r and
// r / sqrt 3. Float rounding of the axes: 1e-6.
TEST(SphereImage, LiesBetweenTheInscribedAndTheCircumscribedCube) {
  const struct { double x, y, depth, r; } spheres[] = {{0, 0, 10, 1}, {3, 0, 10, 1}, {3, 4, 10, 2}};
  for (const auto& s : spheres) {
    const double want = SphereArea(s.x, s.y, s.depth, s.r);
    EXPECT_GE(MeanImage({s.x, s.y, -s.depth}, s.r).least, want * (1 - 1e-6));
    EXPECT_LE(MeanImage({s.x, s.y, -s.depth}, s.r / std::sqrt(3.0)).most, want * (1 + 1e-6));
  }
}

// By Cauchy a small cube, over all orientations, covers on average what a sphere of the same surface covers: half-edge
// h, surface 24 h^2 = 4 pi r^2. Off the axis both are stretched alike. The next term is of order (h / depth)^2 = 1e-6
// here.
TEST(SphereImage, IsWhatSmallTurnedCubesOfItsSurfaceCoverOnAverage) {
  for (const Vec3& at : {Vec3{0, 0, 10}, Vec3{3, 4, 10}, Vec3{-9, 2, 10}}) {
    const double half = 0.01, r = half * std::sqrt(6 / std::numbers::pi);
    const Mean mean = MeanImage({at[0], at[1], -at[2]}, half);
    const double want = SphereArea(at[0], at[1], at[2], r);
    EXPECT_NEAR(mean.area, want, 4 * mean.standard_error + 1e-5 * want);
    EXPECT_LT(4 * mean.standard_error, 0.003 * want);
  }
}

// A box facing the camera shows its front face alone: (2 h / (z - h))^2.
TEST(BoxImage, FacingTheCameraIsItsFrontFace) {
  for (double half : {0.01, 0.5, 3.0}) {
    const auto box = view_test::Upright({0, 0, -10}, half, half, half);
    const double side = 2 * half / (10 - half);
    const ObjectView got = MeasureObject(view_test::ChunkOf(box), 0, 0, ViewOf(view_test::SquareCamera(), 0));
    // Half-edges are stored as float.
    EXPECT_NEAR(got.covered_px / kPx2PerUnit, side * side, 2e-7 * side * side);
  }
}

}  // namespace
}  // namespace scantling
