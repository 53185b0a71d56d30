#include "server/legibility/floor.h"

#include <cmath>
#include <limits>
#include <numbers>

#include "gtest/gtest.h"

namespace scantling {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// Nothing but acuity: 3.2 heights of 1000 lines, tan(1/60 deg) * 3200 = 0.93084 px.
Style PlainStyle() {
  Style style;
  style.viewing_distance_heights = 3.2;
  return style;
}

Camera PlainCamera() {
  Camera camera;
  camera.width_px = 2000;
  camera.height_px = 1000;
  camera.window_width = 36;
  camera.window_height = 24;
  camera.poses.resize(1);
  return camera;
}

Floor FloorIn(const Style& style, const Camera& camera, const FloorInput& input) {
  return FloorOf(FloorContextOf(style, camera, 0), input);
}

TEST(FloorOf, AcuityGovernsWhereNothingElseIsOn) {
  FloorInput input;
  input.travel_px = 500;
  input.interest_px = 900;
  const Floor floor = FloorIn(PlainStyle(), PlainCamera(), input);
  EXPECT_EQ(floor.term, FloorTerm::kAcuity);
  EXPECT_DOUBLE_EQ(floor.px, std::tan(std::numbers::pi / 180 / 60) * 3200);
  for (int term = 1; term < kFloorTermCount; ++term) EXPECT_EQ(floor.terms_px[static_cast<size_t>(term)], 0) << term;
}

// Half way in octaves between 1 m and 4 m lies 2 m: (0.002 + 0.006) / 2 * 1000 lines = 4 px.
TEST(FloorOf, InkLineGovernsByTheStylesCurve) {
  Style style = PlainStyle();
  style.line_weight.points = {{1, 0.002}, {4, 0.006}};
  FloorInput input;
  input.curve_depth_m = 2;
  input.stage_depth_m = 1000;  // not read
  const Floor floor = FloorIn(style, PlainCamera(), input);
  EXPECT_EQ(floor.term, FloorTerm::kInkLine);
  EXPECT_NEAR(floor.px, 4, 1e-12);
}

TEST(FloorOf, PlateShiftGovernsByTheStylesCurve) {
  Style style = PlainStyle();
  style.plate_shift.points = {{10, 0}, {1000, 0.01}};
  FloorInput input;
  input.curve_depth_m = 100;  // half way in octaves: 0.005 * 1000 lines
  const Floor floor = FloorIn(style, PlainCamera(), input);
  EXPECT_EQ(floor.term, FloorTerm::kPlateShift);
  EXPECT_NEAR(floor.px, 5, 1e-12);
}

TEST(FloorOf, CurvesAreLevelBeyondTheirEnds) {
  Style style = PlainStyle();
  style.line_weight.points = {{1, 0.002}, {4, 0.006}, {16, 0.004}};
  const FloorContext context = FloorContextOf(style, PlainCamera(), 0);
  FloorInput input;
  for (const auto& [depth_m, px] :
       {std::pair{0.01, 2.0}, {1.0, 2.0}, {4.0, 6.0}, {16.0, 4.0}, {1e9, 4.0}, {kInfinity, 4.0}}) {
    input.curve_depth_m = depth_m;
    EXPECT_DOUBLE_EQ(FloorOf(context, input).terms_px[1], px) << depth_m;
  }
}

// The prepared curve and policy's own reading of it are one curve. Tolerance: a few roundings of numbers below 50.
TEST(FloorOf, PreparedCurvesAreThoseOfThePolicy) {
  Style style = PlainStyle();
  style.plate_shift.points = {{0.5, 0.01}, {2, 0.04}, {3, 0.001}, {70, 0.002}, {5000, 0.05}};
  const FloorContext context = FloorContextOf(style, PlainCamera(), 0);
  FloorInput input;
  for (double depth_m = 0.1; depth_m < 1e5; depth_m *= 1.01) {
    input.curve_depth_m = depth_m;
    EXPECT_NEAR(FloorOf(context, input).terms_px[2], 1000 * Evaluate(style.plate_shift, depth_m), 1e-12) << depth_m;
  }
}

TEST(FloorOf, MotionBlurGovernsByShutterTimesTravel) {
  Style style = PlainStyle();
  style.any_still_must_hold = false;
  style.shutter_fraction = 0.5;
  FloorInput input;
  input.travel_px = 24;
  const Floor floor = FloorIn(style, PlainCamera(), input);
  EXPECT_EQ(floor.term, FloorTerm::kMotionBlur);
  EXPECT_DOUBLE_EQ(floor.px, 12);
}

Style LensStyle() {
  Style style = PlainStyle();
  style.any_still_must_hold = false;
  style.lens_focus = true;
  return style;
}

Camera LensCamera(double focus_m) {
  Camera camera = PlainCamera();
  camera.f_number = 2.8;
  camera.poses[0].focal_mm = 50;
  camera.poses[0].focus_m = focus_m;
  return camera;
}

// |10 - 5| / 10 * 50^2 / (2.8 * (5000 - 50)) mm = 0.5 * 2500 / 13860 = 0.0901876 mm on film; the smaller axis has
// min(2000 / 36, 1000 / 24) = 41.6667 px per mm: 3.757816 px.
TEST(FloorOf, DefocusGovernsByTheBlurCircle) {
  FloorInput input;
  input.stage_depth_m = 10;
  input.curve_depth_m = 3;  // not read
  const Floor floor = FloorIn(LensStyle(), LensCamera(5), input);
  EXPECT_EQ(floor.term, FloorTerm::kDefocus);
  EXPECT_NEAR(floor.px, 0.5 * 2500 / 13860 * 1000 / 24, 1e-12);
  EXPECT_NEAR(floor.px, 3.757816, 5e-7);
}

// 50^2 / (2.8 * 10000) mm = 0.0892857 mm: 3.720238 px.
TEST(FloorOf, DefocusFocusedAtInfinity) {
  FloorInput input;
  input.stage_depth_m = 10;
  EXPECT_NEAR(FloorIn(LensStyle(), LensCamera(kInfinity), input).px, 3.720238, 5e-7);
  // And the finite form tends to it: at 10^9 m the two differ by about 10^-8.
  EXPECT_NEAR(FloorIn(LensStyle(), LensCamera(1e9), input).px, 3.720238, 6e-7);
}

TEST(FloorOf, NothingIsDefocusedAtTheFocusDistance) {
  FloorInput input;
  input.stage_depth_m = 5;
  EXPECT_EQ(FloorIn(LensStyle(), LensCamera(5), input).terms_px[4], 0);
}

TEST(FloorOf, DefocusIsOffWithoutLensFocusFNumberOrPerspective) {
  FloorInput input;
  input.stage_depth_m = 10;
  Style no_focus = LensStyle();
  no_focus.lens_focus = false;
  EXPECT_EQ(FloorIn(no_focus, LensCamera(5), input).terms_px[4], 0);

  Camera no_number = LensCamera(5);
  no_number.f_number = 0;
  EXPECT_EQ(FloorIn(LensStyle(), no_number, input).terms_px[4], 0);

  Camera flat = LensCamera(5);
  flat.projection = Projection::kOrthographic;
  EXPECT_EQ(FloorIn(LensStyle(), flat, input).terms_px[4], 0);
}

TEST(FloorOf, CamerasFNumberWinsOverTheStyles) {
  FloorInput input;
  input.stage_depth_m = 10;
  Style style = LensStyle();
  style.default_f_number = 5.6;
  const double own_px = FloorIn(style, LensCamera(5), input).terms_px[4];
  Camera without = LensCamera(5);
  without.f_number = 0;
  EXPECT_NEAR(FloorIn(style, without, input).terms_px[4], own_px / 2, 1e-12);  // twice the f-number, half the circle
}

TEST(FloorOf, DefocusTakesThePoseOfItsFrame) {
  Camera camera = LensCamera(5);
  camera.poses.push_back(camera.poses[0]);
  camera.poses[1].focus_m = 10;
  FloorInput input;
  input.stage_depth_m = 10;
  EXPECT_GT(FloorOf(FloorContextOf(LensStyle(), camera, 0), input).terms_px[4], 0);
  EXPECT_EQ(FloorOf(FloorContextOf(LensStyle(), camera, 1), input).terms_px[4], 0);
}

// At e = 45 deg (interest as far as the eye): acuity * (1 + 45 / 2.72).
TEST(FloorOf, AttentionGovernsAwayFromWhereTheAudienceLooks) {
  Style style = PlainStyle();
  style.any_still_must_hold = false;
  FloorInput input;
  input.interest_px = 3200;
  const Floor floor = FloorIn(style, PlainCamera(), input);
  EXPECT_EQ(floor.term, FloorTerm::kAttention);
  EXPECT_NEAR(floor.px, floor.terms_px[0] * (1 + 45 / 2.72), 1e-12);
}

TEST(FloorOf, AttentionIsOffWithoutPointsOrWhereAnyStillMustHold) {
  Style style = PlainStyle();
  style.any_still_must_hold = false;
  FloorInput input;
  EXPECT_EQ(FloorIn(style, PlainCamera(), input).terms_px[5], 0);
  input.interest_px = 3200;
  EXPECT_EQ(FloorIn(PlainStyle(), PlainCamera(), input).terms_px[5], 0);
}

TEST(FloorOf, TieGoesToTheEarlierTerm) {
  Style style = PlainStyle();
  style.any_still_must_hold = false;
  style.line_weight.points = {{1, 0.01}};
  style.plate_shift.points = {{1, 0.01}};
  style.shutter_fraction = 0.5;
  FloorInput input;
  input.travel_px = 20;  // 10 px, as the other two
  EXPECT_EQ(FloorIn(style, PlainCamera(), input).term, FloorTerm::kInkLine);
  input.interest_px = 0;  // attention is then acuity itself
  style.line_weight.points.clear();
  style.plate_shift.points.clear();
  style.shutter_fraction = 0;
  const Floor floor = FloorIn(style, PlainCamera(), input);
  EXPECT_EQ(floor.terms_px[5], floor.terms_px[0]);
  EXPECT_EQ(floor.term, FloorTerm::kAcuity);
}

TEST(AttentionWeight, WeighsLossOnlyWhereItDoesNotSetTheFloor) {
  Style style = PlainStyle();
  const FloorContext still = FloorContextOf(style, PlainCamera(), 0);
  EXPECT_NEAR(AttentionWeight(still, 3200), 1 / (1 + 45 / 2.72), 1e-12);
  EXPECT_EQ(AttentionWeight(still, 0), 1);
  EXPECT_EQ(AttentionWeight(still, -1), 1);
  style.any_still_must_hold = false;
  EXPECT_EQ(AttentionWeight(FloorContextOf(style, PlainCamera(), 0), 3200), 1);
}

// A person of 1.8 m, 90 px tall through a view of 2000 px per metre at one metre, looks 1.8 * 2000 / 90 = 40 m away.
TEST(ApparentDistance, IsWhereTheRealHeightWouldAppearThisBig) {
  EXPECT_DOUBLE_EQ(ApparentDistance(1.8, 2000, 90), 40);
  EXPECT_EQ(ApparentDistance(1.8, 2000, 0), kInfinity);
}

TEST(FloorTermName, IsPlainWords) {
  EXPECT_EQ(Name(FloorTerm::kAcuity), "acuity");
  EXPECT_EQ(Name(FloorTerm::kInkLine), "ink line");
  EXPECT_EQ(Name(FloorTerm::kPlateShift), "plate shift");
  EXPECT_EQ(Name(FloorTerm::kMotionBlur), "motion blur");
  EXPECT_EQ(Name(FloorTerm::kDefocus), "defocus");
  EXPECT_EQ(Name(FloorTerm::kAttention), "attention");
}

}  // namespace
}  // namespace scantling
