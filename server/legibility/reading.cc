// The parts of the shared per-frame arithmetic that run once per class or object, or only for set elements.
//
// Logarithms of phi are taken here, once per class, so that a frame costs one logarithm of height over floor and an
// addition per tier. They are made to rise from PROXY to OMITTED even where two phis differ by so little that the
// library's logarithm, which is not proved monotone, might swap them.

#include "server/legibility/reading.h"

#include <algorithm>

#include "server/legibility/contrast.h"

namespace scantling {

ClassTraits TraitsOf(const ObjectClass& object_class) {
  ClassTraits traits;
  for (int scale = 0; scale < kPhiScales; ++scale) {
    double floor = -std::numeric_limits<double>::infinity();
    traits.log2_phi[GridAt(scale, Tier::kFullRig)] = floor;
    for (Tier tier : {Tier::kProxy, Tier::kColourPatch, Tier::kOmitted}) {
      const double phi = object_class.phi[static_cast<size_t>(Index(tier))] * kPhiScale[static_cast<size_t>(scale)];
      floor = std::max(floor, std::log2(std::min(1.0, phi)));
      traits.log2_phi[GridAt(scale, tier)] = floor;
    }
  }
  traits.presence.fill(1);
  traits.presence[Index(Tier::kOmitted)] = object_class.omitted_presence;
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
  const std::array<uint8_t, 4>& colour = objects.colour[object];
  if (optics.scene->backdrop_colour && colour[3] != 0) {
    const double difference =
        CieDe2000(LabOfSrgb({colour[0], colour[1], colour[2]}), LabOfSrgb(*optics.scene->backdrop_colour));
    traits.contrast = std::min(1.0, difference / optics.style->full_contrast_de00);
  }
  return traits;
}

CameraFrame CameraFrameOf(const ShotOptics& optics, size_t camera, int32_t frame_index) {
  const size_t at = optics.at(camera, frame_index);
  CameraFrame frame;
  frame.view = &optics.views[at];
  frame.floor = &optics.floors[at];
  frame.interest = optics.interest[at];
  frame.delivered_px = frame.view->width_px * frame.view->height_px;
  frame.apparent_depth =
      optics.style->depth_kind == DepthKind::kApparent && frame.view->projection == Projection::kPerspective;
  return frame;
}

void Overlay(const MeasuredFigure& figure, size_t lane, ViewBlock& block) {
  const bool in_frame = figure.height_px > 0;
  block.height_px[lane] = in_frame ? figure.height_px : 0;
  block.covered_px[lane] = block.rendered_px[lane] = in_frame ? figure.covered_px : 0;
  block.near_m[lane] = block.far_m[lane] = in_frame ? figure.depth_m : 0;
  block.flags[lane] = in_frame ? kInFrame : 0;
}

double FirstTravelPx(const ShotOptics& optics, const PoseChunk* chunk, size_t lane, size_t camera,
                     const Sighting& sighting) {
  if (chunk == nullptr || optics.scene->frames.count() < 2) return 0;
  const auto next = ProjectCentre(*chunk, static_cast<int32_t>(lane), 1, optics.views[optics.at(camera, 1)]);
  return TravelPx(sighting.u_px, sighting.v_px, next[0], next[1]);
}

void SetElementOctaves(const ClassTraits& traits, double log2_height_over_floor, double log2_turn_over_floor,
                       Grid& octaves) {
  FigureOctaves(traits, log2_height_over_floor, octaves);
  const double patch = std::max(0.0, log2_turn_over_floor);
  for (int scale = 0; scale < kPhiScales; ++scale) {
    double& proxy = octaves[GridAt(scale, Tier::kProxy)];
    double& omitted = octaves[GridAt(scale, Tier::kOmitted)];
    proxy = std::min(proxy, patch);
    octaves[GridAt(scale, Tier::kColourPatch)] = patch;
    omitted = std::max(omitted, patch);
  }
}

}  // namespace scantling
