// States of the search over what is paid, and their bounds.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_STATE_H_
#define SCANTLING_SERVER_BUDGET_FIXED_STATE_H_

#include <cstdint>
#include <optional>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/dual.h"
#include "server/budget/fixed_dual.h"
#include "server/budget/fixed_terms.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

struct PaidState {
  Wide bound = 0;     // weighted; no plan of the state is below
  int64_t id = 0;     // order of making, the last tie-break
  PaidChoice choice;  // per term: what the state decides
  Prices prices;      // near its best ones
  std::vector<uint8_t> guess;
  std::vector<LinkedCut> known;  // plans of the state
};

// Bounds of states of one problem. All given must outlive it.
class PaidPricing {
 public:
  // `core`: pruned and reached, without what no plan can pay.
  PaidPricing(const Core& core, const std::vector<Term>& terms, const Capacities& capacity, const Stop& stop)
      : core_(core), terms_(terms), capacity_(capacity), stop_(stop) {}

  // Weights on the resources, no loss: false where they prove that no plan of the state fits. *plan: one that does,
  // where one was met.
  bool FindFrugal(const PaidState& state, std::optional<Plan>* plan);

  // Fixes the scale of prices; before anything below. `least`: the plan of least loss; `frugal`: one that fits, where
  // known.
  void SetScale(const Outcome& least, const Outcome* frugal);
  const Prices& highest() const { return high_; }

  // Sets prices and guess of a state from nothing but its choice: those of the problem in which users pay fixed costs
  // by shares, a few times over.
  void Start(PaidState* state);

  struct Search {
    int passes = 10;             // about so many in each of up to three boxes
    int steps = 0;               // see LinkedOptions
    double tolerance = 0.25;     // see LinkedOptions
    std::optional<Wide> enough;  // ends where the bound reaches this
  };
  // The bound of a state, from its own prices on. `core`: without the levels of what the state leaves unpaid.
  LinkedDual Bound(const PaidState& state, const Core& core, const Search& search);

  // w from which further bounds start.
  void Keep(Multipliers w) { w_ = std::move(w); }

  // Nodes and users looked at so far.
  int64_t work() const { return work_; }

 private:
  bool PricedByShares(const PaidState& state, const std::vector<double>& share, Prices* prices) const;
  std::vector<double> SharesOf(const Prices& prices, const Multipliers& w) const;
  bool OnBorder(const LinkedDual& dual, const LinkedOptions& options) const;
  int64_t WorkOfPass() const;

  const Core& core_;
  const std::vector<Term>& terms_;
  const Capacities& capacity_;
  const Stop& stop_;
  Prices high_;
  double tolerance_ = 0.25;
  Multipliers w_;
  int64_t work_ = 0;
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_STATE_H_
