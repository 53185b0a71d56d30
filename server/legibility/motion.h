// How an object moves in the picture: whether it is still, how long a pose may stay, how long its place on the path
// may.
//
// Still (2-model section 5): travel along the path and articulation both under the floor over all seen frames.
//   travel = max over seen f of |P(f)[X(f)] - P(f)[X(f0)]|, f0 the first seen frame; articulation psi * h
// Pose hold: a movement of amplitude psi h at nu cycles a second must keep m poses a cycle to read,
//   m = clamp(2 + log2(psi h / floor), 2, 6), so n <= fps / (nu m); amplitude under the floor sets no bound.
// Path hold: the largest n in the style's list for which the jump |P(f+j)[X(f+j)] - P(f+j)[X(f)]|, 1 <= j <= n, n > 1,
//   stays within max(floor, W/168) px at every seen frame, in the best phase; n = 1 never jumps. A camera move alone
//   never causes a jump: P is the camera of the later frame on both sides.
//   W/168: the "seven-second" panning rule of thumb at 24 frames a second (rule of thumb, no primary source).
// What a container carries is measured against its container: it is taken along, so that only the container's own path
// can jump for it.
//
// Positions are centres of folded boxes.

#ifndef SCANTLING_SERVER_LEGIBILITY_MOTION_H_
#define SCANTLING_SERVER_LEGIBILITY_MOTION_H_

#include <array>
#include <cstdint>
#include <vector>

#include "server/legibility/legibility.h"

namespace scantling {

inline constexpr int kLongestHold = 12;

// Columns by object row; part of the fold (see ChunkFold), read by costing/.
struct Motion {
  std::vector<float> travel_over_floor;        // largest ratio over seen frames; 0: stands
  std::vector<float> articulation_over_floor;  // psi h / floor at its largest
  std::vector<float> poses_per_cycle;          // m; 0 where amplitude is under the floor (no bound)
  std::vector<uint8_t> still;                  // 1: needs no animation whatever its tier
  std::vector<uint8_t> pose_hold;              // by the formula and the class's and style's bounds, of the style's list
  std::vector<uint8_t> path_hold;              // largest of the style's list whose jump stays within bounds
  std::vector<uint8_t> phase;  // frames after the first frame of the shot at which path_hold's poses start, modulo it
  std::vector<float> path_jump_px;  // largest jump at path_hold in that phase
  std::vector<float> pose_jump_px;  // largest jump if the path were held as long as the pose: the contact slip
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_MOTION_H_
