// Phases of a crowd: neighbours change pose on different frames.
//
// Private to legibility/.

#ifndef SCANTLING_SERVER_LEGIBILITY_STAGGER_H_
#define SCANTLING_SERVER_LEGIBILITY_STAGGER_H_

#include <cstdint>
#include <span>
#include <vector>

#include "server/legibility/path_hold.h"

namespace scantling {

struct Neighbour {
  int32_t hold = 1;   // the same for all of a crowd
  Phases phases = 1;  // it may be in; never none
  int32_t best = 0;   // one of them
};

// A phase for each, from left to right. Of all ways the one in which fewest neighbours are in one phase; of those the
// first takes its best, and each next the phase that comes after its left neighbour's. Deterministic. O(crowd *
// hold^2).
std::vector<int32_t> Stagger(std::span<const Neighbour> crowd);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_STAGGER_H_
