// Instances after Pisinger's generators, for benchmarks and for comparison with a general solver.

#ifndef SCANTLING_TESTS_BUDGET_INSTANCES_H_
#define SCANTLING_TESTS_BUDGET_INSTANCES_H_

#include <cstdint>
#include <string>

#include "server/budget/budget.h"

namespace scantling::budget {

enum class Correlation { kNone, kWeak, kStrong };

struct InstanceShape {
  int64_t nodes = 1000;
  int resources = 2;
  Correlation correlation = Correlation::kNone;
  bool forest = false;  // 30% of the nodes in containers of 30 on average
  int percent = 40;     // capacity of each resource, in percent of the use of every node at level 3
};

// Weights w in 1..R per resource, R = 100,000; profit p of level 3 over level 0 uncorrelated (1..R), weakly (mean w +-
// R/10, at least 1) or strongly correlated (mean w + R/10). Source: Pisinger 2005, Where are the hard knapsack
// problems?, Computers & Operations Research 32, 2271-2284. The levels between are ours, that paper having none: level
// 1 costs 2 to 8% of w and loses 30 to 60% of p, level 2 costs 20 to 50% and loses 5 to 20%; strongly correlated
// instances take the middle of each range for every node.
Problem MakeInstance(const InstanceShape& shape, uint64_t seed);

std::string Name(const InstanceShape& shape);

// What makes planned shots hard: a few assets in hundreds of copies whose costs are equal and whose losses differ by a
// few percent.
struct CopiesShape {
  int64_t nodes = 1000;
  int assets = 8;
  int64_t per_container = 40;  // copies in one container, of any assets; 0: all roots
  int floor_percent = 10;      // copies that may not be left out, nor what holds them
  int percent = 30;            // capacities, of the way from the least to the most use
  bool keep_share = false;     // one more resource: at least nine in ten of the first asset's copies are not left out
};

// Two resources. A copy's losses are its asset's times a factor drawn from 0.97 to 1.03 and, for one copy in eight, a
// further factor of up to 4. Containers have small costs of their own. The figures are ours; no source.
Problem MakeCopies(const CopiesShape& shape, uint64_t seed);

// The problem as a mixed-integer programme in CPLEX LP format: binaries x<node>_<level>.
std::string ToLpFormat(const Problem& problem);

// What a general solver said.
struct OtherAnswer {
  bool ran = false;      // the program was found and wrote a plan
  bool optimal = false;  // it says the gap asked for was met
  double objective = 0;  // of the plan it found
  double seconds = 0;    // wall clock
};

using CbcAnswer = OtherAnswer;

// Run `cbc` or `glpsol` in a fresh temporary folder with a relative gap and a cap on its time.
OtherAnswer RunCbc(const Problem& problem, double gap, int cap_s);
OtherAnswer RunGlpk(const Problem& problem, double gap, int cap_s);

}  // namespace scantling::budget

#endif  // SCANTLING_TESTS_BUDGET_INSTANCES_H_
