// The chunk kernel against the double border path, on random boxes of which most stand at a border of the frustum.

#include <absl/strings/str_cat.h>
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
using view_test::Times;
using view_test::ToWorld;
using view_test::Uniform;

// A point on a border of the picture, of the overscan, of the near or the far plane.
Vec3 PointOnBorder(Random& random, const Camera& camera, const CameraView& view) {
  const bool perspective = camera.projection == Projection::kPerspective;
  double depth = LogUniform(random, view.near_m, std::min(view.far_m, 400.0));
  const double margin = Uniform(random, 0, 1) < 0.5 ? view.overscan_px : 0;
  double u = Uniform(random, -0.2, 1.2) * view.width_px, v = Uniform(random, -0.2, 1.2) * view.height_px;
  const int kind = static_cast<int>(Uniform(random, 0, 6));
  if (kind == 0) u = -margin;
  if (kind == 1) u = view.width_px + margin;
  if (kind == 2) v = -margin;
  if (kind == 3) v = view.height_px + margin;
  if (kind == 4) depth = view.near_m;
  if (kind == 5) depth = std::isinf(view.far_m) ? 300 : view.far_m;
  const double spread = perspective ? depth : 1;
  return ToWorld(camera.poses[0], (u - view.centre_u) / view.scale_u * spread,
                 (view.centre_v - v) / view.scale_v * spread, depth);
}

// One corner of the box stands at a border, off it by 1e-9 to 1 of the box's size, or the box stands anywhere.
Box RandomBox(Random& random, const Camera& camera, const CameraView& view) {
  const Vec3 half = {LogUniform(random, 0.05, 5), LogUniform(random, 0.05, 5), LogUniform(random, 0.05, 5)};
  Box box = RandomlyTurned(random, {0, 0, 0}, half);
  if (Uniform(random, 0, 1) < 0.1) box.a = {0, 0, 0};
  if (Uniform(random, 0, 1) < 0.3) box.c = Plus(box.c, Times(0.5, box.b));  // sheared
  if (Uniform(random, 0, 1) < 0.5) box.c = Times(-1, box.c);                // mirrored
  const Vec3 target = PointOnBorder(random, camera, view);
  const double away = Uniform(random, 0, 1) < 0.7 ? LogUniform(random, 1e-9, 1) : 20 * Uniform(random, 0, 1);
  const Box nudge = RandomlyTurned(random, {0, 0, 0}, {away, 0, 0});
  Vec3 corner = {0, 0, 0};
  for (const Vec3& axis : {box.a, box.b, box.c})
    corner = Plus(corner, Times(Uniform(random, 0, 1) < 0.5 ? 1 : -1, axis));
  box.centre = Plus(Minus(target, corner), nudge.a);
  return box;
}

struct Tally {
  int boxes = 0, in_frame = 0, clipped = 0;
  double worst_area = 0;
  int flag_differences = 0;
};

// Counts and compares one lane. An area below 1e-6 px^2 is edge-on beyond anything that is drawn; there the float
// rounding of the stored axes alone turns the faces.
void Compare(const ViewBlock& block, size_t lane, const ObjectView& object, Tally& tally) {
  ++tally.boxes;
  tally.in_frame += (object.flags & kInFrame) != 0;
  tally.clipped += (object.flags & kClipped) != 0;
  tally.flag_differences += block.flags[lane] != object.flags;
  for (const auto& [got, want] : {std::array<double, 2>{block.covered_px[lane], object.covered_px},
                                  std::array<double, 2>{block.rendered_px[lane], object.rendered_px}}) {
    if (want > 1e-6) tally.worst_area = std::max(tally.worst_area, std::abs(got - want) / want);
  }
  // Stored as float, height as a quotient of doubles: one rounding, 6e-8 relative.
  const double rounding = 1.2e-7;
  ASSERT_NEAR(block.height_px[lane], object.height_px, rounding * object.height_px);
  ASSERT_NEAR(block.near_m[lane], object.near_m, rounding * object.near_m);
  ASSERT_NEAR(block.far_m[lane], object.far_m, rounding * object.far_m);
  if (!std::isnan(object.u_px)) {
    ASSERT_NEAR(block.u_px[lane], object.u_px, rounding * std::abs(object.u_px) + 1e-9);
    ASSERT_NEAR(block.v_px[lane], object.v_px, rounding * std::abs(object.v_px) + 1e-9);
  } else {
    ASSERT_TRUE(std::isnan(block.u_px[lane]) && std::isnan(block.v_px[lane]));
  }
}

Tally CompareRandom(Projection projection, int chunks) {
  Random random(20240611);
  Tally tally;
  ViewBlock block;
  for (int k = 0; k < chunks; ++k) {
    const Camera camera = RandomCamera(random, projection);
    const CameraView view = ViewOf(camera, 0);
    PoseChunk chunk = EmptyChunk();
    for (int i = 0; i < kChunkLanes; ++i) Add(chunk, RandomBox(random, camera, view));
    MeasureChunk(chunk, 0, view, block);
    for (int i = 0; i < kChunkLanes; ++i) {
      Compare(block, i, MeasureObject(chunk, i, 0, view), tally);
      if (testing::Test::HasFatalFailure()) return tally;
    }
  }
  return tally;
}

void ExpectAgreement(const Tally& tally) {
  testing::Test::RecordProperty("boxes", tally.boxes);
  testing::Test::RecordProperty("worst_area_relative", absl::StrCat(tally.worst_area));
  // Required: 2e-6. Measured and held here: one rounding to float (6e-8), so that a loss of digits shows at once.
  EXPECT_LT(tally.worst_area, 1.2e-7);
  EXPECT_EQ(tally.flag_differences, 0);
  // The comparison is worth something only if it saw all kinds.
  EXPECT_GT(tally.clipped, tally.boxes / 10);
  EXPECT_GT(tally.in_frame - tally.clipped, tally.boxes / 20);
  EXPECT_GT(tally.boxes - tally.in_frame, tally.boxes / 20);
}

TEST(MeasureChunk, AgreesWithDoubleOn205kPerspectiveBoxesAtTheBorder) {
  ExpectAgreement(CompareRandom(Projection::kPerspective, 800));
}

TEST(MeasureChunk, AgreesWithDoubleOn51kOrthographicBoxesAtTheBorder) {
  ExpectAgreement(CompareRandom(Projection::kOrthographic, 200));
}

}  // namespace
}  // namespace scantling
