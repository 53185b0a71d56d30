// The figures of one object frame by frame, for a person who asks why.
//
// Goes the way of the fold with the same functions and the same float measurements (the whole chunk is measured, since
// a lane's figures must be those of the plan), reading batches of one; so the losses listed here add up to the columns
// to the last bit.

#include <memory>
#include <utility>

#include "server/legibility/motion_fold.h"
#include "server/legibility/reading.h"
#include "server/legibility/turn.h"

namespace scantling {
namespace {

// One object, looked at through one camera after another.
class Probe {
 public:
  Probe(const ShotOptics& optics, uint32_t object, std::pair<int32_t, int32_t> hold_and_phase)
      : optics_(optics),
        object_(object),
        hold_and_phase_(hold_and_phase),
        class_traits_(TraitsOf(optics.catalogue->classes[optics.scene->objects.class_index[object]])),
        traits_(TraitsOf(optics, object, class_traits_)) {
    const uint32_t chunk = optics.scene->objects.chunk[object];
    if (chunk == kNone) return;
    chunk_ = &optics.scene->chunks[chunk];
    lane_ = optics.scene->objects.lane[object];
  }

  // Figures of every frame through one camera, in frame order.
  std::vector<FrameFigures> Through(size_t camera);

 private:
  // What the losses are made of, once the turn is known.
  struct Part {
    double log2_height_over_floor = 0, weight = 0;
  };
  void Look(size_t camera, int32_t frame_index);
  void Hide(size_t camera, int32_t frame_index);
  void FillBatch(size_t camera, int32_t frame_index, double last_u_px, double last_v_px);
  FrameFigures Figures(size_t camera, int32_t frame_index) const;
  void AddLosses(size_t camera, const std::vector<Part>& parts, std::vector<FrameFigures>& frames) const;

  const ShotOptics& optics_;
  uint32_t object_;
  std::pair<int32_t, int32_t> hold_and_phase_;  // of the path
  size_t lane_ = 0;
  const PoseChunk* chunk_ = nullptr;
  ClassTraits class_traits_;
  ObjectTraits traits_;
  std::unique_ptr<ViewBlock> block_ = std::make_unique<ViewBlock>();
  std::unique_ptr<Batch> batch_ = std::make_unique<Batch>();
};

void Probe::Look(size_t camera, int32_t frame_index) {
  if (chunk_ != nullptr) {
    MeasureChunk(*chunk_, frame_index, optics_.views[optics_.at(camera, frame_index)], *block_);
    Hide(camera, frame_index);
  } else {
    block_->u_px[lane_] = block_->v_px[lane_] = std::numeric_limits<float>::quiet_NaN();
  }
  if (optics_.scene->objects.measured[object_] != kNone) {
    Overlay(optics_.scene->measured_at(object_, camera, frame_index), lane_, *block_);
  }
}

// As planning does: where a drawing stands for the whole picture nothing is asked of what hides what.
void Probe::Hide(size_t camera, int32_t frame_index) {
  const Scene& scene = *optics_.scene;
  if (optics_.occluders.empty() || scene.objects.measured[object_] != kNone ||
      Contains(scene.replaced, scene.frames.first + frame_index))
    return;
  const DepthMap map(scene, optics_.occluders, camera, frame_index, optics_.hiding);
  if (!map.empty()) map.FindVisible(*chunk_, frame_index, optics_.views[optics_.at(camera, frame_index)], *block_);
}

void Probe::FillBatch(size_t camera, int32_t frame_index, double last_u_px, double last_v_px) {
  const double u_px = block_->u_px[lane_], v_px = block_->v_px[lane_];
  batch_->count = 1;
  batch_->height_px[0] = block_->height_px[lane_];
  batch_->covered_px[0] = block_->covered_px[lane_] * VisibleShare(*block_, lane_, traits_.solidity);
  batch_->depth_m[0] = block_->near_m[lane_];
  batch_->real_height_m[0] = class_traits_.real_height_m;
  batch_->importance[0] = traits_.importance;
  batch_->interest_px[0] = InterestPx(optics_.interest[optics_.at(camera, frame_index)], u_px, v_px);
  batch_->travel_px[0] = 0;
  if (optics_.style->shutter_fraction > 0) {
    batch_->travel_px[0] = frame_index == 0 ? FirstTravelPx(optics_, chunk_, lane_, camera, u_px, v_px)
                                            : TravelPx(u_px, v_px, last_u_px, last_v_px);
  }
}

FrameFigures Probe::Figures(size_t camera, int32_t frame_index) const {
  const CameraView& view = optics_.views[optics_.at(camera, frame_index)];
  FrameFigures figures;
  figures.replaced = Contains(optics_.scene->replaced_of(object_), optics_.scene->frames.first + frame_index);
  figures.visible = block_->visible[lane_];
  figures.seen = !figures.replaced && IsLargeEnough(*block_, lane_, VisibleShare(*block_, lane_, traits_.solidity),
                                                    optics_.style->smallest_covered_px);
  figures.height_px = batch_->height_px[0];
  figures.covered_px = batch_->covered_px[0];
  figures.depth_m = batch_->depth_m[0];
  if (class_traits_.real_height_m > 0 && figures.height_px > 0 && view.projection == Projection::kPerspective) {
    figures.apparent_m = ApparentDistance(class_traits_.real_height_m, view.scale_v, figures.height_px);
  }
  if (figures.seen && chunk_ != nullptr) {
    figures.jump_px = PathStepPx(optics_, object_, camera, frame_index, hold_and_phase_);
  }
  figures.floor = FloorIn(optics_, camera, frame_index, *batch_, 0);
  return figures;
}

std::vector<FrameFigures> Probe::Through(size_t camera) {
  std::vector<FrameFigures> frames;
  std::vector<Part> parts;
  double last_u_px = 0, last_v_px = 0;
  for (int32_t frame_index = 0; frame_index < optics_.scene->frames.count(); ++frame_index) {
    Look(camera, frame_index);
    FrameFigures figures;
    Part part;
    if ((block_->flags[lane_] & kInFrame) != 0) {
      FillBatch(camera, frame_index, last_u_px, last_v_px);
      ReadBatch(optics_, camera, frame_index, *batch_);
      figures = Figures(camera, frame_index);
      part = {batch_->log2_height_over_floor[0], batch_->weight[0]};
    }
    figures.frame = optics_.scene->frames.first + frame_index;
    figures.camera = camera;
    frames.push_back(figures);
    parts.push_back(part);
    last_u_px = block_->u_px[lane_];
    last_v_px = block_->v_px[lane_];
  }
  AddLosses(camera, parts, frames);
  return frames;
}

void Probe::AddLosses(size_t camera, const std::vector<Part>& parts, std::vector<FrameFigures>& frames) const {
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
      SetElementOctaves(class_traits_, parts[i].log2_height_over_floor, frames[i].turn_px / frames[i].floor.px,
                        octaves);
    } else {
      FigureOctaves(class_traits_, parts[i].log2_height_over_floor, octaves);
    }
    FrameLoss(traits_, parts[i].weight, octaves, loss);
    for (Tier tier : kGridTiers) {
      frames[i].octaves[static_cast<size_t>(Index(tier))] = octaves[GridAt(tier, kPhiAsGiven)];
      frames[i].loss[static_cast<size_t>(Index(tier))] = loss[GridAt(tier, kPhiAsGiven)];
    }
  }
}

}  // namespace

std::vector<FrameFigures> ExplainFrames(const ShotOptics& optics, uint32_t object, int32_t hold, int32_t phase) {
  std::vector<FrameFigures> all;
  Probe probe(optics, object, {hold, phase});
  for (size_t camera = 0; camera < optics.scene->cameras.size(); ++camera) {
    const std::vector<FrameFigures> through = probe.Through(camera);
    all.insert(all.end(), through.begin(), through.end());
  }
  return all;
}

}  // namespace scantling
