// Adding frames to the fold: pick the lanes that are seen, read them, sum the figures, keep the set elements.
//
// Per camera and frame the work of an unseen lane is one comparison in a loop without branches; a seen one costs a
// floor, one logarithm and twelve sums. Frames come in order and every lane is summed by one thread, so the sums are
// the same whatever the number of threads.

#include "server/legibility/lane_fold.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace scantling {

LaneFold::LaneFold(const ShotOptics& optics, std::span<const uint32_t> rows, const PoseChunk* chunk)
    : optics_(optics), chunk_(chunk), rows_(rows.begin(), rows.end()), lanes_(rows.size()), solidity_(kChunkLanes, 0) {
  const Scene& scene = *optics.scene;
  const auto pictures = static_cast<size_t>(scene.pictures);
  for (const ObjectClass& object_class : optics.catalogue->classes) classes_.push_back(TraitsOf(object_class));
  uint32_t set_elements = 0;
  for (size_t lane = 0; lane < rows_.size(); ++lane) {
    traits_.push_back(TraitsOf(optics, rows_[lane], classes_[scene.objects.class_index[rows_[lane]]]));
    solidity_[lane] = traits_[lane].solidity;
    lanes_[lane].near_m = std::numeric_limits<double>::infinity();
    if (traits_[lane].of_class->set_element) lanes_[lane].set_element = set_elements++;
    if (scene.objects.measured[rows_[lane]] != kNone) measured_lanes_.push_back(static_cast<uint32_t>(lane));
  }

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
  for (size_t camera = 0; camera < optics_.scene->cameras.size(); ++camera) {
    const bool as_measured = chunk_ != nullptr && measured_lanes_.empty();
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
  const int32_t picked = PickSeen(block);
  const CameraFrame frame = CameraFrameOf(optics_, camera, frame_index);
  const bool blurs = !last_u_px_.empty();
  for (int32_t i = 0; i < picked; ++i) {
    const size_t lane = picked_[static_cast<size_t>(i)];
    const Sighting sighting = SightingOf(block, lane, solidity_[lane]);
    double travel_px = 0;
    if (blurs) {
      travel_px = frame_index == 0
                      ? FirstTravelPx(optics_, chunk_, lane, camera, sighting)
                      : TravelPx(sighting.u_px, sighting.v_px, last_u_px_[camera][lane], last_v_px_[camera][lane]);
    }
    TakeReading(lane, camera, frame_index, sighting, Read(frame, traits_[lane], sighting, travel_px));
  }
  if (blurs) {
    last_u_px_[camera] = block.u_px;
    last_v_px_[camera] = block.v_px;
  }
}

// Writes the seen lanes to picked_ and returns how many they are. Stores every lane and steps on by the answer, so that
// no branch waits for a comparison.
int32_t LaneFold::PickSeen(const ViewBlock& block) {
  const double smallest = optics_.style->smallest_covered_px;
  const size_t count = rows_.size();
  for (size_t lane = 0; lane < count; ++lane) in_frame_[lane] |= block.flags[lane] & kInFrame;
  size_t picked = 0;
  for (size_t lane = 0; lane < count; ++lane) {
    picked_[picked] = static_cast<uint16_t>(lane);
    const bool large = block.rendered_px[lane] * solidity_[lane] > smallest;
    picked += static_cast<size_t>(large & ((block.flags[lane] & kInFrame) != 0));
  }
  return static_cast<int32_t>(picked);
}

void LaneFold::TakeReading(size_t lane, size_t camera, int32_t frame_index, const Sighting& sighting,
                           const Reading& reading) {
  Lane& state = lanes_[lane];
  seen_now_[lane] = 1;
  ++state.seen_camera_frames;
  state.rendered_px += sighting.rendered_px;
  state.near_m = std::min(state.near_m, sighting.depth_m);
  if (reading.height_over_floor > state.peak.height_over_floor) {
    state.peak = {reading.height_over_floor,
                  reading.log2_height_over_floor,
                  sighting.height_px,
                  reading.floor.px,
                  reading.floor.term,
                  frame_index,
                  camera};
  }
  if (state.set_element == kNone) {
    AddFigureLoss(lane, camera, reading);
  } else {
    KeptFrames(state.set_element, camera)[static_cast<size_t>(frame_index)] = {
        reading.log2_height_over_floor, reading.weight, reading.floor.px, static_cast<float>(sighting.height_px), 1};
  }
}

void LaneFold::AddFigureLoss(size_t lane, size_t camera, const Reading& reading) {
  Grid octaves, loss;
  FigureOctaves(*traits_[lane].of_class, reading.log2_height_over_floor, octaves);
  FrameLoss(traits_[lane], reading.weight, octaves, loss);

  const auto picture = static_cast<size_t>(optics_.scene->cameras[camera].picture);
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
  const int32_t first = optics_.scene->frames.first;
  for (size_t lane = 0; lane < rows_.size(); ++lane) {
    if (seen_now_[lane] == 0) continue;
    Lane& state = lanes_[lane];
    const bool goes_on = state.seen_frames++ > 0 && state.run.last == frame_index - 1;
    if (!goes_on) {
      if (state.run.count() > 0) state.spans.push_back({first + state.run.first, first + state.run.last});
      state.run.first = frame_index;
    }
    state.run.last = frame_index;
  }
}

std::span<LaneFold::Kept> LaneFold::KeptFrames(size_t set_element, size_t camera) {
  const auto frames = static_cast<size_t>(optics_.scene->frames.count());
  return std::span(kept_).subspan((set_element * optics_.scene->cameras.size() + camera) * frames, frames);
}

}  // namespace scantling
