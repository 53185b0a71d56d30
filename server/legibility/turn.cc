// Turn of a set element's view against its reference frame.
//
// A still object under a still camera never turns, so the eight corners are not projected frame after frame for what
// is most often true of a house. A residual that is no number (a box that projects onto one point has no scale to fit)
// counts as the full height: what cannot be shown to hold is not sold as holding.

#include "server/legibility/turn.h"

namespace scantling {

TurnGauge::TurnGauge(const ShotOptics& optics, const PoseChunk* chunk, size_t lane, size_t camera,
                     int32_t reference_frame_index)
    : optics_(optics), chunk_(chunk), lane_(lane), camera_(camera) {
  if (chunk == nullptr) return;
  still_ = chunk->frames == 1 && optics.scene->cameras[camera].poses.size() == 1;
  reference_ = ProjectCorners(*chunk, static_cast<int32_t>(lane), reference_frame_index,
                              optics.views[optics.at(camera, reference_frame_index)]);
}

double TurnGauge::At(int32_t frame_index, double height_px) const {
  if (!reference_) return height_px;
  if (still_) return 0;
  const std::optional<Corners> now = ProjectCorners(*chunk_, static_cast<int32_t>(lane_), frame_index,
                                                    optics_.views[optics_.at(camera_, frame_index)]);
  if (!now) return height_px;
  const double residual = TurnResidual(*reference_, *now);
  return residual < height_px ? residual : height_px;
}

}  // namespace scantling
