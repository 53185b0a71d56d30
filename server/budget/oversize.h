// Options that alone exceed a capacity, while capacities change.

#ifndef SCANTLING_SERVER_BUDGET_OVERSIZE_H_
#define SCANTLING_SERVER_BUDGET_OVERSIZE_H_

#include <limits>

#include "server/budget/core.h"
#include "server/budget/dual.h"

namespace scantling::budget {

// Removes them as RemoveOversized does and remembers where the limits lie.
class Oversize {
 public:
  // From `core`, whose sets are as the masks give them (then prune). Further calls add to what is remembered. O(n * K).
  void Remove(const Capacities& capacity, Core* core);

  // Whether at these capacities the same options would be removed from all Cores seen, or options that are no longer
  // there. O(K).
  bool StillRight(const Capacities& capacity) const;

 private:
  bool TooMuch(const Capacities& capacity, const int64_t* cost, int resources);

  PerResource largest_{};  // cost of any option that stayed
  PerResource least_ = [] {
    PerResource none;
    none.fill(std::numeric_limits<int64_t>::max());
    return none;
  }();  // cost of any option that went, by the first resource it went for
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_OVERSIZE_H_
