// Idea: binary exponential growth, with half of each pause left to chance.
//
//   bound   first, 2 first, 4 first, ... longest
//   pause   bound / 2 <= pause <= bound
//
// Common practice, no source.

#include "client/library/live_pause.h"

#include <algorithm>

namespace scantling::client {

GrowingPause::GrowingPause(Milliseconds first, Milliseconds longest, uint32_t seed)
    : first_(first), longest_(longest), bound_(first), random_(seed) {}

GrowingPause::Milliseconds GrowingPause::Next() {
  const int64_t bound = bound_.count();
  bound_ = std::min(bound_ * 2, longest_);
  return Milliseconds(std::uniform_int_distribution<int64_t>(bound / 2, bound)(random_));
}

}  // namespace scantling::client
