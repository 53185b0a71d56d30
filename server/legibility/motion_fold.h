// Gathers jumps and travel of the objects of one chunk, frame by frame; part of the fold (lane_fold.h).

#ifndef SCANTLING_SERVER_LEGIBILITY_MOTION_FOLD_H_
#define SCANTLING_SERVER_LEGIBILITY_MOTION_FOLD_H_

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "server/legibility/legibility.h"

namespace scantling {

class MotionFold {
 public:
  // Lane i is object rows[i]; `chunk` is null for objects without geometry, which have no path.
  MotionFold(const ShotOptics& optics, std::span<const uint32_t> rows, const PoseChunk* chunk);

  // Once per frame and camera, frames in order: the lanes seen there and then, and the floor of each.
  void Add(size_t camera, int32_t frame_index, std::span<const uint16_t> lanes, std::span<const double> floor_px);

  // Once per lane. Writes travel and feet into columns.motion, and returns the jumps: none where nothing jumps.
  std::vector<Jump> Finish(size_t lane, Legibility& columns);
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_MOTION_FOLD_H_
