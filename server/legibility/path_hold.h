// The hold of a path, and the phases it may be held in.
//
// Private to legibility/.

#ifndef SCANTLING_SERVER_LEGIBILITY_PATH_HOLD_H_
#define SCANTLING_SERVER_LEGIBILITY_PATH_HOLD_H_

#include <cstdint>
#include <span>

#include "server/legibility/motion.h"
#include "server/policy/types.h"

namespace scantling {

using Phases = uint16_t;  // bit p: phase p, kLongestHold at most

// Jumps of one object or, jump by jump the largest, of all that share a hold. Slips of those only whose feet are seen
// and walk: what has none does not slip.
class UnitJumps {
 public:
  // `jumps` must outlive it; empty: nothing jumps.
  UnitJumps(const Style& style, std::span<const Jump> jumps) : style_(style), jumps_(jumps) {}

  Jump At(int32_t hold, int32_t phase) const;  // all 0 on ones
  int32_t LeastJumpPhase(int32_t hold) const;  // the first of equals
  int32_t LeastSlipPhase(int32_t hold) const;
  bool IsWithinBound(int32_t hold) const { return At(hold, LeastJumpPhase(hold)).over_bound <= 1; }
  // Phases within the bound; where none is, those whose jump is the least or within a tenth of it.
  Phases JumpPhases(int32_t hold) const;
  Phases SlipPhases(int32_t hold) const;  // in which feet slip by no more than the floor

 private:
  const Style& style_;
  std::span<const Jump> jumps_;
};

struct PathHold {
  bool with_poses = true;   // the path is held as long as the poses are
  bool would_slip = false;  // not with_poses, and feet that are seen would slip in every phase
  int32_t path = 1;         // longest hold within the bound, up to the greatest allowed
  int32_t phased = 1;       // the hold whose phase is chosen: of the poses, or of the path where split and above 1
  Phases phases = 1;        // that it may be in
  int32_t best = 0;         // the best of them
};

// 1 <= pose_hold in the list; `greatest`: no path is held longer. O(sum of holds).
PathHold ChoosePathHold(const Style& style, const UnitJumps& jumps, int32_t pose_hold, int32_t greatest);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_PATH_HOLD_H_
