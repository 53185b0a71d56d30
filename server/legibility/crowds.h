// Where a crowd stands in the picture: what its members cover of each cell, and which twins stand closest.
//
// Cover is folded along with everything else (planning/measure.cc), since what hides what is known only there. Twins
// are looked for when a plan is made, among the members it keeps.

#ifndef SCANTLING_SERVER_LEGIBILITY_CROWDS_H_
#define SCANTLING_SERVER_LEGIBILITY_CROWDS_H_

#include <cstdint>
#include <map>
#include <span>
#include <utility>
#include <vector>

#include "server/legibility/legibility.h"
#include "server/units/stop.h"

namespace scantling {

// Folds what the objects of one chunk cover of the cells of their crowds. Call Add once per frame with one ViewBlock
// per camera, hiding taken in; then Finish once. Thread-safe across folds.
class CellFold {
 public:
  CellFold(const ShotOptics& optics, const PoseChunk& chunk);

  bool empty() const {
    return members_.empty();
  }  // no lane is in a crowd with cells: Add and Finish have nothing to do
  void Add(int32_t frame_index, std::span<const ViewBlock> blocks);

  struct Found {
    uint32_t crowd = 0;
    CellCover cover;
  };
  std::vector<Found> Finish() const;  // by lane, crowd, cell

 private:
  struct Member {
    size_t lane = 0;
    uint32_t crowd = 0, member = 0;
    std::map<int32_t, double> px;  // by cell
  };
  void AddTo(Member& member, size_t camera, int32_t frame_index, const ViewBlock& block) const;

  const ShotOptics& optics_;
  const PoseChunk& chunk_;
  std::vector<Member> members_;
};

// The two objects of one asset whose centres come nearest in any frame and picture in which both are seen.
struct Twins {
  uint32_t a = kNone, b = kNone;  // rows, a before b by id; kNone: no two of one asset are seen together
  double px = 0;                  // delivered px
  int32_t frame = 0;              // the first in which they come so near
};

// Of `rows`, each once. Objects without geometry have no place and are passed over; so is a centre behind the eye.
// Ties: the earliest frame, then the first camera, then the least ids. Empty where `stop` was requested. O(frames *
// cameras * n log n), n objects that are seen.
Twins NearestTwins(const ShotOptics& optics, const Legibility& legibility, std::span<const uint32_t> rows,
                   const Stop& stop);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_CROWDS_H_
