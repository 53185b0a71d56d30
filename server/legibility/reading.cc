// Reading a batch, and the parts of the shared arithmetic that run once per class or object.
//
// Reading goes term by term over all objects rather than object by object over all terms: what the style has off is
// skipped once for all, and each loop is plain arithmetic on contiguous doubles, most of which compilers make vector
// code of. The term that set a floor is carried as a double, so that choosing it is the same select as choosing the
// floor.
//
// Logarithms of phi are taken once per class, so that a frame costs one logarithm of height over floor and an addition
// per tier. They are made to rise from PROXY to OMITTED even where two phis differ by so little that the logarithm,
// which is not proved monotone, might swap them.

#include "server/legibility/reading.h"

#include <algorithm>

#include "server/legibility/contrast.h"
#include "server/legibility/floor_terms.h"

namespace scantling {
namespace {

// No height over floor is 2^10000: a phi of 0 drops nothing.
constexpr double kDropsNothing = -10000;

void RaiseFloors(FloorTerm term, Batch& batch) {
  const auto number = static_cast<double>(term);
  const auto count = static_cast<size_t>(batch.count);
  for (size_t i = 0; i < count; ++i) {
    // Strictly above: ties go to the earlier term.
    const double floor_px = batch.floor_px[i], term_px = batch.term_px[i], term = batch.floor_term[i];
    batch.floor_term[i] = term_px > floor_px ? number : term;
    batch.floor_px[i] = term_px > floor_px ? term_px : floor_px;
  }
}

void RaiseByCurve(FloorTerm term, const ReadyCurve& curve, Batch& batch) {
  if (!curve.on) return;
  const auto count = static_cast<size_t>(batch.count);
  for (size_t i = 0; i < count; ++i) batch.term_px[i] = curve.start_px;
  for (const CurvePiece& piece : curve.pieces) {
    const CurvePiece own = piece;  // a copy, which no store to the batch can change
    for (size_t i = 0; i < count; ++i) {
      batch.term_px[i] += own.px_per_octave * PieceOctaves(own, batch.log2_depth[i]);
    }
  }
  RaiseFloors(term, batch);
}

// The depth the style's curves read. Both are worked out and one is taken.
double CurveDepth(bool apparent, double scale_v, const Batch& batch, size_t i) {
  const double real_height_m = batch.real_height_m[i], stage_m = batch.depth_m[i];
  const double apparent_m = ApparentDistance(real_height_m, scale_v, batch.height_px[i]);
  const double known_m = real_height_m > 0 ? apparent_m : stage_m;
  return apparent ? known_m : stage_m;
}

// Whether curves read apparent depth in this view.
bool ReadsApparentDepth(const ShotOptics& optics, const CameraView& view) {
  return optics.style->depth_kind == DepthKind::kApparent && view.projection == Projection::kPerspective;
}

void RaiseByCurves(const ShotOptics& optics, const CameraView& view, const FloorContext& floor, Batch& batch) {
  if (!floor.line_weight.on && !floor.plate_shift.on) return;
  const bool apparent = ReadsApparentDepth(optics, view);
  const auto count = static_cast<size_t>(batch.count);
  const double scale_v = view.scale_v;
  for (size_t i = 0; i < count; ++i) batch.log2_depth[i] = CurveDepth(apparent, scale_v, batch, i);
  for (size_t i = 0; i < count; ++i) batch.log2_depth[i] = Log2(batch.log2_depth[i]);
  RaiseByCurve(FloorTerm::kInkLine, floor.line_weight, batch);
  RaiseByCurve(FloorTerm::kPlateShift, floor.plate_shift, batch);
}

void RaiseByBlur(const FloorContext& floor, Batch& batch) {
  const auto count = static_cast<size_t>(batch.count);
  if (floor.blur_shutter > 0) {
    for (size_t i = 0; i < count; ++i) batch.term_px[i] = floor.blur_shutter * batch.travel_px[i];
    RaiseFloors(FloorTerm::kMotionBlur, batch);
  }
  if (floor.blur_scale != 0) {
    for (size_t i = 0; i < count; ++i) batch.term_px[i] = DefocusPx(floor, batch.depth_m[i]);
    RaiseFloors(FloorTerm::kDefocus, batch);
  }
}

// Attention either raises the floor or lightens the weight.
void ApplyAttention(const FloorContext& floor, Batch& batch) {
  const auto count = static_cast<size_t>(batch.count);
  if (!floor.attention_sets_floor) {
    for (size_t i = 0; i < count; ++i) batch.weight[i] *= AttentionWeight(floor, batch.interest_px[i]);
    return;
  }
  for (size_t i = 0; i < count; ++i) {
    const bool known = batch.interest_px[i] >= 0;
    batch.term_px[i] = known ? floor.acuity_px * AttentionFactor(floor, batch.interest_px[i]) : 0;
  }
  RaiseFloors(FloorTerm::kAttention, batch);
}

}  // namespace

ClassTraits TraitsOf(const ObjectClass& object_class) {
  ClassTraits traits;
  traits.log2_phi.fill(kDropsNothing);
  for (int scale = 0; scale < kPhiScales; ++scale) {
    double least = kDropsNothing;
    for (Tier tier : {Tier::kProxy, Tier::kColourPatch, Tier::kOmitted}) {
      const double phi = object_class.phi[static_cast<size_t>(Index(tier))] * kPhiScale[static_cast<size_t>(scale)];
      if (phi > 0) least = Greater(least, Log2(std::min(1.0, phi)));
      traits.log2_phi[GridAt(tier, scale)] = least;
    }
  }
  traits.omitted_presence = object_class.omitted_presence;
  traits.solidity = object_class.solidity;
  traits.real_height_m = object_class.real_height_m.value_or(0);
  traits.set_element = object_class.kind == ClassKind::kSetElement;
  return traits;
}

ObjectTraits TraitsOf(const ShotOptics& optics, uint32_t object, const ClassTraits& of_class) {
  const Objects& objects = optics.scene->objects;
  ObjectTraits traits;
  traits.of_class = &of_class;
  traits.importance = objects.importance[object];
  traits.solidity = objects.measured[object] == kNone ? of_class.solidity : 1;
  traits.omitted_weight = of_class.omitted_presence;
  const std::array<uint8_t, 4>& colour = objects.colour[object];
  if (optics.scene->backdrop_colour && colour[3] != 0) {
    const double difference =
        CieDe2000(LabOfSrgb({colour[0], colour[1], colour[2]}), LabOfSrgb(*optics.scene->backdrop_colour));
    traits.omitted_weight *= std::min(1.0, difference / optics.style->full_contrast_de00);
  }
  return traits;
}

void Overlay(const MeasuredFigure& figure, size_t lane, ViewBlock& block) {
  const bool in_frame = figure.height_px > 0;
  block.height_px[lane] = in_frame ? figure.height_px : 0;
  block.covered_px[lane] = block.rendered_px[lane] = in_frame ? figure.covered_px : 0;
  block.near_m[lane] = block.far_m[lane] = in_frame ? figure.depth_m : 0;
  block.flags[lane] = in_frame ? kInFrame : 0;
  block.visible[lane] = 1;
}

double FirstTravelPx(const ShotOptics& optics, const PoseChunk* chunk, size_t lane, size_t camera, double u_px,
                     double v_px) {
  if (chunk == nullptr || optics.scene->frames.count() < 2) return 0;
  const auto next = ProjectCentre(*chunk, static_cast<int32_t>(lane), 1, optics.views[optics.at(camera, 1)]);
  return TravelPx(u_px, v_px, next[0], next[1]);
}

double InterestPx(std::span<const InterestPoint> interest, double u_px, double v_px) {
  double nearest = std::numeric_limits<double>::infinity();
  for (const InterestPoint& point : interest) {
    const double du = point.u_px - u_px, dv = point.v_px - v_px;
    nearest = std::min(nearest, du * du + dv * dv);  // keeps `nearest` where the sum is NaN
  }
  return nearest < std::numeric_limits<double>::infinity() ? std::sqrt(nearest) : -1.0;
}

void ReadBatch(const ShotOptics& optics, size_t camera, int32_t frame_index, Batch& batch) {
  const size_t at = optics.at(camera, frame_index);
  const CameraView& view = optics.views[at];
  const FloorContext& floor = optics.floors[at];
  const auto count = static_cast<size_t>(batch.count);
  const double share_of_px = 1.0 / (view.width_px * view.height_px);
  for (size_t i = 0; i < count; ++i) {
    batch.floor_px[i] = floor.acuity_px;
    batch.floor_term[i] = 0;  // acuity
    batch.weight[i] = batch.importance[i] * batch.covered_px[i] * share_of_px;
  }
  RaiseByCurves(optics, view, floor, batch);
  RaiseByBlur(floor, batch);
  if (!optics.interest[at].empty()) ApplyAttention(floor, batch);
  for (size_t i = 0; i < count; ++i) {
    batch.height_over_floor[i] = batch.height_px[i] / batch.floor_px[i];
    batch.log2_height_over_floor[i] = Log2(batch.height_over_floor[i]);
  }
}

Floor FloorIn(const ShotOptics& optics, size_t camera, int32_t frame_index, const Batch& batch, size_t place) {
  const size_t at = optics.at(camera, frame_index);
  FloorInput input;
  input.stage_depth_m = batch.depth_m[place];
  input.curve_depth_m =
      CurveDepth(ReadsApparentDepth(optics, optics.views[at]), optics.views[at].scale_v, batch, place);
  input.travel_px = batch.travel_px[place];
  input.interest_px = optics.interest[at].empty() ? -1 : batch.interest_px[place];
  return FloorOf(optics.floors[at], input);
}

void SetElementOctaves(const ClassTraits& traits, double log2_height_over_floor, double turn_over_floor,
                       Grid& octaves) {
  FigureOctaves(traits, log2_height_over_floor, octaves);
  const double patch = Greater(Log2(turn_over_floor), 0.0);
  for (int scale = 0; scale < kPhiScales; ++scale) {
    double& proxy = octaves[GridAt(Tier::kProxy, scale)];
    double& omitted = octaves[GridAt(Tier::kOmitted, scale)];
    proxy = std::min(proxy, patch);
    octaves[GridAt(Tier::kColourPatch, scale)] = patch;
    omitted = Greater(omitted, patch);
  }
}

uint8_t BandOf(const Style& style, double depth_m) {
  size_t band = 0;
  while (band + 1 < style.bands.size() && style.bands[band + 1].from_m <= depth_m) ++band;
  return static_cast<uint8_t>(band);
}

}  // namespace scantling
