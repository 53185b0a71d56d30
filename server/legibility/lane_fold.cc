// Adding frames to the fold: pick the lanes that are seen, read them as a batch, sum the figures, keep the set
// elements.
//
// Per camera and frame the work of an unseen lane is a few comparisons in loops without branches; a seen one costs a
// floor, one or two logarithms and twelve sums. Frames come in order and every lane is summed by one thread, so the
// sums are the same whatever the number of threads.

#include "server/legibility/lane_fold.h"

#include <algorithm>
#include <cmath>

namespace scantling {

LaneFold::LaneFold(const ShotOptics& optics, std::span<const uint32_t> rows, const PoseChunk* chunk)
    : optics_(optics),
      chunk_(chunk),
      rows_(rows.begin(), rows.end()),
      motion_(optics, rows_, chunk),
      crowds_(optics, rows_) {
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
    if (scene.has_own_breaks(row)) own_breaks_.push_back(static_cast<uint32_t>(lane));
  }
  hot_.resize(rows_.size());
  peaks_.resize(rows_.size());
  sections_.resize(rows_.size());

  cameras_in_picture_.resize(pictures);
  for (const Camera& camera : scene.cameras) ++cameras_in_picture_[static_cast<size_t>(camera.picture)];
  sums_.resize(pictures * rows_.size());
  kept_.resize(set_elements * scene.cameras.size());
  if (optics.style->shutter_fraction > 0) {
    last_u_px_.resize(scene.cameras.size());
    last_v_px_.resize(scene.cameras.size());
  }
}

void LaneFold::Add(int32_t frame_index, std::span<const ViewBlock> blocks, Scratch& scratch) {
  const size_t pictures = cameras_in_picture_.size();
  scratch.eyes.resize(optics_.scene->cameras.size() > pictures ? pictures : 0);
  for (Eyes& eyes : scratch.eyes) eyes.seen.fill(0);
  scratch.sight.fill(0);
  MarkBreaks(frame_index, scratch);
  const bool as_measured = chunk_ != nullptr && measured_lanes_.empty();
  for (size_t camera = 0; camera < optics_.scene->cameras.size(); ++camera) {
    AddCamera(camera, frame_index, as_measured ? blocks[camera] : Measured(camera, frame_index, blocks, scratch),
              scratch);
  }
  CloseFrame(frame_index, scratch);
}

// Which lanes a drawing stands for in this frame, and whose poses start anew.
void LaneFold::MarkBreaks(int32_t frame_index, Scratch& scratch) const {
  const Scene& scene = *optics_.scene;
  const int32_t frame = scene.frames.first + frame_index;
  const auto is_beat = [frame](const std::vector<int32_t>& beats) {
    return static_cast<uint8_t>(std::binary_search(beats.begin(), beats.end(), frame));
  };
  const bool replaced = Contains(scene.replaced, frame);
  scratch.any_replaced = replaced;
  scratch.replaced.fill(replaced ? 1 : 0);
  scratch.beat.fill(is_beat(scene.beats));
  for (const uint32_t lane : own_breaks_) {
    const bool own = Contains(scene.replaced_of(rows_[lane]), frame);
    scratch.any_replaced |= own;
    scratch.replaced[lane] = own ? 1 : 0;
    scratch.beat[lane] = is_beat(scene.beats_of(rows_[lane]));
  }
}

// The block with the caller's figures put over ours. An object without geometry has no place in the picture.
const ViewBlock& LaneFold::Measured(size_t camera, int32_t frame_index, std::span<const ViewBlock> blocks,
                                    Scratch& scratch) const {
  ViewBlock& block = scratch.overlaid;
  if (chunk_ != nullptr) {
    block = blocks[camera];
  } else {
    block.u_px.fill(std::numeric_limits<float>::quiet_NaN());
    block.v_px.fill(std::numeric_limits<float>::quiet_NaN());
    block.flags.fill(0);
  }
  for (const uint32_t lane : measured_lanes_) {
    Overlay(optics_.scene->measured_at(rows_[lane], camera, frame_index), lane, block);
  }
  return block;
}

void LaneFold::AddCamera(size_t camera, int32_t frame_index, const ViewBlock& block, Scratch& scratch) {
  const size_t count = PickSeen(block, scratch);
  scratch.batch.count = static_cast<int32_t>(count);
  if (count > 0) {
    FillBatch(block, scratch);
    FillPlaces(camera, frame_index, block, scratch);
    ReadBatch(optics_, camera, frame_index, scratch.batch);
    NoteExtremes(camera, frame_index, block, scratch);
    AddLosses(camera, frame_index, scratch);
    if (!crowds_.empty()) {
      crowds_.Add({camera, frame_index}, block, std::span(scratch.picked).first(count), scratch.batch.covered_px);
    }
  }
  motion_.Add(camera, frame_index, std::span(scratch.picked).first(count),
              std::span(scratch.batch.floor_px).first(count));
  if (!last_u_px_.empty()) {
    last_u_px_[camera] = block.u_px;
    last_v_px_[camera] = block.v_px;
  }
}

// Writes the seen lanes to `picked` and returns how many they are. Stores every lane and steps on by the answer, so
// that no branch waits for a comparison; what a drawing stands for is taken out again where there is any.
size_t LaneFold::PickSeen(const ViewBlock& block, Scratch& scratch) const {
  const double smallest = optics_.style->smallest_covered_px;
  const size_t count = rows_.size();
  int hiding = 0;
  for (size_t lane = 0; lane < count; ++lane) hiding |= static_cast<int>(block.visible[lane] < 1);
  for (size_t lane = 0; lane < count; ++lane) {
    scratch.share[lane] = VisibleShare(block, lane, solidity_[lane]);
    scratch.sight[lane] |= static_cast<uint8_t>((block.flags[lane] & kInFrame) * kHadInFrame);
  }
  size_t picked = 0;
  for (size_t lane = 0; lane < count; ++lane) {
    scratch.picked[picked] = static_cast<uint16_t>(lane);
    picked += static_cast<size_t>(IsLargeEnough(block, lane, scratch.share[lane], smallest));
  }
  if (hiding != 0) MarkHidden(block, scratch);
  return scratch.any_replaced ? DropReplaced(picked, scratch) : picked;
}

void LaneFold::MarkHidden(const ViewBlock& block, Scratch& scratch) const {
  const double smallest = optics_.style->smallest_covered_px;
  for (size_t lane = 0; lane < rows_.size(); ++lane) {
    const bool hidden = IsLargeEnough(block, lane, solidity_[lane], smallest) &&
                        !IsLargeEnough(block, lane, scratch.share[lane], smallest);
    scratch.sight[lane] |= hidden ? kHidIt : 0;
  }
}

size_t LaneFold::DropReplaced(size_t picked, Scratch& scratch) {
  size_t kept = 0;
  for (size_t i = 0; i < picked; ++i) {
    const uint16_t lane = scratch.picked[i];
    if (scratch.replaced[lane] != 0) {
      scratch.sight[lane] |= kWouldHaveSeen;
    } else {
      scratch.picked[kept++] = lane;
    }
  }
  return kept;
}

void LaneFold::FillBatch(const ViewBlock& block, Scratch& scratch) const {
  Batch& batch = scratch.batch;
  for (size_t i = 0; i < static_cast<size_t>(batch.count); ++i) {
    const size_t lane = scratch.picked[i];
    batch.height_px[i] = block.height_px[lane];
    batch.covered_px[i] = block.covered_px[lane] * scratch.share[lane];
    batch.depth_m[i] = block.near_m[lane];
    batch.real_height_m[i] = traits_[lane].of_class->real_height_m;
    batch.importance[i] = traits_[lane].importance;
  }
}

// Travel and distance from where the audience looks, only where the style or the scene asks for them.
void LaneFold::FillPlaces(size_t camera, int32_t frame_index, const ViewBlock& block, Scratch& scratch) const {
  Batch& batch = scratch.batch;
  const std::span<const InterestPoint> interest = optics_.interest[optics_.at(camera, frame_index)];
  const auto count = static_cast<size_t>(batch.count);
  for (size_t i = 0; !interest.empty() && i < count; ++i) {
    batch.interest_px[i] = InterestPx(interest, block.u_px[scratch.picked[i]], block.v_px[scratch.picked[i]]);
  }
  for (size_t i = 0; !last_u_px_.empty() && i < count; ++i) {
    const size_t lane = scratch.picked[i];
    const double u_px = block.u_px[lane], v_px = block.v_px[lane];
    batch.travel_px[i] = frame_index == 0 ? FirstTravelPx(optics_, chunk_, lane, camera, u_px, v_px)
                                          : TravelPx(u_px, v_px, last_u_px_[camera][lane], last_v_px_[camera][lane]);
  }
}

void LaneFold::NoteExtremes(size_t camera, int32_t frame_index, const ViewBlock& block, Scratch& scratch) {
  const Batch& batch = scratch.batch;
  for (size_t i = 0; i < static_cast<size_t>(batch.count); ++i) {
    const size_t lane = scratch.picked[i];
    const auto ratio = static_cast<float>(batch.height_over_floor[i]);
    float& largest_now = scratch.height_over_floor[lane];
    largest_now = (scratch.sight[lane] & kSeenIt) == 0 ? ratio : std::max(largest_now, ratio);
    scratch.sight[lane] |= kSeenIt;
  }
  for (size_t i = 0; i < static_cast<size_t>(batch.count); ++i) {
    const size_t lane = scratch.picked[i];
    Hot& hot = hot_[lane];
    ++hot.seen_camera_frames;
    hot.rendered_px += block.rendered_px[lane] * scratch.share[lane];
    hot.near_m = std::min(hot.near_m, block.near_m[lane]);
    if (batch.height_over_floor[i] > hot.peak) {
      hot.peak = batch.height_over_floor[i];
      peaks_[lane] = {batch.log2_height_over_floor[i],
                      batch.height_px[i],
                      batch.floor_px[i],
                      block.near_m[lane],
                      block.visible[lane],
                      block.u_px[lane],
                      block.v_px[lane],
                      frame_index,
                      static_cast<uint32_t>(camera),
                      static_cast<FloorTerm>(batch.floor_term[i])};
    }
  }
}

void LaneFold::AddLosses(size_t camera, int32_t frame_index, Scratch& scratch) {
  const Batch& batch = scratch.batch;
  const auto picture = static_cast<size_t>(optics_.scene->cameras[camera].picture);
  for (size_t i = 0; i < static_cast<size_t>(batch.count); ++i) {
    const size_t lane = scratch.picked[i];
    if (set_element_[lane] == kNone) {
      AddFigureLoss(lane, picture, i, scratch);
    } else {
      KeptFrames(lane, camera)
          .push_back({batch.weight[i], batch.floor_px[i], static_cast<float>(batch.height_px[i]), frame_index});
    }
  }
}

void LaneFold::AddFigureLoss(size_t lane, size_t picture, size_t place, Scratch& scratch) {
  Grid octaves, loss;
  FigureOctaves(*traits_[lane].of_class, scratch.batch.log2_height_over_floor[place], octaves);
  FrameLoss(traits_[lane], scratch.batch.weight[place], octaves, loss);
  if (cameras_in_picture_[picture] == 1) {
    sums_[picture * rows_.size() + lane].Add(loss);
    return;
  }
  Eyes& eyes = scratch.eyes[picture];
  if (eyes.seen[lane] == 0) eyes.loss[lane].fill(0);
  eyes.seen[lane] = 1;
  RaiseTo(loss, eyes.loss[lane]);
}

void LaneFold::CloseFrame(int32_t frame_index, const Scratch& scratch) {
  for (size_t picture = 0; picture < scratch.eyes.size(); ++picture) {
    const Eyes& eyes = scratch.eyes[picture];
    for (size_t lane = 0; lane < rows_.size(); ++lane) {
      if (eyes.seen[lane] != 0) sums_[picture * rows_.size() + lane].Add(eyes.loss[lane]);
    }
  }
  for (size_t lane = 0; lane < rows_.size(); ++lane) sight_[lane] |= scratch.sight[lane];
  for (size_t lane = 0; lane < rows_.size(); ++lane) {
    const uint8_t sight = scratch.sight[lane];
    if ((sight & kSeenIt) != 0) {
      GrowSection(lane, frame_index, scratch);
    } else if ((sight & (kHidIt | kWouldHaveSeen)) == kHidIt) {
      ++hot_[lane].hidden_frames;
    }
  }
}

void LaneFold::GrowSection(size_t lane, int32_t frame_index, const Scratch& scratch) {
  Hot& hot = hot_[lane];
  if (hot.last_seen != frame_index - 1 || scratch.beat[lane] != 0) {
    CloseSection(lane);
    hot.section_first = frame_index;
    hot.section_peak = 0;
  }
  hot.section_peak = std::max(hot.section_peak, scratch.height_over_floor[lane]);
  hot.last_seen = frame_index;
}

// Puts the section being grown among the ended ones; nothing where none was begun.
void LaneFold::CloseSection(size_t lane) {
  const int32_t first = optics_.scene->frames.first;
  const Hot& hot = hot_[lane];
  if (hot.last_seen < 0) return;
  sections_[lane].push_back({{first + hot.section_first, first + hot.last_seen}, hot.section_peak, 0});
}

}  // namespace scantling
