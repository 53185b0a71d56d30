// Plans for a given set of paid costs: a problem without fixed costs, solved as such.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_PLANS_H_
#define SCANTLING_SERVER_BUDGET_FIXED_PLANS_H_

#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "server/budget/budget.h"
#include "server/budget/fixed_terms.h"
#include "server/units/stop.h"

namespace scantling::budget {

// Keeps the best plan met.
class PaidPlans {
 public:
  // All must outlive it. `core` and `terms`: of `problem`.
  PaidPlans(const Problem& problem, const Core& core, const std::vector<Term>& terms, const Stop& stop);

  struct Proof {
    bool none = false;     // proved: no plan within the capacities pays at most these
    int64_t bound = 0;     // no such plan has less loss
    int64_t branched = 0;  // branch-and-bound nodes visited
  };

  // Solves the problem in which the terms of `paid` are paid and no others can be. Without effort.branch_nodes each set
  // is solved once: later calls say nothing new.
  Proof Try(const std::vector<uint8_t>& paid, const Effort& effort);

  // Takes a plan of the Core that fits, whatever it pays.
  void Offer(const std::vector<uint8_t>& core_level);

  const std::optional<Solution>& best() const { return best_; }
  // Losses from this on are of no use: within the target gap of the best plan's, or more than any plan's.
  int64_t Limit(double target_gap) const;
  // Which terms the best plan pays. There must be one.
  std::vector<uint8_t> BestPaid() const;

 private:
  bool Restrict(const std::vector<uint8_t>& paid);
  bool ProvesNone(const Effort& effort) const;
  void Take(Solution solution);

  const Problem& problem_;
  const Core& core_;
  const std::vector<Term>& terms_;
  const Stop& stop_;
  Problem restricted_;
  std::map<std::vector<bool>, double> tried_;  // without branching: to which target gap
  std::optional<Solution> best_;
  int64_t worst_ = 0;  // no plan has more loss
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_PLANS_H_
