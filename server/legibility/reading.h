// Objects at one frame through one camera: the arithmetic that the fold and the explanation share.
//
// Private to legibility/. What is read here is summed there, and an explanation must add up to the columns to the last
// bit, so both go through these functions and neither repeats a formula.
//
// Data layout. A Batch is a structure of arrays: the seen objects of one chunk at one frame through one camera, packed,
// so that reading them is a few loops over contiguous doubles. An explanation reads a batch of one.
//
// Octaves and losses of a frame are a Grid, [tier][phi scale] padded to four scales, without FULL_RIG, whose every
// figure is 0: tier by tier, because OMITTED is compared with COLOUR_PATCH scale by scale.
//
// Monotone by construction, rounding included: L(PROXY) <= L(COLOUR_PATCH) <= L(OMITTED). Rounded addition and
// multiplication by a number >= 0 keep an order, so it is enough that the logarithms of phi are ordered (made so when
// they are taken) and that OMITTED's loss is raised to COLOUR_PATCH's where contrast would take it below.

#ifndef SCANTLING_SERVER_LEGIBILITY_READING_H_
#define SCANTLING_SERVER_LEGIBILITY_READING_H_

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

inline constexpr size_t kGridScales = 4;  // kPhiScales and one of padding
struct alignas(64) Grid : std::array<double, 3 * kGridScales> {};
constexpr size_t GridAt(Tier tier, int scale) {
  return static_cast<size_t>(Index(tier)) * kGridScales + static_cast<size_t>(scale);
}
inline constexpr std::array<Tier, 3> kGridTiers = {Tier::kOmitted, Tier::kColourPatch, Tier::kProxy};

constexpr double Greater(double a, double b) { return a > b ? a : b; }

// Raises every figure of `to` to that of `from` where that is greater.
inline void RaiseTo(const Grid& from, Grid& to) {
  for (size_t i = 0; i < to.size(); ++i) to[i] = Greater(to[i], from[i]);
}

// ---- What does not change over the shot --------------------------------------------------------------------------

struct ClassTraits {
  Grid log2_phi = {};           // of min(1, phi * scale); far below any octave where phi is 0
  double omitted_presence = 1;  // weight of OMITTED's loss
  double solidity = 1;
  double real_height_m = 0;  // 0: none
  bool set_element = false;
};
ClassTraits TraitsOf(const ObjectClass& object_class);

struct ObjectTraits {
  const ClassTraits* of_class = nullptr;
  double importance = 1;
  double solidity = 1;  // the class's; 1 where the caller measured: a measured area is of the object, not of its box
  double omitted_weight =
      1;  // presence * contrast; contrast: min(1, dE00 / full contrast), 1 where a colour is missing
};
// `of_class` is TraitsOf the object's class and must outlive the result.
ObjectTraits TraitsOf(const ShotOptics& optics, uint32_t object, const ClassTraits& of_class);

// ---- What was measured, by us or by the caller -------------------------------------------------------------------

// Puts a caller's figure over what was measured in this lane; the place in the picture stays.
void Overlay(const MeasuredFigure& figure, size_t lane, ViewBlock& block);

// Share of the box's area that is of the object and visible. With nothing hidden, `solidity` itself.
inline double VisibleShare(const ViewBlock& block, size_t lane, double solidity) {
  return solidity * block.visible[lane];
}

// In frame, with more than the style's smallest of the covered px in image plus overscan left of a share of them.
inline bool IsLargeEnough(const ViewBlock& block, size_t lane, double share, double smallest_covered_px) {
  // Not &&: the fold asks this of every lane, and a branch costs more than both comparisons.
  return static_cast<bool>(static_cast<int>((block.flags[lane] & kInFrame) != 0) &
                           static_cast<int>(block.rendered_px[lane] * share > smallest_covered_px));
}

// Screen travel between two places; 0 where either is unknown (NaN).
inline double TravelPx(double u_px, double v_px, double other_u_px, double other_v_px) {
  const double du = u_px - other_u_px, dv = v_px - other_v_px;
  const double travel = std::sqrt(du * du + dv * dv);
  return travel >= 0 ? travel : 0;
}
// Travel at the first frame is taken from the first to the second. 0 without geometry or a second frame.
double FirstTravelPx(const ShotOptics& optics, const PoseChunk* chunk, size_t lane, size_t camera, double u_px,
                     double v_px);

// Distance to the nearest point of interest; -1 where there is none or the place is unknown (NaN).
double InterestPx(std::span<const InterestPoint> interest, double u_px, double v_px);

// ---- What is made of it ------------------------------------------------------------------------------------------

struct Batch {
  using Column = std::array<double, kChunkLanes>;
  int32_t count = 0;
  // In.
  alignas(64) Column height_px;
  alignas(64) Column covered_px;     // in the delivered image, of the object and visible (VisibleShare)
  alignas(64) Column depth_m;        // stage depth of the nearest visible point
  alignas(64) Column real_height_m;  // of the class; 0: none
  alignas(64) Column importance;
  alignas(64) Column travel_px;    // read only where the style has a shutter
  alignas(64) Column interest_px;  // read only where there are points of interest; < 0: unknown
  // Out.
  alignas(64) Column floor_px;
  alignas(64) Column floor_term;  // FloorTerm as a number: as wide as what it goes with
  alignas(64) Column height_over_floor;
  alignas(64) Column log2_height_over_floor;  // the one logarithm of the octaves; below -1000 for a flat thing
  alignas(64) Column weight;                  // importance * attention * covered share of the picture
  // Between.
  alignas(64) Column log2_depth, term_px;
};
// O(count).
void ReadBatch(const ShotOptics& optics, size_t camera, int32_t frame_index, Batch& batch);

// The floor of one object of a batch with all its terms: floor_px and floor_term again, to the last bit.
Floor FloorIn(const ShotOptics& optics, size_t camera, int32_t frame_index, const Batch& batch, size_t place);

// Octaves too coarse, e_t, of a figure.
inline void FigureOctaves(const ClassTraits& traits, double log2_height_over_floor, Grid& octaves) {
  for (size_t i = 0; i < octaves.size(); ++i) {
    octaves[i] = Greater(traits.log2_phi[i] + log2_height_over_floor, 0.0);
  }
}

// The same of a set element: a patch of it is a painting that is only as wrong as the view has turned, and PROXY may
// carry that painting too. Leaving it out is at least as coarse as painting it.
void SetElementOctaves(const ClassTraits& traits, double log2_height_over_floor, double turn_over_floor, Grid& octaves);

// Loss of the frame: weight * presence * octaves, OMITTED's softened by contrast but never below COLOUR_PATCH's.
inline void FrameLoss(const ObjectTraits& traits, double weight, const Grid& octaves, Grid& loss) {
  constexpr size_t kPatch = GridAt(Tier::kColourPatch, 0), kOmitted = GridAt(Tier::kOmitted, 0);
  const double omitted = weight * traits.omitted_weight;
  for (size_t i = kPatch; i < loss.size(); ++i) loss[i] = weight * octaves[i];
  for (size_t i = 0; i < kGridScales; ++i) {
    loss[kOmitted + i] = Greater(omitted * octaves[kOmitted + i], weight * octaves[kPatch + i]);
  }
}

// The depth band of the style that a depth lies in. O(bands).
uint8_t BandOf(const Style& style, double depth_m);

// Losses of one object in one picture over the shot: (1 - k) * sum + k * frames seen * worst frame. A Grid without its
// alignment, since there is one of these for every object.
struct LossSum {
  std::array<double, 3 *kGridScales> sum = {}, worst = {};
  int32_t seen_frames = 0;

  void Add(const Grid& frame_loss) {
    for (size_t i = 0; i < sum.size(); ++i) {
      sum[i] += frame_loss[i];
      worst[i] = Greater(worst[i], frame_loss[i]);
    }
    ++seen_frames;
  }
  double Total(size_t at, double worst_frame_share) const {
    return (1.0 - worst_frame_share) * sum[at] + worst_frame_share * seen_frames * worst[at];
  }
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_READING_H_
