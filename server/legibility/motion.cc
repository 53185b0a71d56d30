// Where the jumps of one hold lie in an object's list.
//
// The list of a style is short (at most kLongestHold holds), and holds of 1 never jump, so they have no place in it.
// The others follow one another in rising order with as many entries as they have phases:
//
//   holds 1, 2, 4:   2/0 2/1 4/0 4/1 4/2 4/3      (hold/phase)
//
// An object has all of them or none: none where its path stands still wherever it is seen.

#include "server/legibility/motion.h"

namespace scantling {

size_t JumpCount(const Style& style) { return FirstJump(style, kLongestHold + 1); }

size_t FirstJump(const Style& style, int32_t hold) {
  size_t first = 0;
  for (const int32_t shorter : style.holds) {
    if (shorter > 1 && shorter < hold) first += static_cast<size_t>(shorter);
  }
  return first;
}

}  // namespace scantling
