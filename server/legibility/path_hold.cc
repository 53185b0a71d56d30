// Whether a path can be held with the poses, and if not, how long by itself.
//
// A longer hold need not jump farther: what swings to and fro may be back where it was. So the hold of the poses is
// asked about by itself, and only where its jump is too large is the path held by itself, on the longest shorter hold
// that is not.
//
// Where the path is on ones nothing jumps in any phase; the phase is then that of the poses, and only feet mind it.

#include "server/legibility/path_hold.h"

#include <algorithm>

namespace scantling {
namespace {

constexpr float kNearlyLeast = 1.1F;

Phases Every(int32_t hold) { return static_cast<Phases>((1u << hold) - 1); }

// First phase of least value.
template <typename Value>
int32_t Least(int32_t hold, const Value& value) {
  int32_t least = 0;
  for (int32_t phase = 1; phase < hold; ++phase) {
    if (value(phase) < value(least)) least = phase;
  }
  return least;
}

template <typename Predicate>
Phases Where(int32_t hold, const Predicate& predicate) {
  Phases phases = 0;
  for (int32_t phase = 0; phase < hold; ++phase) {
    if (predicate(phase)) phases = static_cast<Phases>(phases | 1u << phase);
  }
  return phases;
}

}  // namespace

Jump UnitJumps::At(int32_t hold, int32_t phase) const {
  if (hold <= 1 || jumps_.empty()) return {};
  return jumps_[FirstJump(style_, hold) + static_cast<size_t>(phase)];
}

int32_t UnitJumps::LeastJumpPhase(int32_t hold) const {
  return Least(hold, [&](int32_t phase) { return At(hold, phase).over_bound; });
}

int32_t UnitJumps::LeastSlipPhase(int32_t hold) const {
  return Least(hold, [&](int32_t phase) { return At(hold, phase).slip_over_floor; });
}

Phases UnitJumps::JumpPhases(int32_t hold) const {
  if (hold <= 1 || jumps_.empty()) return Every(hold);
  const float allowed = std::max(1.0F, kNearlyLeast * At(hold, LeastJumpPhase(hold)).over_bound);
  const float bound = IsWithinBound(hold) ? 1.0F : allowed;
  return Where(hold, [&](int32_t phase) { return At(hold, phase).over_bound <= bound; });
}

Phases UnitJumps::SlipPhases(int32_t hold) const {
  return Where(hold, [&](int32_t phase) { return At(hold, phase).slip_over_floor <= 1; });
}

PathHold ChoosePathHold(const Style& style, const UnitJumps& jumps, int32_t pose_hold, int32_t greatest) {
  PathHold chosen;
  chosen.with_poses = jumps.IsWithinBound(pose_hold);
  for (const int32_t hold : style.holds) {
    const bool allowed = chosen.with_poses ? hold == pose_hold || hold <= greatest : hold < pose_hold;
    if (allowed && jumps.IsWithinBound(hold)) chosen.path = hold;
  }
  const Phases steady = jumps.SlipPhases(pose_hold);
  chosen.would_slip = !chosen.with_poses && steady == 0;
  if (!chosen.with_poses && chosen.path > 1) {
    chosen.phased = chosen.path;
    chosen.phases = jumps.JumpPhases(chosen.path);
    chosen.best = jumps.LeastJumpPhase(chosen.path);
    return chosen;
  }
  chosen.phased = pose_hold;
  if (chosen.with_poses || chosen.would_slip) {
    chosen.phases = jumps.JumpPhases(pose_hold);
    chosen.best = jumps.LeastJumpPhase(pose_hold);
  } else {
    chosen.phases = steady;
    chosen.best = jumps.LeastSlipPhase(pose_hold);
  }
  return chosen;
}

}  // namespace scantling
