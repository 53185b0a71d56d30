// The legibility floor, term by term.
//
// What depends on camera, frame and style alone is worked out once (FloorContextOf); what is left per object is a
// handful of products, one logarithm where the style draws depth-graded lines or shifts its plates, and one arc tangent
// where the audience's look is known.
//
// Curves are piecewise linear in log2(depth), so they are kept as points in log2(depth) with slopes in px per octave:
// the per-object cost is a short scan. A depth at or beyond an end point takes that point's own value, so infinity
// never meets a slope.
//
// Source: Song, Levi & Pelli, Journal of Vision 14(5):3, 2014, eq. 13 (acuity over eccentricity: 0.029 (e + 2.72) deg).

#include "server/legibility/floor.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "server/legibility/floor_terms.h"

namespace scantling {
namespace {

constexpr double kDegree = std::numbers::pi / 180.0;
constexpr double kArcminute = kDegree / 60.0;
constexpr double kMmPerMetre = 1000.0;

ReadyCurve Prepare(const DepthCurve& curve, double image_height_px) {
  ReadyCurve ready;
  if (curve.points.empty()) return ready;
  ready.on = true;
  ready.start_px = curve.points.front().picture_heights * image_height_px;
  for (size_t i = 1; i < curve.points.size(); ++i) {
    const DepthCurve::Point &from = curve.points[i - 1], &to = curve.points[i];
    const double begin = Log2(from.depth_m), octaves = Log2(to.depth_m) - begin;
    const double rise_px = (to.picture_heights - from.picture_heights) * image_height_px;
    ready.pieces.push_back({begin, octaves, rise_px / octaves});
  }
  return ready;
}

// Blur circle on film, mm * metre of stage depth or mm, times px per mm of the smaller axis: see FloorContext.
double BlurScale(double f_number, const Camera& camera, const CameraPose& pose) {
  const double f_mm = pose.focal_mm;
  const double px_per_mm = std::min(camera.width_px / camera.window_width, camera.height_px / camera.window_height);
  if (std::isinf(pose.focus_m)) return f_mm * f_mm / f_number / kMmPerMetre * px_per_mm;
  return f_mm * f_mm / (f_number * (pose.focus_m * kMmPerMetre - f_mm)) * px_per_mm;
}

}  // namespace

std::string_view Name(FloorTerm term) {
  constexpr std::array<std::string_view, kFloorTermCount> kNames = {"acuity",      "ink line", "plate shift",
                                                                    "motion blur", "defocus",  "attention"};
  return kNames[static_cast<size_t>(term)];
}

FloorContext FloorContextOf(const Style& style, const Camera& camera, int32_t frame_index) {
  FloorContext context;
  context.image_height_px = camera.height_px;
  context.viewing_distance_px = style.viewing_distance_heights * camera.height_px;
  context.acuity_px = std::tan(kArcminute) * context.viewing_distance_px;
  context.line_weight = Prepare(style.line_weight, camera.height_px);
  context.plate_shift = Prepare(style.plate_shift, camera.height_px);
  context.blur_shutter = style.shutter_fraction;
  context.attention_sets_floor = !style.any_still_must_hold;

  const double f_number = camera.f_number > 0 ? camera.f_number : style.default_f_number;
  if (style.lens_focus && f_number > 0 && camera.projection == Projection::kPerspective) {
    const CameraPose& pose = camera.pose(frame_index);
    context.blur_scale = BlurScale(f_number, camera, pose);
    context.focus_m = pose.focus_m;
    context.focus_infinite = std::isinf(pose.focus_m);
  }
  return context;
}

Floor FloorOf(const FloorContext& context, const FloorInput& input) {
  Floor floor;
  auto& terms = floor.terms_px;
  terms[0] = context.acuity_px;
  const double log2_depth = Log2(input.curve_depth_m);
  terms[1] = CurvePx(context.line_weight, log2_depth);
  terms[2] = CurvePx(context.plate_shift, log2_depth);
  terms[3] = context.blur_shutter * input.travel_px;
  terms[4] = DefocusPx(context, input.stage_depth_m);
  if (context.attention_sets_floor && input.interest_px >= 0) {
    terms[5] = context.acuity_px * AttentionFactor(context, input.interest_px);
  }
  floor.px = terms[0];
  for (int term = 1; term < kFloorTermCount; ++term) {
    if (terms[static_cast<size_t>(term)] > floor.px) {  // strictly: ties go to the earlier term
      floor.px = terms[static_cast<size_t>(term)];
      floor.term = static_cast<FloorTerm>(term);
    }
  }
  return floor;
}

double EccentricityDeg(const FloorContext& context, double interest_px) {
  return std::atan(interest_px / context.viewing_distance_px) / kDegree;
}

double AttentionFactor(const FloorContext& context, double interest_px) {
  return 1.0 + EccentricityDeg(context, interest_px) / kHalvingEccentricityDeg;
}

double AttentionWeight(const FloorContext& context, double interest_px) {
  if (context.attention_sets_floor || interest_px < 0) return 1;
  return 1.0 / AttentionFactor(context, interest_px);
}

}  // namespace scantling
