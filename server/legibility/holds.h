// On which hold everything is: how long a pose may stay, how long a place on the path, and in which phase.
//
// Still: travel and articulation (psi h, none at rest for classes that move only as they travel) stay under the floor
//   at every seen frame; and it is not seen indirectly while it moves. Needs no animation whatever its tier.
// Pose hold: a movement of amplitude psi h at nu cycles a second must keep m poses a cycle to read,
//   m = clamp(2 + log2(psi h / floor), 2, 6), so n <= fps / (nu m), 24000/1001 counting as 24; amplitude under the
//   floor sets no bound. The longest hold of the style's list within the bounds of the class; where none is short
//   enough, the shortest allowed. What is only seen indirectly has no size in the picture and counts as near: m = 6.
// Path hold: the longest of the list whose jump stays within max(floor, W / 168) px at every seen frame in its best
//   phase. W / 168: the "seven-second" panning rule of thumb at 24 frames a second (rule of thumb, no primary source).
// Where the path hold is as long as the pose hold or longer, the path goes with the poses. Where it is shorter the two
//   are split for rigid things, and for what walks only where its feet are unseen or would slip by no more than the
//   floor; otherwise the answer says that it would slip, and the animator must choose.
// Shared: objects of one hold group, and where asked what one container holds, take the shortest pose hold, the
//   shortest path hold and one phase (least of the group's largest jumps). What is still has no say.
// Staggered: among phases within the bound (where none is, among those whose jump is the least or within a tenth of it)
//   neighbours in a crowd (figures of one class and hold, left to right at their largest frames) take different ones in
//   turn, so that they do not change pose on one frame. Beats of their own are not looked at there.
//
// All deterministic, in canonical order where order matters. O(objects log objects).

#ifndef SCANTLING_SERVER_LEGIBILITY_HOLDS_H_
#define SCANTLING_SERVER_LEGIBILITY_HOLDS_H_

#include <cstdint>
#include <vector>

#include "server/legibility/legibility.h"
#include "server/legibility/motion.h"
#include "server/policy/types.h"

namespace scantling {

enum class PathSplit : uint8_t { kWithPoses, kSplit, kWouldSlip };

struct HoldOptions {
  bool share_in_containers = false;
};

// Columns by object row; `section` runs along Legibility::sections.
struct Holds {
  std::vector<uint8_t> still;
  std::vector<float> poses_per_cycle;  // m; 0: no bound
  std::vector<uint8_t> pose;           // frames a pose stays, >= 1
  std::vector<uint8_t> path;           // frames a place on the path may stay, >= 1; may be more than pose
  std::vector<uint8_t> phase;          // of the pose hold: 0..pose-1 (of the path hold where that is shorter, above 1)
  std::vector<PathSplit> split;
  std::vector<float> path_jump_px;     // largest at the path hold in its phase
  std::vector<float> contact_slip_px;  // largest with poses on the pose hold and the path on ones
  std::vector<uint8_t> section;        // pose hold of each section by itself
};

// The formula of the pose hold alone. `height_over_floor` >= 0, fps > 0. O(holds).
int32_t PoseHold(const ObjectClass& object_class, const Style& style, double height_over_floor,
                 double frames_per_second);
// m of the formula; 0 where the movement sets no bound.
double PosesPerCycle(const ObjectClass& object_class, double height_over_floor);

Holds AssignHolds(const ShotOptics& optics, const Legibility& legibility, const HoldOptions& options);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_HOLDS_H_
