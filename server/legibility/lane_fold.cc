// Adding frames to the fold: pick the lanes that are seen, read them as a batch, sum the figures, keep the set
// elements.
//
// Per camera and frame the work of an unseen lane is two comparisons in a loop without branches; a seen one costs a
// floor, one or two logarithms and twelve sums. Frames come in order and every lane is summed by one thread, so the
// sums are the same whatever the number of threads.

#include "server/legibility/lane_fold.h"

#include <algorithm>
#include <cmath>

namespace scantling {

LaneFold::LaneFold(const ShotOptics& optics, std::span<const uint32_t> rows, const PoseChunk* chunk)
    : optics_(optics), chunk_(chunk), rows_(rows.begin(), rows.end()) {
  const Scene& scene = *optics.scene;
  const auto pictures = static_cast<size_t>(scene.pictures);
  for (const ObjectClass& object_class : optics.catalogue->classes) classes_.push_back(TraitsOf(object_class));
  uint32_t set_elements = 0;
  for (const uint32_t row : rows_) {
    const size_t lane = traits_.size();
    traits_.push_back(TraitsOf(optics, row, classes_[scene.objects.class_index[row]]));
    solidity_[lane] = traits_[lane].solidity;
    set_element_.push_back(traits_[lane].of_class->set_element ? set_elements++ : kNone);
    if (scene.objects.measured[row] != kNone) measured_lanes_.push_back(static_cast<uint32_t>(lane));
  }
  hot_.resize(rows_.size());
  peaks_.resize(rows_.size());
  run_first_.resize(rows_.size());
  spans_.resize(rows_.size());

  cameras_in_picture_.resize(pictures);
  for (const Camera& camera : scene.cameras) ++cameras_in_picture_[static_cast<size_t>(camera.picture)];
  if (scene.cameras.size() > pictures) eyes_.resize(pictures);
  sums_.resize(pictures * rows_.size());
  kept_.resize(set_elements * scene.cameras.size() * static_cast<size_t>(scene.frames.count()));
  if (optics.style->shutter_fraction > 0) {
    last_u_px_.resize(scene.cameras.size());
    last_v_px_.resize(scene.cameras.size());
  }
}

void LaneFold::Add(int32_t frame_index, std::span<const ViewBlock> blocks) {
  seen_now_.fill(0);
  for (Eyes& eyes : eyes_) eyes.seen.fill(0);
  const bool as_measured = chunk_ != nullptr && measured_lanes_.empty();
  for (size_t camera = 0; camera < optics_.scene->cameras.size(); ++camera) {
    AddCamera(camera, frame_index, as_measured ? blocks[camera] : Measured(camera, frame_index, blocks));
  }
  CloseFrame(frame_index);
}

// The block with the caller's figures put over ours. An object without geometry has no place in the picture.
const ViewBlock& LaneFold::Measured(size_t camera, int32_t frame_index, std::span<const ViewBlock> blocks) {
  if (chunk_ != nullptr) {
    overlaid_ = blocks[camera];
  } else {
    overlaid_.u_px.fill(std::numeric_limits<float>::quiet_NaN());
    overlaid_.v_px.fill(std::numeric_limits<float>::quiet_NaN());
  }
  for (const uint32_t lane : measured_lanes_) {
    Overlay(optics_.scene->measured_at(rows_[lane], camera, frame_index), lane, overlaid_);
  }
  return overlaid_;
}

void LaneFold::AddCamera(size_t camera, int32_t frame_index, const ViewBlock& block) {
  batch_.count = static_cast<int32_t>(PickSeen(block));
  if (batch_.count > 0) {
    FillBatch(block);
    FillPlaces(camera, frame_index, block);
    ReadBatch(optics_, camera, frame_index, batch_);
    NoteExtremes(camera, frame_index, block);
    AddLosses(camera, frame_index);
  }
  if (!last_u_px_.empty()) {
    last_u_px_[camera] = block.u_px;
    last_v_px_[camera] = block.v_px;
  }
}

// Writes the seen lanes to picked_ and returns how many they are. Stores every lane and steps on by the answer, so that
// no branch waits for a comparison.
size_t LaneFold::PickSeen(const ViewBlock& block) {
  const double smallest = optics_.style->smallest_covered_px;
  const size_t count = rows_.size();
  for (size_t lane = 0; lane < count; ++lane) {
    in_frame_[lane] = static_cast<uint8_t>(in_frame_[lane] | (block.flags[lane] & kInFrame));
  }
  size_t picked = 0;
  for (size_t lane = 0; lane < count; ++lane) {
    picked_[picked] = static_cast<uint16_t>(lane);
    picked += static_cast<size_t>(IsSeen(block, lane, solidity_[lane], smallest));
  }
  return picked;
}

void LaneFold::FillBatch(const ViewBlock& block) {
  for (size_t i = 0; i < static_cast<size_t>(batch_.count); ++i) {
    const size_t lane = picked_[i];
    batch_.height_px[i] = block.height_px[lane];
    batch_.covered_px[i] = block.covered_px[lane] * solidity_[lane];
    batch_.depth_m[i] = block.near_m[lane];
    batch_.real_height_m[i] = traits_[lane].of_class->real_height_m;
    batch_.importance[i] = traits_[lane].importance;
  }
}

// Travel and distance from where the audience looks, only where the style or the scene asks for them.
void LaneFold::FillPlaces(size_t camera, int32_t frame_index, const ViewBlock& block) {
  const std::span<const InterestPoint> interest = optics_.interest[optics_.at(camera, frame_index)];
  const auto count = static_cast<size_t>(batch_.count);
  for (size_t i = 0; !interest.empty() && i < count; ++i) {
    batch_.interest_px[i] = InterestPx(interest, block.u_px[picked_[i]], block.v_px[picked_[i]]);
  }
  for (size_t i = 0; !last_u_px_.empty() && i < count; ++i) {
    const size_t lane = picked_[i];
    const double u_px = block.u_px[lane], v_px = block.v_px[lane];
    batch_.travel_px[i] = frame_index == 0 ? FirstTravelPx(optics_, chunk_, lane, camera, u_px, v_px)
                                           : TravelPx(u_px, v_px, last_u_px_[camera][lane], last_v_px_[camera][lane]);
  }
}

void LaneFold::NoteExtremes(size_t camera, int32_t frame_index, const ViewBlock& block) {
  for (size_t i = 0; i < static_cast<size_t>(batch_.count); ++i) {
    const size_t lane = picked_[i];
    Hot& hot = hot_[lane];
    seen_now_[lane] = 1;
    ++hot.seen_camera_frames;
    hot.rendered_px += block.rendered_px[lane] * solidity_[lane];
    hot.near_m = std::min(hot.near_m, batch_.depth_m[i]);
    if (batch_.height_over_floor[i] > hot.peak) {
      hot.peak = batch_.height_over_floor[i];
      peaks_[lane] = {batch_.log2_height_over_floor[i],
                      batch_.height_px[i],
                      batch_.floor_px[i],
                      static_cast<FloorTerm>(batch_.floor_term[i]),
                      frame_index,
                      camera};
    }
  }
}

void LaneFold::AddLosses(size_t camera, int32_t frame_index) {
  const auto picture = static_cast<size_t>(optics_.scene->cameras[camera].picture);
  for (size_t i = 0; i < static_cast<size_t>(batch_.count); ++i) {
    const size_t lane = picked_[i];
    if (set_element_[lane] == kNone) {
      AddFigureLoss(lane, picture, i);
    } else {
      KeptFrames(lane, camera)[static_cast<size_t>(frame_index)] = {batch_.log2_height_over_floor[i], batch_.weight[i],
                                                                    batch_.floor_px[i],
                                                                    static_cast<float>(batch_.height_px[i]), 1};
    }
  }
}

void LaneFold::AddFigureLoss(size_t lane, size_t picture, size_t place) {
  Grid octaves, loss;
  FigureOctaves(*traits_[lane].of_class, batch_.log2_height_over_floor[place], octaves);
  FrameLoss(traits_[lane], batch_.weight[place], octaves, loss);
  if (cameras_in_picture_[picture] == 1) {
    sums_[picture * rows_.size() + lane].Add(loss);
    return;
  }
  Eyes& eyes = eyes_[picture];
  if (eyes.seen[lane] == 0) eyes.loss[lane].fill(0);
  eyes.seen[lane] = 1;
  RaiseTo(loss, eyes.loss[lane]);
}

void LaneFold::CloseFrame(int32_t frame_index) {
  for (size_t picture = 0; picture < eyes_.size(); ++picture) {
    for (size_t lane = 0; lane < rows_.size(); ++lane) {
      if (eyes_[picture].seen[lane] != 0) sums_[picture * rows_.size() + lane].Add(eyes_[picture].loss[lane]);
    }
  }
  for (size_t lane = 0; lane < rows_.size(); ++lane) {
    if (seen_now_[lane] == 0) continue;
    if (hot_[lane].last_seen != frame_index - 1) {
      CloseRun(lane);
      run_first_[lane] = frame_index;
    }
    hot_[lane].last_seen = frame_index;
  }
}

// Puts the span being grown among the ended ones; nothing where none was begun.
void LaneFold::CloseRun(size_t lane) {
  const int32_t first = optics_.scene->frames.first;
  if (hot_[lane].last_seen >= 0) spans_[lane].push_back({first + run_first_[lane], first + hot_[lane].last_seen});
}

std::span<LaneFold::Kept> LaneFold::KeptFrames(size_t lane, size_t camera) {
  const auto frames = static_cast<size_t>(optics_.scene->frames.count());
  return std::span(kept_).subspan((set_element_[lane] * optics_.scene->cameras.size() + camera) * frames, frames);
}

}  // namespace scantling
