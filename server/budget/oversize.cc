// One number on each side of every capacity.
//
// An option that stayed costs at most the capacity of every resource; one that went costs more than the capacity of the
// resource it went for. As long as each capacity stays between the largest that stayed and the least that went for it,
// the same options go. (Two options may go for different resources; the first is the one remembered, so a capacity that
// grows may be told wrong where another would still rule the option out. That only costs a fresh start.)

#include "server/budget/oversize.h"

#include <algorithm>

namespace scantling::budget {

bool Oversize::TooMuch(const Capacities& capacity, const int64_t* cost, int resources) {
  for (int k = 0; k < resources; ++k) {
    if (!capacity[k] || cost[k] <= *capacity[k]) continue;
    least_[k] = std::min(least_[k], cost[k]);
    return true;
  }
  for (int k = 0; k < resources; ++k) largest_[k] = std::max(largest_[k], cost[k]);
  return false;
}

void Oversize::Remove(const Capacities& capacity, Core* core) {
  for (int32_t i = 0; i < core->size(); ++i) {
    const int any = AnyLevels(core->sets[i]);
    uint8_t mask = 15;
    for (int level = 0; level < kLevels; ++level) {
      if (((any >> level) & 1) == 0) continue;
      if (TooMuch(capacity, core->CostRow(i, level), core->resources)) mask &= static_cast<uint8_t>(~(1 << level));
    }
    core->sets[i] &= SpreadMask(mask) | kLone;
  }
}

bool Oversize::StillRight(const Capacities& capacity) const {
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (least_[k] != std::numeric_limits<int64_t>::max() && (!capacity[k] || *capacity[k] >= least_[k])) return false;
    if (capacity[k] && *capacity[k] < largest_[k]) return false;
  }
  return true;
}

}  // namespace scantling::budget
