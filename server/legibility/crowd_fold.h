// What members of crowds cover of the cells of the picture, and through which cameras they are seen.
//
// Private to legibility/: LaneFold hands over the lanes it picked as seen, with their covered px, so that what is seen
// here is what is seen there.

#ifndef SCANTLING_SERVER_LEGIBILITY_CROWD_FOLD_H_
#define SCANTLING_SERVER_LEGIBILITY_CROWD_FOLD_H_

#include <cstdint>
#include <memory>
#include <span>
#include <utility>
#include <vector>

#include "server/legibility/legibility.h"
#include "server/view/view.h"

namespace scantling {

class CrowdFold {
 public:
  // Lane i is object rows[i]; at most kChunkLanes. O(lanes * log members).
  CrowdFold(const ShotOptics& optics, std::span<const uint32_t> rows);

  // No lane is in a crowd: there is nothing to add.
  bool empty() const { return lanes_.empty(); }

  struct At {
    size_t camera = 0;
    int32_t frame_index = 0;
  };
  // Once per frame and camera in which a lane is seen, frames in order. `covered_px` goes with `picked`.
  void Add(const At& at, const ViewBlock& block, std::span<const uint16_t> picked, std::span<const double> covered_px);

  // Once a lane.
  std::unique_ptr<CrowdFindings> Finish(size_t lane) const;

 private:
  // One crowd with cells that the lane's object is a member of. A member crosses few cells: those it was in, and where
  // in the list it was last.
  struct Member {
    uint32_t crowd = 0, member = 0;
    std::vector<std::pair<int32_t, double>> px;  // cell, sum
    size_t last = 0;
  };
  struct Lane {
    bool seen = false;
    std::vector<Member> members;
    std::vector<FrameSpans> through;  // [camera], with several cameras
  };
  static void AddTo(int32_t cell, double px, Member& member);

  const ShotOptics& optics_;
  std::vector<uint32_t> place_;  // [lane], into lanes_; kNone: in no crowd
  std::vector<Lane> lanes_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_CROWD_FOLD_H_
