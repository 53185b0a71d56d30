// Shadows of boxes under an orthographic camera.
//
// Source: Cauchy's theorem, mean shadow of a convex body over all directions = surface / 4 (Tsukerman & Veomett, arXiv
// 1604.05815; Slepian, arXiv 1109.0595): unit cube 6/4 = 1.5, box 1 x 2 x 3 22/4 = 5.5. Largest shadow of a box with
// edges a, b, c: sqrt(a^2 b^2 + b^2 c^2 + c^2 a^2), along (bc, ca, ab): sqrt 3 and 7.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::Add;
using view_test::Box;
using view_test::EmptyChunk;
using view_test::Random;
using view_test::RandomlyTurned;

constexpr double kPx2PerM2 = 100 * 100;  // SquareOrthographic

struct Shadows {
  double mean = 0, standard_error = 0, largest = 0;
};

Shadows RandomShadows(const Vec3& edges, int chunks) {
  Random random(51);
  const CameraView view = ViewOf(view_test::SquareOrthographic(), 0);
  const Vec3 half = {edges[0] / 2, edges[1] / 2, edges[2] / 2};
  double sum = 0, squares = 0;
  Shadows shadows;
  for (int k = 0; k < chunks; ++k) {
    PoseChunk chunk = EmptyChunk();
    for (int i = 0; i < kChunkLanes; ++i) Add(chunk, RandomlyTurned(random, {0.3, -0.2, -10}, half));
    ViewBlock block;
    MeasureChunk(chunk, 0, view, block);
    for (float px2 : block.covered_px) {
      const double area = px2 / kPx2PerM2;
      sum += area;
      squares += area * area;
      shadows.largest = std::max(shadows.largest, area);
    }
  }
  const double count = chunks * kChunkLanes;
  shadows.mean = sum / count;
  shadows.standard_error = std::sqrt((squares / count - shadows.mean * shadows.mean) / count);
  return shadows;
}

// 256,000 orientations. Four standard errors of the sample itself (a fixed seed; one in 16,000 seeds would fail). That
// band must be narrow enough to mean something: under 0.2% of the mean.
TEST(CauchyMeanShadow, UnitCubeIsOneAndAHalf) {
  const Shadows shadows = RandomShadows({1, 1, 1}, 1000);
  EXPECT_NEAR(shadows.mean, 1.5, 4 * shadows.standard_error);
  EXPECT_LT(4 * shadows.standard_error, 0.002 * 1.5);
}

TEST(CauchyMeanShadow, BoxOneTwoThreeIsFiveAndAHalf) {
  const Shadows shadows = RandomShadows({1, 2, 3}, 1000);
  EXPECT_NEAR(shadows.mean, 5.5, 4 * shadows.standard_error);
  EXPECT_LT(4 * shadows.standard_error, 0.003 * 5.5);
}

// Near its top the shadow falls as the cosine of the angle. Of 256,000 random directions about ten lie within 0.25
// degree of one of the eight equal ones (8 (1 - cos 0.25 deg) / 2 of all), so the largest comes within 1e-5 of the
// bound; 1e-4 is asked. Axes are stored as float: 1e-6 above it is allowed.
TEST(LargestShadow, RandomOrientationsReachItAndNeverPassIt) {
  const double cube = RandomShadows({1, 1, 1}, 1000).largest, box = RandomShadows({1, 2, 3}, 1000).largest;
  EXPECT_LE(cube, std::sqrt(3.0) * (1 + 1e-6));
  EXPECT_GE(cube, std::sqrt(3.0) * (1 - 1e-4));
  EXPECT_LE(box, 7 * (1 + 1e-6));
  EXPECT_GE(box, 7 * (1 - 1e-4));
}

// Turned so that the local direction (bc, ca, ab) points at the camera.
double ShadowAlongItsLargest(const Vec3& edges) {
  Vec3 towards = {edges[1] * edges[2], edges[2] * edges[0], edges[0] * edges[1]};
  towards = view_test::Times(1 / std::sqrt(view_test::Dot(towards, towards)), towards);
  Vec3 aside = view_test::Cross(towards, {1, 0, 0});
  aside = view_test::Times(1 / std::sqrt(view_test::Dot(aside, aside)), aside);
  const Vec3 rows[3] = {aside, view_test::Cross(towards, aside), towards};  // local to world
  const auto axis = [&](int j) {
    return Vec3{rows[0][j] * edges[j] / 2, rows[1][j] * edges[j] / 2, rows[2][j] * edges[j] / 2};
  };
  const Box box = {{0, 0, -10}, axis(0), axis(1), axis(2)};
  return MeasureObject(view_test::ChunkOf(box), 0, 0, ViewOf(view_test::SquareOrthographic(), 0)).covered_px /
         kPx2PerM2;
}

// Axes stored as float: 6e-8 in each of two factors.
TEST(LargestShadow, IsReachedAlongItsDirection) {
  EXPECT_NEAR(ShadowAlongItsLargest({1, 1, 1}), std::sqrt(3.0), 2e-7 * std::sqrt(3.0));
  EXPECT_NEAR(ShadowAlongItsLargest({1, 2, 3}), 7, 2e-7 * 7);
}

}  // namespace
}  // namespace scantling
