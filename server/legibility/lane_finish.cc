// Closing the fold: set elements are gauged against the frame they are painted for, and every lane writes its columns.
//
// A set element goes through its kept frames twice: once per camera to find the middle seen frame and gauge the turn of
// every other against it, then once in frame order over all cameras to sum the losses as the figures' were summed.

#include <algorithm>
#include <cmath>

#include "server/legibility/lane_fold.h"
#include "server/legibility/turn.h"

namespace scantling {

struct LaneFold::LongRun {
  std::vector<double> turn_px;  // [camera * frames + frame_index]
  Grid worst_octaves = {};
  double turn_over_floor = 0;
};

std::vector<FrameSpans> LaneFold::Finish(Legibility& columns) {
  const int32_t first = optics_.scene->frames.first;
  std::vector<FrameSpans> spans;
  LongRun run;
  for (size_t lane = 0; lane < rows_.size(); ++lane) {
    Lane& state = lanes_[lane];
    if (state.run.count() > 0) state.spans.push_back({first + state.run.first, first + state.run.last});
    spans.push_back(std::move(state.spans));

    run.turn_over_floor = 0;
    run.worst_octaves.fill(0);
    if (state.seen_frames > 0) {
      if (state.set_element == kNone) {
        FigureOctaves(*traits_[lane].of_class, state.peak.log2_height_over_floor, run.worst_octaves);
      } else {
        FinishSetElement(lane, run);
      }
    }
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      columns.worst_octaves[rows_[lane]][tier] = static_cast<float>(run.worst_octaves[kPhiAsGiven * kTierCount + tier]);
    }
    columns.turn_over_floor[rows_[lane]] = static_cast<float>(run.turn_over_floor);
    WriteLane(lane, columns);
  }
  return spans;
}

// Fills the turns of one camera's seen frames.
void LaneFold::GaugeTurns(size_t lane, size_t camera, LongRun& run) {
  const std::span<const Kept> kept = KeptFrames(lanes_[lane].set_element, camera);
  int32_t seen = 0;
  for (const Kept& frame : kept) seen += static_cast<int32_t>(frame.seen);
  if (seen == 0) return;
  size_t reference = 0;
  for (int32_t before = MiddleOf(seen); kept[reference].seen == 0 || before-- > 0;) ++reference;

  const TurnGauge gauge(optics_, chunk_, lane, camera, static_cast<int32_t>(reference));
  for (size_t frame_index = 0; frame_index < kept.size(); ++frame_index) {
    if (kept[frame_index].seen == 0) continue;
    const double turn_px = gauge.At(static_cast<int32_t>(frame_index), kept[frame_index].height_px);
    run.turn_px[camera * kept.size() + frame_index] = turn_px;
    run.turn_over_floor = std::max(run.turn_over_floor, turn_px / kept[frame_index].floor_px);
  }
}

void LaneFold::FinishSetElement(size_t lane, LongRun& run) {
  const std::vector<Camera>& cameras = optics_.scene->cameras;
  const auto frames = static_cast<size_t>(optics_.scene->frames.count());
  run.turn_px.assign(cameras.size() * frames, 0);
  for (size_t camera = 0; camera < cameras.size(); ++camera) GaugeTurns(lane, camera, run);

  std::vector<Grid> picture_loss(cameras_in_picture_.size());
  std::vector<uint8_t> picture_seen(cameras_in_picture_.size());
  Grid octaves, loss;
  for (size_t frame_index = 0; frame_index < frames; ++frame_index) {
    std::fill(picture_loss.begin(), picture_loss.end(), Grid{});
    std::fill(picture_seen.begin(), picture_seen.end(), uint8_t{0});
    for (size_t camera = 0; camera < cameras.size(); ++camera) {
      const Kept& kept = KeptFrames(lanes_[lane].set_element, camera)[frame_index];
      if (kept.seen == 0) continue;
      const double log2_turn = std::log2(run.turn_px[camera * frames + frame_index] / kept.floor_px);
      SetElementOctaves(*traits_[lane].of_class, kept.log2_height_over_floor, log2_turn, octaves);
      FrameLoss(traits_[lane], kept.weight, octaves, loss);
      RaiseTo(octaves, run.worst_octaves);
      RaiseTo(loss, picture_loss[static_cast<size_t>(cameras[camera].picture)]);
      picture_seen[static_cast<size_t>(cameras[camera].picture)] = 1;
    }
    for (size_t picture = 0; picture < picture_seen.size(); ++picture) {
      if (picture_seen[picture] != 0) sums_[picture * rows_.size() + lane].Add(picture_loss[picture]);
    }
  }
}

void LaneFold::WriteLane(size_t lane, Legibility& columns) {
  const Lane& state = lanes_[lane];
  const uint32_t row = rows_[lane];
  columns.sight[row] = state.seen_frames > 0  ? Sight::kSeen
                       : in_frame_[lane] != 0 ? Sight::kTooSmall
                                              : Sight::kOffScreen;
  columns.seen_frames[row] = state.seen_frames;
  columns.seen_camera_frames[row] = state.seen_camera_frames;
  columns.rendered_megapixels[row] = state.rendered_px * 1e-6;
  columns.near_m[row] = state.seen_frames > 0 ? static_cast<float>(state.near_m) : 0;
  WritePeak(lane, columns);

  for (int scale = 0; scale < kPhiScales; ++scale) {
    for (Tier tier : kAllTiers) {
      double total = 0;
      for (size_t picture = 0; picture < cameras_in_picture_.size(); ++picture) {
        total += sums_[picture * rows_.size() + lane].Total(GridAt(scale, tier), optics_.style->worst_frame_share);
      }
      columns.loss[row][static_cast<size_t>(scale)][static_cast<size_t>(Index(tier))] = total;
    }
  }
}

void LaneFold::WritePeak(size_t lane, Legibility& columns) {
  const uint32_t row = rows_[lane];
  const Peak peak = lanes_[lane].seen_frames > 0 ? lanes_[lane].peak : Peak{.height_over_floor = 0};
  columns.height_over_floor[row] = static_cast<float>(peak.height_over_floor);
  columns.largest_height_px[row] = static_cast<float>(peak.height_px);
  columns.floor_px[row] = static_cast<float>(peak.floor_px);
  columns.floor_term[row] = peak.term;
  columns.largest_frame[row] = optics_.scene->frames.first + peak.frame_index;

  const CameraView& view = optics_.views[optics_.at(peak.camera, peak.frame_index)];
  const double real_height_m = traits_[lane].of_class->real_height_m;
  const bool known = real_height_m > 0 && peak.height_px > 0 && view.projection == Projection::kPerspective;
  columns.apparent_m[row] =
      known ? static_cast<float>(ApparentDistance(real_height_m, view.scale_v, peak.height_px)) : 0;
}

}  // namespace scantling
