// One object at one frame through one camera: the arithmetic that the fold and the explanation share.
//
// Private to legibility/. What is read here is summed there, and an explanation must add up to the columns to the last
// bit, so both go through these functions and neither repeats a formula. Inline, since the fold calls them for every
// object, frame and camera.
//
// Octaves and losses of a frame are [phi scale][tier] in one flat run of 12 doubles (`Grid`), FULL_RIG's always 0.
//
// Monotone by construction, rounding included: L(PROXY) <= L(COLOUR_PATCH) <= L(OMITTED). Rounded addition and
// multiplication by a number >= 0 keep an order, so it is enough that the logarithms of phi are ordered (made so when
// they are taken) and that OMITTED's loss is raised to COLOUR_PATCH's where contrast would take it below.

#ifndef SCANTLING_SERVER_LEGIBILITY_READING_H_
#define SCANTLING_SERVER_LEGIBILITY_READING_H_

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <span>

#include "server/legibility/floor.h"
#include "server/legibility/legibility.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/tier.h"
#include "server/view/view.h"

namespace scantling {

using Grid = std::array<double, kPhiScales * kTierCount>;
constexpr size_t GridAt(int scale, Tier tier) { return static_cast<size_t>(scale * kTierCount + Index(tier)); }

// Raises every figure of `to` to that of `from` where that is greater.
inline void RaiseTo(const Grid& from, Grid& to) {
  for (size_t i = 0; i < to.size(); ++i) to[i] = std::max(to[i], from[i]);
}

// What a class means for the loss of its objects.
struct ClassTraits {
  Grid log2_phi = {};             // of min(1, phi * scale); -infinity where phi is 0
  PerTier<double> presence = {};  // 1, but the class's for OMITTED
  double solidity = 1;
  double real_height_m = 0;  // 0: none
  bool set_element = false;
};
ClassTraits TraitsOf(const ObjectClass& object_class);

// What an object adds to its class.
struct ObjectTraits {
  const ClassTraits* of_class = nullptr;
  double importance = 1;
  double solidity = 1;  // the class's; 1 where the caller measured: a measured area is of the object, not of its box
  double contrast = 1;  // of OMITTED's loss: min(1, dE00 / full contrast); 1 where a colour is missing
};
// `of_class` is TraitsOf the object's class and must outlive the result.
ObjectTraits TraitsOf(const ShotOptics& optics, uint32_t object, const ClassTraits& of_class);

// One camera at one frame.
struct CameraFrame {
  const CameraView* view = nullptr;
  const FloorContext* floor = nullptr;
  std::span<const InterestPoint> interest;
  double delivered_px = 1;      // width * height
  bool apparent_depth = false;  // the style's curves read it, and the camera has it
};
CameraFrame CameraFrameOf(const ShotOptics& optics, size_t camera, int32_t frame_index);

// What was measured, by us or by the caller.
struct Sighting {
  double height_px = 0;
  double covered_px = 0;      // in the delivered image, of the object (solidity taken in)
  double rendered_px = 0;     // the same in image plus overscan; the delivered image's where the caller measured
  double depth_m = 0;         // nearest visible point
  double u_px = 0, v_px = 0;  // NaN: no place in the picture
  uint8_t flags = 0;
};
inline Sighting SightingOf(const ViewBlock& block, size_t lane, double solidity) {
  return {block.height_px[lane],
          block.covered_px[lane] * solidity,
          block.rendered_px[lane] * solidity,
          block.near_m[lane],
          block.u_px[lane],
          block.v_px[lane],
          block.flags[lane]};
}
// Puts a caller's figure over what was measured in this lane; the place in the picture stays.
void Overlay(const MeasuredFigure& figure, size_t lane, ViewBlock& block);

// Seen at all: in frame, with more covered px in image plus overscan (solidity taken in) than the style's smallest.
inline bool IsSeen(const Sighting& sighting, const Style& style) {
  return (sighting.flags & kInFrame) != 0 && sighting.rendered_px > style.smallest_covered_px;
}

// Screen travel between two places; 0 where either is unknown.
inline double TravelPx(double u_px, double v_px, double other_u_px, double other_v_px) {
  const double du = u_px - other_u_px, dv = v_px - other_v_px;
  const double travel = std::sqrt(du * du + dv * dv);
  return travel >= 0 ? travel : 0;
}
// Travel at the first frame is taken from the first to the second. 0 without geometry or a second frame.
double FirstTravelPx(const ShotOptics& optics, const PoseChunk* chunk, size_t lane, size_t camera,
                     const Sighting& sighting);

// Distance to the nearest point of interest; -1 where there is none or the object has no place in the picture.
inline double InterestPx(std::span<const InterestPoint> interest, const Sighting& sighting) {
  double nearest = std::numeric_limits<double>::infinity();
  for (const InterestPoint& point : interest) {
    const double du = point.u_px - sighting.u_px, dv = point.v_px - sighting.v_px;
    nearest = std::min(nearest, du * du + dv * dv);  // keeps `nearest` where the sum is NaN
  }
  return nearest < std::numeric_limits<double>::infinity() ? std::sqrt(nearest) : -1.0;
}

// What is made of a sighting.
struct Reading {
  Floor floor;
  double height_over_floor = 0;
  double log2_height_over_floor = 0;  // the one logarithm of the octaves; -infinity for a flat thing
  double weight = 0;                  // importance * attention * covered share of the picture
};
inline Reading Read(const CameraFrame& frame, const ObjectTraits& traits, const Sighting& sighting, double travel_px) {
  FloorInput input;
  input.stage_depth_m = sighting.depth_m;
  const double real_height_m = traits.of_class->real_height_m;
  input.curve_depth_m = frame.apparent_depth && real_height_m > 0
                            ? ApparentDistance(real_height_m, frame.view->scale_v, sighting.height_px)
                            : sighting.depth_m;
  input.travel_px = travel_px;
  input.interest_px = frame.interest.empty() ? -1.0 : InterestPx(frame.interest, sighting);

  Reading reading;
  reading.floor = FloorOf(*frame.floor, input);
  reading.height_over_floor = sighting.height_px / reading.floor.px;
  reading.log2_height_over_floor = std::log2(reading.height_over_floor);
  reading.weight = traits.importance * sighting.covered_px / frame.delivered_px;
  if (input.interest_px >= 0) reading.weight *= AttentionWeight(*frame.floor, input.interest_px);
  return reading;
}

// Octaves too coarse, e_t, of a figure.
inline void FigureOctaves(const ClassTraits& traits, double log2_height_over_floor, Grid& octaves) {
  for (size_t i = 0; i < octaves.size(); ++i) {
    octaves[i] = std::max(0.0, traits.log2_phi[i] + log2_height_over_floor);
  }
}

// The same of a set element: a patch of it is a painting that is only as wrong as the view has turned, and PROXY may
// carry that painting too. Leaving it out is at least as coarse as painting it.
void SetElementOctaves(const ClassTraits& traits, double log2_height_over_floor, double log2_turn_over_floor,
                       Grid& octaves);

// Loss of the frame: weight * presence * octaves, OMITTED's softened by contrast but never below COLOUR_PATCH's.
inline void FrameLoss(const ObjectTraits& traits, double weight, const Grid& octaves, Grid& loss) {
  PerTier<double> weights = {};
  for (size_t tier = 0; tier < kTierCount; ++tier) weights[tier] = weight * traits.of_class->presence[tier];
  weights[Index(Tier::kOmitted)] *= traits.contrast;
  for (size_t i = 0; i < loss.size(); ++i) loss[i] = weights[i % kTierCount] * octaves[i];
  for (int scale = 0; scale < kPhiScales; ++scale) {
    double& omitted = loss[GridAt(scale, Tier::kOmitted)];
    omitted = std::max(omitted, loss[GridAt(scale, Tier::kColourPatch)]);
  }
}

// Losses of one object in one picture over the shot: (1 - k) * sum + k * frames seen * worst frame.
struct LossSum {
  Grid sum = {}, worst = {};
  int32_t seen_frames = 0;

  void Add(const Grid& frame_loss) {
    for (size_t i = 0; i < sum.size(); ++i) {
      sum[i] += frame_loss[i];
      worst[i] = std::max(worst[i], frame_loss[i]);
    }
    ++seen_frames;
  }
  double Total(size_t at, double worst_frame_share) const {
    return (1.0 - worst_frame_share) * sum[at] + worst_frame_share * seen_frames * worst[at];
  }
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_READING_H_
