// Whole boxes measured by hand, through the chunk kernel and the border path alike.
//
// Camera: SquareCamera, u = 500 + 500 x / depth, near 0.5, frustum |x|, |y| <= depth, unless said otherwise.

#include <gtest/gtest.h>

#include <cmath>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::Add;
using view_test::Box;
using view_test::ChunkOf;
using view_test::EmptyChunk;
using view_test::Fold;
using view_test::Matrix;
using view_test::SquareCamera;
using view_test::SquareOrthographic;
using view_test::Upright;

// The chunk stores float: half an ulp is 6e-8 of the value; twice that leaves room for the sum in double.
constexpr double kFloat = 1.2e-7;

void ExpectSame(double got, double want, const char* what) { EXPECT_NEAR(got, want, kFloat * std::abs(want)) << what; }

// Measures one box both ways, checks that they agree, returns the double figures.
ObjectView Measure(const Box& box, const Camera& camera) {
  const PoseChunk chunk = ChunkOf(box);
  const CameraView view = ViewOf(camera, 0);
  ViewBlock block;
  MeasureChunk(chunk, 0, view, block);
  const ObjectView object = MeasureObject(chunk, 0, 0, view);
  EXPECT_EQ(block.count, 1);
  EXPECT_EQ(block.flags[0], object.flags);
  ExpectSame(block.covered_px[0], object.covered_px, "covered");
  ExpectSame(block.rendered_px[0], object.rendered_px, "rendered");
  ExpectSame(block.height_px[0], object.height_px, "height");
  ExpectSame(block.near_m[0], object.near_m, "near");
  ExpectSame(block.far_m[0], object.far_m, "far");
  return object;
}

// Double arithmetic on numbers up to 1e6: 1e-10 and better.
constexpr double kTight = 1e-8;

// The front face stands at depth 9.5 and hides the rest: (500 / 9.5)^2.
TEST(MeasureChunk, CubeFacingTheCameraCoversItsFrontFace) {
  const ObjectView got = Measure(Upright({0, 0, -10}, 0.5, 0.5, 0.5), SquareCamera());
  EXPECT_NEAR(got.covered_px, 500.0 / 9.5 * 500.0 / 9.5, kTight);
  EXPECT_NEAR(got.rendered_px, got.covered_px, kTight);
  EXPECT_NEAR(got.height_px, 500.0 / 9.5, kTight);
  EXPECT_NEAR(got.near_m, 9.5, kTight);
  EXPECT_NEAR(got.far_m, 10.5, kTight);
  EXPECT_NEAR(got.u_px, 500, kTight);
  EXPECT_NEAR(got.v_px, 500, kTight);
  EXPECT_EQ(got.flags, kInFrame);
}

// x in [3, 4], y in [-.5, .5], depth in [9.5, 10.5]. Front: 500/9.5 squared. The left side (x = 3) is seen too: between
// u = 500 + 1500/10.5 and u = 500 + 1500/9.5 stands a trapezium with upright edges 500/10.5 and 500/9.5 high.
TEST(MeasureChunk, CubeBesideTheAxisShowsItsSideToo) {
  const ObjectView got = Measure(Upright({3.5, 0, -10}, 0.5, 0.5, 0.5), SquareCamera());
  const double front = 500 / 9.5, back = 500 / 10.5;
  EXPECT_NEAR(got.covered_px, front * front + (1500 / 9.5 - 1500 / 10.5) * (front + back) / 2, kTight);
  EXPECT_NEAR(got.u_px, 500 + 500 * 3.5 / 10, kTight);
}

// Scaled 2 x 1 x 1 by a matrix with a local box off its origin.
TEST(MeasureChunk, LocalBoxIsFoldedWithItsMatrix) {
  const Matrix matrix = {2, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 1, 0, -11, 1};
  const ObjectView got = Measure(Fold(matrix, {-1, 0, 0}, {0, 2, 2}), SquareCamera());
  // x in [-1, 1], y in [0, 2], depth in [9, 11]: the front face alone is seen (the bottom is edge-on).
  EXPECT_NEAR(got.covered_px, 1000.0 / 9 * 1000 / 9, kTight);
  EXPECT_NEAR(got.height_px, 500.0 / 9 * 2, kTight);
  EXPECT_NEAR(got.v_px, 450, kTight);
}

TEST(MeasureChunk, MirroredBoxMeasuresTheSame) {
  const Box box = {{2, -1, -10}, {0.5, 0.1, 0}, {-0.1, 1, 0.2}, {0.3, 0, 0.7}};
  Box mirrored = box;
  mirrored.c = {-box.c[0], -box.c[1], -box.c[2]};
  const ObjectView one = Measure(box, SquareCamera()), other = Measure(mirrored, SquareCamera());
  EXPECT_NEAR(one.covered_px, other.covered_px, kTight);
  EXPECT_EQ(one.flags, other.flags);
}

TEST(MeasureChunk, ObjectBehindCameraCoversNothing) {
  const ObjectView got = Measure(Upright({0, 0, 10}, 0.5, 0.5, 0.5), SquareCamera());
  EXPECT_EQ(got.flags, 0);
  EXPECT_EQ(got.covered_px, 0);
  EXPECT_EQ(got.height_px, 0);
  EXPECT_TRUE(std::isnan(got.u_px));
  ViewBlock block;
  MeasureChunk(ChunkOf(Upright({0, 0, 10}, 0.5, 0.5, 0.5)), 0, ViewOf(SquareCamera(), 0), block);
  EXPECT_TRUE(std::isnan(block.u_px[0]));
  EXPECT_TRUE(std::isnan(block.v_px[0]));
}

// Off to the right: u = 500 + 500 * 20 / 10 = 1500 is still told, everything else is 0.
TEST(MeasureChunk, ObjectBesideThePictureKeepsItsPlaceAlone) {
  const ObjectView got = Measure(Upright({20, 0, -10}, 0.5, 0.5, 0.5), SquareCamera());
  EXPECT_EQ(got.flags, 0);
  EXPECT_EQ(got.rendered_px, 0);
  EXPECT_EQ(got.far_m, 0);
  EXPECT_NEAR(got.u_px, 1500, kTight);
}

// A card without thickness, facing: (500 * 2 / 10) wide, (500 * 1 / 10) high, from either side.
TEST(MeasureChunk, FlatCardCoversItsOwnArea) {
  for (double turn : {1.0, -1.0}) {
    const Box card = {{0, 0, -10}, {turn, 0, 0}, {0, 0.5, 0}, {0, 0, 0}};
    const ObjectView got = Measure(card, SquareCamera());
    EXPECT_NEAR(got.covered_px, 100 * 50, kTight);
    EXPECT_EQ(got.near_m, 10);
    EXPECT_EQ(got.far_m, 10);
    EXPECT_EQ(got.flags, kInFrame);
  }
}

// Flat in each axis in turn, leaning so that all depths differ: a parallelogram with corners at depths 9 and 11 (edges
// along the lean), 2 wide: a trapezium of upright edges... turned on its side: widths 2 * 500 / 9 and 2 * 500 / 11 at
// v = 500 - 500 * 1 / 9 and v = 500 + 500 * 1 / 11.
TEST(MeasureChunk, FlatLeaningCardIsATrapezium) {
  const Vec3 wide = {1, 0, 0}, lean = {0, 1, 1}, none = {0, 0, 0};
  const double want = (500.0 / 9 + 500.0 / 11) * (1000.0 / 9 + 1000.0 / 11) / 2;
  for (const Box& card :
       {Box{{0, 0, -10}, none, wide, lean}, Box{{0, 0, -10}, lean, none, wide}, Box{{0, 0, -10}, wide, lean, none}}) {
    const ObjectView got = Measure(card, SquareCamera());
    EXPECT_NEAR(got.covered_px, want, kTight);
    EXPECT_NEAR(got.near_m, 9, kTight);
    EXPECT_NEAR(got.far_m, 11, kTight);
  }
}

TEST(MeasureChunk, FlatCardEdgeOnIsInFrameAndCoversNothing) {
  const ObjectView got = Measure({{0, 0, -10}, {1, 0, 0}, {0, 0, 0}, {0, 0, 1}}, SquareCamera());
  EXPECT_EQ(got.flags, kInFrame);
  EXPECT_EQ(got.covered_px, 0);
  EXPECT_EQ(got.height_px, 0);  // |b| = 0
  EXPECT_NEAR(got.near_m, 9, kTight);
}

// Pixels twice as high as wide: 1000 x 500 px over 2 x 2 mm. The cube is (500/9.5) wide and (250/9.5) high.
TEST(MeasureChunk, AnamorphicPixelsCountAsTheyAre) {
  Camera camera = SquareCamera();
  camera.height_px = 500;
  const ObjectView got = Measure(Upright({0, 0, -10}, 0.5, 0.5, 0.5), camera);
  EXPECT_NEAR(got.covered_px, 500 / 9.5 * 250 / 9.5, kTight);
  EXPECT_NEAR(got.height_px, 250 / 9.5, kTight);
}

TEST(MeasureChunk, OrthographicCubeKeepsItsSizeAtAnyDepth) {
  for (double depth : {2.0, 200.0, 2e6}) {
    const ObjectView got = Measure(Upright({1, 1, -depth}, 0.5, 1, 0.5), SquareOrthographic());
    EXPECT_NEAR(got.covered_px, 100 * 200, kTight);
    EXPECT_NEAR(got.height_px, 200, kTight);
    EXPECT_NEAR(got.near_m, depth - 0.5, kTight);
    EXPECT_NEAR(got.u_px, 600, kTight);
    EXPECT_NEAR(got.v_px, 400, kTight);
    EXPECT_EQ(got.flags, kInFrame);
  }
}

// Turned by 45 degrees about Y: the outline is sqrt(2) wide.
TEST(MeasureChunk, OrthographicTurnedCubeShowsItsDiagonal) {
  const double h = std::sqrt(0.125);
  const ObjectView got = Measure({{0, 0, -10}, {h, 0, h}, {0, 0.5, 0}, {-h, 0, h}}, SquareOrthographic());
  // The axes are stored as float: 6e-8 of 14142.
  EXPECT_NEAR(got.covered_px, 1e4 * std::sqrt(2.0), 2e-3);
}

TEST(MeasureChunk, EmptyChunkMeasuresNothing) {
  ViewBlock block;
  block.count = 7;
  MeasureChunk(EmptyChunk(), 0, ViewOf(SquareCamera(), 0), block);
  EXPECT_EQ(block.count, 0);
}

TEST(MeasureChunk, EveryCountFillsItsOwnLanes) {
  const CameraView view = ViewOf(SquareCamera(), 0);
  for (int count : {1, 2, 3, 7, 8, 9, 15, 16, 17, 31, 33, 255, 256}) {
    PoseChunk chunk = EmptyChunk();
    for (int i = 0; i < count; ++i) Add(chunk, Upright({0, 0, -10.0 - i}, 0.5, 0.5, 0.5));
    ViewBlock block;
    MeasureChunk(chunk, 0, view, block);
    ASSERT_EQ(block.count, count);
    for (int i = 0; i < count; ++i) ASSERT_NEAR(block.height_px[i], 500 / (9.5 + i), 1e-5) << count << " " << i;
  }
}

TEST(MeasureChunk, MovingChunkIsReadAtItsFrame) {
  PoseChunk chunk = ChunkOf(Upright({0, 0, -10}, 0.5, 0.5, 0.5));
  chunk.frames = 3;
  for (auto* column : {&chunk.centre_x, &chunk.centre_y, &chunk.centre_z}) column->resize(3 * kChunkLanes);
  for (auto& column : chunk.axis) column.resize(3 * kChunkLanes);
  chunk.centre_z[2 * kChunkLanes] = -20;
  chunk.axis[0][2 * kChunkLanes] = 1;
  chunk.axis[4][2 * kChunkLanes] = 2;
  const CameraView view = ViewOf(SquareCamera(), 0);
  ViewBlock block;
  MeasureChunk(chunk, 2, view, block);
  EXPECT_FLOAT_EQ(block.covered_px[0], 500.0 / 20 * 2 * 500.0 / 20 * 4);
  EXPECT_NEAR(MeasureObject(chunk, 0, 2, view).covered_px, 5000, kTight);
  EXPECT_NEAR(MeasureObject(chunk, 0, 0, view).covered_px, 500 / 9.5 * 500 / 9.5, kTight);
}

}  // namespace
}  // namespace scantling
