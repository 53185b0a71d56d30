// Closing the fold: set elements are gauged against the frame they are painted for, and every lane writes its columns.
//
// A set element goes through its kept frames twice: once per camera to find the middle seen frame and gauge the turn of
// every other against it, then once in frame order over all cameras, section by section, to sum the losses as the
// figures' were summed.

#include <algorithm>

#include "server/legibility/floor_terms.h"
#include "server/legibility/lane_fold.h"
#include "server/legibility/turn.h"

namespace scantling {

struct LaneFold::LongRun {
  std::vector<std::vector<double>> turn_over_floor;  // [camera][place in its kept frames]
  std::vector<size_t> next;                          // [camera]: place of the first kept frame not yet summed
  Grid worst_octaves = {};
  double most_turned = 0;  // largest turn over floor
  // By picture, of the frame at hand.
  std::vector<Grid> loss;
  std::vector<uint8_t> seen;
};

std::vector<LaneFindings> LaneFold::Finish(Legibility& columns) {
  std::vector<LaneFindings> findings(rows_.size());
  LongRun run;
  for (size_t lane = 0; lane < rows_.size(); ++lane) {
    CloseSection(lane);
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
    WriteDepth(lane, columns);
    WriteLosses(lane, columns);
    findings[lane] = {std::move(sections_[lane]), motion_.Finish(lane, columns), crowds_.Finish(lane)};
  }
  return findings;
}

// Fills the turns of one camera's seen frames.
void LaneFold::GaugeTurns(size_t lane, size_t camera, LongRun& run) {
  const std::vector<Kept>& kept = KeptFrames(lane, camera);
  std::vector<double>& turns = run.turn_over_floor[camera];
  turns.clear();
  if (kept.empty()) return;
  const auto middle = static_cast<size_t>(MiddleOf(static_cast<int32_t>(kept.size())));
  const TurnGauge gauge(optics_, chunk_, lane, camera, kept[middle].frame_index);
  for (const Kept& frame : kept) {
    turns.push_back(gauge.At(frame.frame_index, frame.height_px) / frame.floor_px);
    run.most_turned = Greater(turns.back(), run.most_turned);
  }
}

void LaneFold::FinishSetElement(size_t lane, LongRun& run) {
  const size_t cameras = optics_.scene->cameras.size();
  run.turn_over_floor.resize(cameras);
  for (size_t camera = 0; camera < cameras; ++camera) GaugeTurns(lane, camera, run);

  run.next.assign(cameras, 0);
  const int32_t first = optics_.scene->frames.first;
  for (Section& section : sections_[lane]) {  // they hold every seen frame
    double turned = 0;
    for (int32_t frame = section.frames.first; frame <= section.frames.last; ++frame) {
      turned = Greater(AddSetElementFrame(lane, frame - first, run), turned);
    }
    section.turn_over_floor = static_cast<float>(turned);
  }
}

// Sums the losses of one frame, and returns the largest turn over floor in it.
double LaneFold::AddSetElementFrame(size_t lane, int32_t frame_index, LongRun& run) {
  const std::vector<Camera>& cameras = optics_.scene->cameras;
  run.loss.assign(cameras_in_picture_.size(), {});
  run.seen.assign(cameras_in_picture_.size(), 0);
  double turned = 0;
  Grid octaves, loss;
  for (size_t camera = 0; camera < cameras.size(); ++camera) {
    const std::vector<Kept>& frames = KeptFrames(lane, camera);
    size_t& next = run.next[camera];
    if (next == frames.size() || frames[next].frame_index != frame_index) continue;
    const Kept& kept = frames[next];
    const double turn_over_floor = run.turn_over_floor[camera][next];
    ++next;
    SetElementOctaves(*traits_[lane].of_class, Log2(kept.height_px / kept.floor_px), turn_over_floor, octaves);
    FrameLoss(traits_[lane], kept.weight, octaves, loss);
    const auto picture = static_cast<size_t>(cameras[camera].picture);
    RaiseTo(octaves, run.worst_octaves);
    RaiseTo(loss, run.loss[picture]);
    run.seen[picture] = 1;
    turned = Greater(turn_over_floor, turned);
  }
  for (size_t picture = 0; picture < run.seen.size(); ++picture) {
    if (run.seen[picture] != 0) sums_[picture * rows_.size() + lane].Add(run.loss[picture]);
  }
  return turned;
}

void LaneFold::WriteLane(size_t lane, Legibility& columns) const {
  const uint32_t row = rows_[lane];
  const Hot& hot = hot_[lane];
  columns.sight[row] = SightOf(sight_[lane]);
  columns.hidden_frames[row] = hot.hidden_frames;
  columns.seen_camera_frames[row] = hot.seen_camera_frames;
  columns.rendered_megapixels[row] = hot.rendered_px * 1e-6;
  columns.near_m[row] = IsSeenEver(lane) ? hot.near_m : 0;
  columns.seen_frames[row] = 0;
  for (const Section& section : sections_[lane]) columns.seen_frames[row] += section.frames.count();
}

void LaneFold::WritePeak(size_t lane, Legibility& columns) const {
  const uint32_t row = rows_[lane];
  const Peak& peak = peaks_[lane];  // all 0 where never seen, and nowhere
  columns.height_over_floor[row] = IsSeenEver(lane) ? static_cast<float>(hot_[lane].peak) : 0;
  columns.largest_height_px[row] = static_cast<float>(peak.height_px);
  columns.floor_px[row] = static_cast<float>(peak.floor_px);
  columns.floor_term[row] = peak.term;
  columns.largest_frame[row] = optics_.scene->frames.first + peak.frame_index;
  columns.visible_fraction[row] = peak.visible;
  columns.largest_u_px[row] = peak.u_px;
  columns.largest_v_px[row] = peak.v_px;
}

// How far it looks, and the band of the style it therefore stands in.
void LaneFold::WriteDepth(size_t lane, Legibility& columns) const {
  const uint32_t row = rows_[lane];
  const Peak& peak = peaks_[lane];
  const Style& style = *optics_.style;
  const CameraView& view = optics_.views[optics_.at(peak.camera, peak.frame_index)];
  const double real_height_m = traits_[lane].of_class->real_height_m;
  const bool known = real_height_m > 0 && peak.height_px > 0 && view.projection == Projection::kPerspective;
  const float apparent_m =
      known ? static_cast<float>(ApparentDistance(real_height_m, view.scale_v, peak.height_px)) : 0;
  columns.apparent_m[row] = apparent_m;
  columns.band[row] = IsSeenEver(lane)
                          ? BandOf(style, known && style.band_depth == DepthKind::kApparent ? apparent_m : peak.depth_m)
                          : 0;
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
