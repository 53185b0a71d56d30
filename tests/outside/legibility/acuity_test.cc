// Acuity and its fall with eccentricity against published figures.

#include <cmath>
#include <numbers>

#include "gtest/gtest.h"
#include "server/legibility/floor.h"

namespace scantling {
namespace {

FloorContext ContextAt(double viewing_distance_heights, int32_t lines, bool still = true) {
  Style style;
  style.viewing_distance_heights = viewing_distance_heights;
  style.any_still_must_hold = still;
  Camera camera;
  camera.height_px = lines;
  camera.poses.resize(1);
  return FloorContextOf(style, camera, 0);
}

// Source: Recommendation ITU-R BT.2022 (08/2012): design viewing distances of 3.2, 1.6 and 0.8 picture heights for
// 1080, 2160 and 4320 lines, where a pixel subtends about one arcminute. In closed form a pixel subtends 60 * atan(1 /
// (3.2 * 1080)) degrees = 0.99472 arcmin, and an arcminute covers the inverse in px; all three products of heights and
// lines are 3456. Tolerance: the published digits, half of the last.
TEST(Acuity, IsOneArcminuteAtTheDesignViewingDistances) {
  EXPECT_NEAR(1.0 / ContextAt(3.2, 1080).acuity_px, 0.99472, 5e-6);
  EXPECT_NEAR(1.0 / ContextAt(1.6, 2160).acuity_px, 0.99472, 5e-6);
  EXPECT_NEAR(1.0 / ContextAt(0.8, 4320).acuity_px, 0.99472, 5e-6);
}

// Closed form: a pixel is exactly one arcminute, 1/2 of it either side of the axis, at 1 / (2 N tan(1/120 deg))
// heights: 7.16197 for 480 lines, 3.18310 for 1080, 0.79577 for 4320. tan of the whole minute differs from twice tan of
// half of it by 2e-8 relative; the distances are given to 5e-6 of about 1, so 7e-6 relative.
TEST(Acuity, IsOnePixelAtTheExactArcminuteDistances) {
  EXPECT_NEAR(ContextAt(7.16197, 480).acuity_px, 1.0, 7e-6);
  EXPECT_NEAR(ContextAt(3.18310, 1080).acuity_px, 1.0, 7e-6);
  EXPECT_NEAR(ContextAt(0.79577, 4320).acuity_px, 1.0, 7e-6);
}

// Source: Song, Levi & Pelli, Journal of Vision 14(5):3, 2014, eq. 13: acuity = 0.029 (e + 2.72) deg; 0.36888 deg at
// 10 deg, 0.07888 deg at 0. The floor grows by their ratio. Tolerance: rounding.
TEST(Attention, FloorGrowsWithEccentricityAsMeasuredAcuityDoes) {
  const FloorContext context = ContextAt(3.2, 1080, /*still=*/false);
  FloorInput input;
  input.interest_px = std::tan(10.0 * std::numbers::pi / 180.0) * 3.2 * 1080;
  const Floor floor = FloorOf(context, input);
  EXPECT_EQ(floor.term, FloorTerm::kAttention);
  EXPECT_NEAR(floor.px / context.acuity_px, 0.36888 / 0.07888, 1e-12);
}

TEST(Attention, WeightOfALossIsTheInverse) {
  const FloorContext context = ContextAt(3.2, 1080, /*still=*/true);
  const double interest_px = std::tan(10.0 * std::numbers::pi / 180.0) * 3.2 * 1080;
  EXPECT_NEAR(EccentricityDeg(context, interest_px), 10.0, 1e-12);
  EXPECT_NEAR(AttentionWeight(context, interest_px), 0.07888 / 0.36888, 1e-12);
}

}  // namespace
}  // namespace scantling
