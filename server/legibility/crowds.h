// Which twins of a crowd stand closest in the picture.
//
// What a crowd covers of each cell is folded along with everything else (Legibility::cell_cover), since what hides what
// is known only there. Twins are looked for when a plan is made, among the members it keeps.

#ifndef SCANTLING_SERVER_LEGIBILITY_CROWDS_H_
#define SCANTLING_SERVER_LEGIBILITY_CROWDS_H_

#include <cstdint>
#include <span>

#include "server/legibility/legibility.h"
#include "server/units/stop.h"

namespace scantling {

// The two objects of one asset whose centres come nearest in any frame and picture in which both are seen.
struct Twins {
  uint32_t a = kNone, b = kNone;  // rows, a before b by id; kNone: no two of one asset are seen together
  double px = 0;                  // delivered px
  int32_t frame = 0;              // the first in which they come so near
};

// Of `rows`, each once, members of crowds (with one camera any objects will do). What names no asset has no twin;
// objects without geometry have no place and are passed over; so is a centre behind the eye, in that frame.
// Ties: the earliest frame, then the first camera, then the least ids. Empty where `stop` was requested, which is
// looked at every few thousand objects. O(frames * cameras * n log n), n objects that are seen.
Twins NearestTwins(const ShotOptics& optics, const Legibility& legibility, std::span<const uint32_t> rows,
                   const Stop& stop);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_CROWDS_H_
