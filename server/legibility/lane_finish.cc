// Closing the fold: set elements are gauged against the frame they are painted for, and every lane writes its columns.
//
// A set element goes through its kept frames twice: once per camera to find the middle seen frame and gauge the turn of
// every other against it, then once in frame order over all cameras to sum the losses as the figures' were summed.

#include <algorithm>

#include "server/legibility/lane_fold.h"
#include "server/legibility/turn.h"

namespace scantling {

struct LaneFold::LongRun {
  std::vector<double> turn_over_floor;  // [camera * frames + frame_index]
  Grid worst_octaves = {};
  double most_turned = 0;  // largest turn over floor
  // By picture, of the frame at hand.
  std::vector<Grid> loss;
  std::vector<uint8_t> seen;
};

std::vector<FrameSpans> LaneFold::Finish(Legibility& columns) {
  LongRun run;
  for (size_t lane = 0; lane < rows_.size(); ++lane) {
    CloseRun(lane);
    run.most_turned = 0;
    run.worst_octaves.fill(0);
    if (IsSeenEver(lane)) {
      if (set_element_[lane] == kNone) {
        FigureOctaves(*traits_[lane].of_class, peaks_[lane].log2_height_over_floor, run.worst_octaves);
      } else {
        FinishSetElement(lane, run);
      }
    }
    PerTier<float>& worst = columns.worst_octaves[rows_[lane]];
    worst = {};
    for (Tier tier : kGridTiers) {
      worst[static_cast<size_t>(Index(tier))] = static_cast<float>(run.worst_octaves[GridAt(tier, kPhiAsGiven)]);
    }
    columns.turn_over_floor[rows_[lane]] = static_cast<float>(run.most_turned);
    WriteLane(lane, columns);
    WritePeak(lane, columns);
    WriteLosses(lane, columns);
  }
  return std::move(spans_);
}

// Fills the turns of one camera's seen frames.
void LaneFold::GaugeTurns(size_t lane, size_t camera, LongRun& run) {
  const std::span<const Kept> kept = KeptFrames(lane, camera);
  int32_t seen = 0;
  for (const Kept& frame : kept) seen += static_cast<int32_t>(frame.seen);
  if (seen == 0) return;
  size_t reference = 0;
  for (int32_t before = MiddleOf(seen); kept[reference].seen == 0 || before-- > 0;) ++reference;

  const TurnGauge gauge(optics_, chunk_, lane, camera, static_cast<int32_t>(reference));
  for (size_t frame_index = 0; frame_index < kept.size(); ++frame_index) {
    if (kept[frame_index].seen == 0) continue;
    const double turn_over_floor =
        gauge.At(static_cast<int32_t>(frame_index), kept[frame_index].height_px) / kept[frame_index].floor_px;
    run.turn_over_floor[camera * kept.size() + frame_index] = turn_over_floor;
    run.most_turned = Greater(turn_over_floor, run.most_turned);
  }
}

void LaneFold::FinishSetElement(size_t lane, LongRun& run) {
  const std::vector<Camera>& cameras = optics_.scene->cameras;
  const auto frames = static_cast<size_t>(optics_.scene->frames.count());
  run.turn_over_floor.assign(cameras.size() * frames, 0);
  for (size_t camera = 0; camera < cameras.size(); ++camera) GaugeTurns(lane, camera, run);

  Grid octaves, loss;
  for (size_t frame_index = 0; frame_index < frames; ++frame_index) {
    run.loss.assign(cameras_in_picture_.size(), {});
    run.seen.assign(cameras_in_picture_.size(), 0);
    for (size_t camera = 0; camera < cameras.size(); ++camera) {
      const Kept& kept = KeptFrames(lane, camera)[frame_index];
      if (kept.seen == 0) continue;
      const auto picture = static_cast<size_t>(cameras[camera].picture);
      SetElementOctaves(*traits_[lane].of_class, kept.log2_height_over_floor,
                        run.turn_over_floor[camera * frames + frame_index], octaves);
      FrameLoss(traits_[lane], kept.weight, octaves, loss);
      RaiseTo(octaves, run.worst_octaves);
      RaiseTo(loss, run.loss[picture]);
      run.seen[picture] = 1;
    }
    for (size_t picture = 0; picture < run.seen.size(); ++picture) {
      if (run.seen[picture] != 0) sums_[picture * rows_.size() + lane].Add(run.loss[picture]);
    }
  }
}

void LaneFold::WriteLane(size_t lane, Legibility& columns) const {
  const uint32_t row = rows_[lane];
  const Hot& hot = hot_[lane];
  columns.sight[row] = IsSeenEver(lane) ? Sight::kSeen : in_frame_[lane] != 0 ? Sight::kTooSmall : Sight::kOffScreen;
  columns.seen_frames[row] = static_cast<int32_t>(CountFrames(spans_[lane]));
  columns.seen_camera_frames[row] = hot.seen_camera_frames;
  columns.rendered_megapixels[row] = hot.rendered_px * 1e-6;
  columns.near_m[row] = IsSeenEver(lane) ? static_cast<float>(hot.near_m) : 0;
}

void LaneFold::WritePeak(size_t lane, Legibility& columns) const {
  const uint32_t row = rows_[lane];
  const Peak& peak = peaks_[lane];  // all 0 where never seen
  columns.height_over_floor[row] = IsSeenEver(lane) ? static_cast<float>(hot_[lane].peak) : 0;
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

void LaneFold::WriteLosses(size_t lane, Legibility& columns) const {
  auto& losses = columns.loss[rows_[lane]];
  losses = {};
  for (size_t picture = 0; picture < cameras_in_picture_.size(); ++picture) {
    const LossSum& sum = sums_[picture * rows_.size() + lane];
    for (int scale = 0; scale < kPhiScales; ++scale) {
      for (Tier tier : kGridTiers) {
        losses[static_cast<size_t>(scale)][static_cast<size_t>(Index(tier))] +=
            sum.Total(GridAt(tier, scale), optics_.style->worst_frame_share);
      }
    }
  }
}

}  // namespace scantling
