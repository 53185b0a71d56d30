// Where a crowd stands in the picture: what its members cover of each cell, and which twins stand closest.
//
// Both read the frames anew for the members of a crowd alone; nothing of it is kept by the main fold.

#ifndef SCANTLING_SERVER_LEGIBILITY_CROWDS_H_
#define SCANTLING_SERVER_LEGIBILITY_CROWDS_H_

#include <cstdint>
#include <span>
#include <vector>

#include "server/legibility/legibility.h"
#include "server/units/stop.h"

namespace scantling {

// What one member covers of one cell: covered and visible px, solidity taken in, summed over the frames in which it is
// seen and over all cameras; a member counts wholly in the cell its centre stands in (the nearest cell where the centre
// is outside the picture or unknown: measured figures without geometry count in no cell).
struct CellCover {
  uint32_t member = 0;  // index into Crowd::members
  int32_t cell = 0;     // row * columns + column, from the top left
  double px = 0;        // > 0
};

// By member, then cell. Empty where the crowd has no cells. The same bytes in any run. Incomplete where `stop` was
// requested. O(frames * cameras * (chunks the members are in + a depth map)).
std::vector<CellCover> CoverByCell(const ShotOptics& optics, const Crowd& crowd, const Stop& stop);

// The two objects of one asset whose centres come nearest in any frame and picture in which both are seen.
struct Twins {
  uint32_t a = kNone, b = kNone;  // rows, a < b by id; kNone: no two of one asset are seen together
  double px = 0;
  int32_t frame = 0;  // the first in which they come so near
};

// Of `rows` (rising). Ties: the earliest frame, then the least ids. O(frames * cameras * (chunks + n log n)).
Twins NearestTwins(const ShotOptics& optics, std::span<const uint32_t> rows, const Stop& stop);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_CROWDS_H_
