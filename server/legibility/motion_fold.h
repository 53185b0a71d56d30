// Gathers jumps and travel of the objects of one chunk, frame by frame; part of the fold (lane_fold.h).
//
// Poses of all frames lie in the scene, so nothing is kept of a frame but sums. Only lanes that move against what
// carries them are looked at: others cost nothing after construction.
// Memory: 16 bytes for every jump of every moving lane (style lists of 1, 2, 3, 4 have 9 jumps), and some 60 more.

#ifndef SCANTLING_SERVER_LEGIBILITY_MOTION_FOLD_H_
#define SCANTLING_SERVER_LEGIBILITY_MOTION_FOLD_H_

#include <cstddef>
#include <cstdint>
#include <span>
#include <utility>
#include <vector>

#include "server/legibility/carried.h"
#include "server/legibility/legibility.h"

namespace scantling {

class MotionFold {
 public:
  // Lane i is object rows[i]; `chunk` is null for objects without geometry, which have no path. `optics` and `chunk`
  // must outlive it.
  MotionFold(const ShotOptics& optics, std::span<const uint32_t> rows, const PoseChunk* chunk);

  // Once per frame and camera, frames in order: the lanes seen there and then, and the floor of each (> 0).
  // O(moving lanes + seen moving lanes * jumps).
  void Add(size_t camera, int32_t frame_index, std::span<const uint16_t> lanes, std::span<const double> floor_px);

  // Once per lane. Writes travel and feet into columns.motion, and returns the jumps: none where nothing jumps.
  std::vector<Jump> Finish(size_t lane, Legibility& columns);

 private:
  // Moving lanes that are carried by the same thing and start their poses anew at the same frames: slots [first, end).
  struct Group {
    Carrier carrier;
    const FrameSpans* replaced = nullptr;
    const std::vector<int32_t>* beats = nullptr;
    size_t first = 0, end = 0;
  };
  // What is known of one moving lane but its jumps. Ratios and px are squares.
  struct Path {
    Vec3 first_place = {};  // in the carrier's coordinates, at the first seen frame
    float travel = 0, travel_over_floor = 0;
    bool seen = false, feet_seen = false;
  };
  // Which jump is raised by the place held since j frames; `steps`: the pose changes there, so that feet do not slip.
  struct Raise {
    uint16_t jump = 0;
    uint8_t frames_held = 0;
    bool steps = false;
  };
  struct Strip;

  void MakeGroups(std::span<const uint32_t> rows, const std::vector<uint8_t>& moves);
  void PlanRaises(int32_t frames_since_start);
  void AddStrip(const Group& group, const CarriedEye& eye, int32_t frame_index, Strip& strip);
  void AddTravel(const Group& group, int32_t frame_index, const CarriedEye& eye, Strip& strip);
  void AddJumps(const Group& group, int32_t frame_index, const CarriedEye& eye, Strip& strip);
  void LookAtFeet(int32_t frame_index, const CameraView& view, const Strip& strip);

  const ShotOptics& optics_;
  const PoseChunk* chunk_;
  std::vector<uint32_t> slot_of_lane_;  // kNone: stands still; empty where all do
  std::vector<uint16_t> lane_of_slot_;
  std::vector<uint32_t> rows_;
  std::vector<Group> groups_;
  std::vector<Path> paths_;  // [slot]
  std::vector<Jump> jumps_;  // [slot * JumpCount + jump], squares
  size_t jump_count_ = 0;
  int32_t planned_for_ = -1;  // frames since the poses began that raises_ is for
  std::vector<Raise> raises_;
};

// Frame index at which the poses that are up at `frame_index` began: the shot's first, the last beat up to then, or the
// frame after the last replaced one. O(log beats + replaced spans).
int32_t PosesBeganAt(const Scene& scene, const FrameSpans& replaced, const std::vector<int32_t>& beats,
                     int32_t frame_index);

// Step of the object's path at one frame through one camera, in px, with the path on `hold` in `phase`: what it jumps
// by when its place changes there. 0 within a hold, on ones, and where either place is at or behind the near plane. For
// an explanation; the frame should be a seen one. O(frames) at worst, to find whether its container moves.
double PathStepPx(const ShotOptics& optics, uint32_t object, size_t camera, int32_t frame_index,
                  std::pair<int32_t, int32_t> hold_and_phase);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_MOTION_FOLD_H_
