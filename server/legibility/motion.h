// How an object moves in the picture: the figures from which holds are chosen (holds.h).
//
// Jump of a hold of n frames whose poses start at frames a (2-model section 5), the camera always at its true frame:
//   |P(a + j)[X(a + j)] - P(a + j)[X(a)]|,  1 <= j <= n, at every seen frame a + j
// so a camera move alone never causes a jump, and n = 1 never jumps. Slip: the same over 1 <= j < n, what feet that
// stand for the whole pose would slip by if the path went on under them. Travel: |P(f)[X(f)] - P(f)[X(f0)]| over seen
// frames f, f0 the first seen one.
// What a container carries is measured against its container (the one it is in, not that one's): X(a) is carried along
// by the container's motion from a to a + j, so that only the container's own path jumps.
//
// X is the centre of the folded box, P the projection to px. A place at or behind the near plane has no jump.
// Poses start anew at beats and after replaced frames: no hold reaches across one, and phases count from it. Frames
// before the first pose of a phase are one shorter hold. a need not be a seen frame.
// Seen through several cameras: the largest of any.
// Figures are kept as squares in single precision: a relative 1e-7, 4e-6 px in 40 px.

#ifndef SCANTLING_SERVER_LEGIBILITY_MOTION_H_
#define SCANTLING_SERVER_LEGIBILITY_MOTION_H_

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "server/policy/types.h"

namespace scantling {

// A jump no larger than this is none. Boxes are kept in single precision, so what rides on a turning container seems to
// move against it by 1e-7 of their distance.
inline constexpr float kNoJumpPx = 1e-3F;

// Largest figures of one hold in one phase, over seen frames.
struct Jump {
  float over_bound = 0;  // of jump / max(floor, W / 168)
  float px = 0;
  float slip_px = 0;
  float slip_over_floor = 0;
};

// Holds above 1 of a style, each in all its phases, flattened: holds in rising order, phases 0..n-1 of each.
// Number of Jumps an object has, and where hold n (in the list, > 1) begins. O(holds).
size_t JumpCount(const Style& style);
size_t FirstJump(const Style& style, int32_t hold);

// By object row.
struct Motion {
  std::vector<uint32_t> first_jump;  // into `jumps`; kNone: its path moves in no seen frame, nothing jumps
  std::vector<Jump> jumps;
  std::vector<float> travel_px;          // largest over seen frames; 0 where it stands
  std::vector<float> travel_over_floor;  // largest ratio
  // 1: the middle of its base lies outside image plus overscan in all seen frames. 0 for what does not move, which has
  // no use for the answer.
  std::vector<uint8_t> feet_unseen;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_MOTION_H_
