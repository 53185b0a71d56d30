// Colouring a path from lists, by dynamic programming from the right: clashes to come, for every phase of everyone.
//
// Going left to right and taking any phase but the neighbour's would not do: one that can be in a single phase only
// must be made room for by its neighbour on the left. Clashes from everyone to the right end are counted first (what
// stands at [i][p] is the fewest pairs in one phase among i and all to its right, with i in p), then phases are dealt
// out from the left, each in turn among those that lead to the fewest.

#include "server/legibility/stagger.h"

#include <algorithm>
#include <array>

namespace scantling {
namespace {

using Clashes = std::array<uint32_t, kLongestHold>;
constexpr uint32_t kNotAllowed = 0x40000000;  // more than there are objects, and twice it fits

bool Has(Phases phases, int32_t phase) { return (phases >> phase & 1u) != 0; }

std::vector<Clashes> ClashesToCome(std::span<const Neighbour> crowd) {
  std::vector<Clashes> to_come(crowd.size());
  for (size_t i = crowd.size(); i-- > 0;) {
    for (int32_t phase = 0; phase < crowd[i].hold; ++phase) {
      uint32_t fewest = i + 1 < crowd.size() ? kNotAllowed : 0;
      for (int32_t next = 0; i + 1 < crowd.size() && next < crowd[i].hold; ++next) {
        fewest = std::min(fewest, to_come[i + 1][static_cast<size_t>(next)] + (next == phase ? 1 : 0));
      }
      to_come[i][static_cast<size_t>(phase)] = Has(crowd[i].phases, phase) ? fewest : kNotAllowed;
    }
  }
  return to_come;
}

}  // namespace

std::vector<int32_t> Stagger(std::span<const Neighbour> crowd) {
  const std::vector<Clashes> to_come = ClashesToCome(crowd);
  std::vector<int32_t> phases;
  phases.reserve(crowd.size());
  for (size_t i = 0; i < crowd.size(); ++i) {
    const int32_t hold = crowd[i].hold;
    const int32_t left = i == 0 ? -1 : phases.back();
    int32_t chosen = -1;
    uint32_t fewest = kNotAllowed;
    // The first is asked about its best first, any other about what comes after its left neighbour's.
    const int32_t from = i == 0 ? crowd[i].best : left + 1;
    for (int32_t turn = 0; turn < hold; ++turn) {
      const int32_t phase = (from + turn) % hold;
      const uint32_t clashes = to_come[i][static_cast<size_t>(phase)] + (phase == left ? 1 : 0);
      if (clashes >= fewest) continue;
      fewest = clashes;
      chosen = phase;
    }
    phases.push_back(chosen);
  }
  return phases;
}

}  // namespace scantling
