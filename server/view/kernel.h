// The vector kernel: everything of a chunk but the boxes that the frustum cuts.

#ifndef SCANTLING_SERVER_VIEW_KERNEL_H_
#define SCANTLING_SERVER_VIEW_KERNEL_H_

#include <array>
#include <cstdint>

#include "server/view/frustum.h"
#include "server/view/view.h"

namespace scantling {

// One frame of one chunk. Every pointer has kChunkLanes readable values, count of them in use.
struct BoxColumns {
  std::array<const double*, 3> centre_m;
  std::array<const float*, 9> axis_m;
  int32_t count = 0;
};

BoxColumns BoxesOf(const PoseChunk& chunk, int32_t frame_index);

// Lanes the kernel would not decide, in ascending order.
struct BorderLanes {
  int32_t count = 0;
  std::array<uint8_t, kChunkLanes> lane;
};

// Writes u and v of every lane, the figures of lanes that lie clear inside, and zeros for all others; lists the lanes
// that lie neither clear inside nor clear outside by more than the float error. Lanes at or beyond boxes.count may be
// written with anything, and are never listed.
void MeasureClearLanes(const BoxColumns& boxes, const Frustum& frustum, const CameraView& view, BorderLanes& border,
                       ViewBlock& out);

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_KERNEL_H_
