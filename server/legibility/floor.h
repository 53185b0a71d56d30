// The legibility floor: the size in delivered pixels below which detail cannot be read, and the term that set it.
//
// floor = the largest of six terms (2-model section 3):
//   acuity        one arcminute: tan(1/60 deg) * viewing distance in picture heights * image height
//   ink line      the style's line weight at the object's depth
//   plate shift   the style's misregistration at the object's depth
//   motion blur   shutter fraction * screen travel per frame
//   defocus       blur circle |z - zf|/z * f^2/(N (zf - f)) on film, in px by the smaller axis; zf infinite: f^2/(N z)
//   attention     acuity * (1 + e / 2.72 deg) at angle e from the nearest point of interest
// Ties go to the earlier term.
//
// Everything here is a pure function of its arguments, thread-safe, and takes validated styles and cameras: nothing is
// checked again. (A validated style where any still must hold up has no shutter and no lens focus.)

#ifndef SCANTLING_SERVER_LEGIBILITY_FLOOR_H_
#define SCANTLING_SERVER_LEGIBILITY_FLOOR_H_

#include <array>
#include <cstdint>
#include <string_view>
#include <vector>

#include "server/policy/types.h"
#include "server/scene/scene.h"

namespace scantling {

enum class FloorTerm : uint8_t { kAcuity, kInkLine, kPlateShift, kMotionBlur, kDefocus, kAttention };
inline constexpr int kFloorTermCount = 6;
std::string_view Name(FloorTerm term);  // "acuity", "ink line", "plate shift", "motion blur", "defocus", "attention"

struct Floor {
  double px = 0;
  FloorTerm term = FloorTerm::kAcuity;
  std::array<double, kFloorTermCount> terms_px = {};  // every term, 0 where off
};

// A DepthCurve made ready for one image height: same values as Evaluate(), the logarithms taken beforehand. Its value
// is start_px plus, for every piece, px_per_octave times the octaves by which the depth is past the piece's beginning,
// at least 0 and at most the piece's length.
struct CurvePiece {
  double log2_depth = 0;
  double octaves = 0;
  double px_per_octave = 0;
};
struct ReadyCurve {
  bool on = false;
  double start_px = 0;
  std::vector<CurvePiece> pieces;
};

// What does not change from object to object: one camera at one frame in one style.
struct FloorContext {
  double acuity_px = 0;
  double image_height_px = 0;
  double viewing_distance_px = 0;  // viewing distance in delivered pixels, for angles
  double blur_shutter = 0;         // shutter fraction; 0: off
  // Blur circle in px at stage depth z: |z - zf| / z * blur_scale (zf finite), blur_scale / z (zf infinite); 0: off.
  double blur_scale = 0;
  double focus_m = 0;
  bool focus_infinite = true;
  bool attention_sets_floor = false;  // else attention weighs loss only
  ReadyCurve line_weight, plate_shift;
};
// O(points of the curves).
FloorContext FloorContextOf(const Style& style, const Camera& camera, int32_t frame_index);

// What changes.
struct FloorInput {
  double stage_depth_m = 1;  // nearest visible point, > 0
  double curve_depth_m = 1;  // apparent or stage depth, as the style reads it; may be infinite
  double travel_px = 0;      // screen travel to this frame; 0 where unknown
  double interest_px = -1;   // distance to the nearest point of interest; < 0: none given
};
// O(points of the curves); one logarithm where the style has curves, one arc tangent where attention sets the floor.
Floor FloorOf(const FloorContext& context, const FloorInput& input);

// Angle in degrees between a place of the picture and one `interest_px` away, seen from the viewing distance:
// atan(interest / viewing distance).
double EccentricityDeg(const FloorContext& context, double interest_px);

// Where an object of real-life height `real_height_m` would appear `height_px` tall through this view, metres:
// real_height * px per metre at one metre / height_px. +infinity where height_px is 0. Perspective only; an
// orthographic picture has no apparent distance and the stage depth is used.
inline double ApparentDistance(double real_height_m, double vertical_scale_px, double height_px) {
  return real_height_m * vertical_scale_px / height_px;  // IEEE 754: a positive number over 0 is +infinity
}

// Weight of a loss seen at `interest_px` from the nearest point of interest, 1 / (1 + e/2.72 deg). 1 where none is
// given
// (< 0) and where attention already sets the floor.
// Source: Song, Levi & Pelli, A double dissociation of the acuity and crowding limits to letter identification, and the
// promise of improved visual screening, Journal of Vision 14(5):3, 2014, eq. 13.
double AttentionWeight(const FloorContext& context, double interest_px);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_FLOOR_H_
