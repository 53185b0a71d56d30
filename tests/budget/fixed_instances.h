// Instances with fixed costs, and the way to and from CBC.

#ifndef SCANTLING_TESTS_BUDGET_FIXED_INSTANCES_H_
#define SCANTLING_TESTS_BUDGET_FIXED_INSTANCES_H_

#include <cstdint>
#include <string>

#include "server/budget/budget.h"
#include "tests/budget/instances.h"

namespace scantling::budget {

struct FixedShape {
  InstanceShape base;   // see MakeInstance
  int64_t assets = 50;  // nodes are dealt to assets, some of which get many
  int fixed_percent =
      30;               // an asset's fixed costs beside what its users cost in rows, in percent, half to one and a half
  bool rigs = true;     // one cost for level 3, one for level 2
  bool cycles = false;  // one cost for levels 2 and 3, in the first resource alone
  bool memory = false;  // one more resource that rows do not use: an asset's memory at level 3, at level 2, at level 1
  int floor_percent = 0;  // of the assets: level 2 at least
};

// All figures but MakeInstance's are ours.
Problem MakeFixedInstance(const FixedShape& shape, uint64_t seed);

// The problem as a mixed-integer programme in CPLEX LP format: binaries x<node>_<level>, and y<a> that is 1 where fixed
// cost a is paid.
std::string FixedToLpFormat(const Problem& problem);

// RunCbc with fixed costs.
CbcAnswer RunCbcWithFixedCosts(const Problem& problem, double gap, int cap_s);

}  // namespace scantling::budget

#endif  // SCANTLING_TESTS_BUDGET_FIXED_INSTANCES_H_
