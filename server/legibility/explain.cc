// The figures of one object frame by frame, for a person who asks why.
//
// Goes the way of the fold with the same functions and the same float measurements (the whole chunk is measured, since
// a lane's figures must be those of the plan), so the losses listed here add up to the columns to the last bit.

#include <cmath>
#include <memory>

#include "server/legibility/reading.h"
#include "server/legibility/turn.h"

namespace scantling {
namespace {

// One object, looked at through one camera after another.
class Probe {
 public:
  Probe(const ShotOptics& optics, uint32_t object)
      : optics_(optics),
        object_(object),
        lane_(optics.scene->objects.lane[object]),
        class_traits_(TraitsOf(optics.catalogue->classes[optics.scene->objects.class_index[object]])),
        traits_(TraitsOf(optics, object, class_traits_)) {
    const uint32_t chunk = optics.scene->objects.chunk[object];
    if (chunk != kNone) chunk_ = &optics.scene->chunks[chunk];
    if (chunk_ == nullptr) lane_ = 0;
  }

  // Figures of every frame through one camera, in frame order.
  std::vector<FrameFigures> Through(size_t camera);

 private:
  Sighting Look(size_t camera, int32_t frame_index);
  double Travel(size_t camera, int32_t frame_index, const Sighting& now, const Sighting& before) const;
  FrameFigures Figures(size_t camera, int32_t frame_index, const Sighting& sighting, const Reading& reading) const;
  void AddLosses(size_t camera, std::vector<FrameFigures>& frames, const std::vector<Reading>& readings) const;

  const ShotOptics& optics_;
  uint32_t object_;
  size_t lane_;
  const PoseChunk* chunk_ = nullptr;
  ClassTraits class_traits_;
  ObjectTraits traits_;
  std::unique_ptr<ViewBlock> block_ = std::make_unique<ViewBlock>();
};

Sighting Probe::Look(size_t camera, int32_t frame_index) {
  if (chunk_ != nullptr) {
    MeasureChunk(*chunk_, frame_index, optics_.views[optics_.at(camera, frame_index)], *block_);
  } else {
    block_->u_px[lane_] = block_->v_px[lane_] = std::numeric_limits<float>::quiet_NaN();
  }
  if (optics_.scene->objects.measured[object_] != kNone) {
    Overlay(optics_.scene->measured_at(object_, camera, frame_index), lane_, *block_);
  }
  return SightingOf(*block_, lane_, traits_.solidity);
}

double Probe::Travel(size_t camera, int32_t frame_index, const Sighting& now, const Sighting& before) const {
  if (!(optics_.style->shutter_fraction > 0)) return 0;
  return frame_index == 0 ? FirstTravelPx(optics_, chunk_, lane_, camera, now)
                          : TravelPx(now.u_px, now.v_px, before.u_px, before.v_px);
}

FrameFigures Probe::Figures(size_t camera, int32_t frame_index, const Sighting& sighting,
                            const Reading& reading) const {
  const CameraView& view = optics_.views[optics_.at(camera, frame_index)];
  FrameFigures figures;
  figures.frame = optics_.scene->frames.first + frame_index;
  figures.camera = camera;
  figures.seen = IsSeen(sighting, *optics_.style);
  if ((sighting.flags & kInFrame) == 0) return figures;
  figures.height_px = sighting.height_px;
  figures.covered_px = sighting.covered_px;
  figures.depth_m = sighting.depth_m;
  if (class_traits_.real_height_m > 0 && sighting.height_px > 0 && view.projection == Projection::kPerspective) {
    figures.apparent_m = ApparentDistance(class_traits_.real_height_m, view.scale_v, sighting.height_px);
  }
  figures.floor = reading.floor;
  return figures;
}

std::vector<FrameFigures> Probe::Through(size_t camera) {
  std::vector<FrameFigures> frames;
  std::vector<Reading> readings;
  Sighting before;
  for (int32_t frame_index = 0; frame_index < optics_.scene->frames.count(); ++frame_index) {
    const Sighting now = Look(camera, frame_index);
    Reading reading;
    if ((now.flags & kInFrame) != 0) {
      reading =
          Read(CameraFrameOf(optics_, camera, frame_index), traits_, now, Travel(camera, frame_index, now, before));
    }
    frames.push_back(Figures(camera, frame_index, now, reading));
    readings.push_back(reading);
    before = now;
  }
  AddLosses(camera, frames, readings);
  return frames;
}

void Probe::AddLosses(size_t camera, std::vector<FrameFigures>& frames, const std::vector<Reading>& readings) const {
  std::vector<size_t> seen;
  for (size_t i = 0; i < frames.size(); ++i) {
    if (frames[i].seen) seen.push_back(i);
  }
  if (seen.empty()) return;
  const size_t reference = seen[static_cast<size_t>(MiddleOf(static_cast<int32_t>(seen.size())))];
  const TurnGauge gauge(optics_, chunk_, lane_, camera, static_cast<int32_t>(reference));
  for (const size_t i : seen) {
    Grid octaves, loss;
    if (class_traits_.set_element) {
      frames[i].turn_px = gauge.At(static_cast<int32_t>(i), frames[i].height_px);
      SetElementOctaves(class_traits_, readings[i].log2_height_over_floor,
                        std::log2(frames[i].turn_px / readings[i].floor.px), octaves);
    } else {
      FigureOctaves(class_traits_, readings[i].log2_height_over_floor, octaves);
    }
    FrameLoss(traits_, readings[i].weight, octaves, loss);
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      frames[i].octaves[tier] = octaves[kPhiAsGiven * kTierCount + tier];
      frames[i].loss[tier] = loss[kPhiAsGiven * kTierCount + tier];
    }
  }
}

}  // namespace

std::vector<FrameFigures> ExplainFrames(const ShotOptics& optics, uint32_t object) {
  std::vector<FrameFigures> all;
  Probe probe(optics, object);
  for (size_t camera = 0; camera < optics.scene->cameras.size(); ++camera) {
    const std::vector<FrameFigures> through = probe.Through(camera);
    all.insert(all.end(), through.begin(), through.end());
  }
  return all;
}

}  // namespace scantling
