// The bound at given prices where some costs are paid once.
//
// For every term a the links "a user takes a level of the mask only where a is paid" are dualised with w_ia >= 0: w_ia
// is added to the price of the user's levels, and what the users of a bring together pays for a. As long as they bring
// no more than a costs, the least total over all trees is a lower bound on the priced loss of every plan, terms
// included. The pass chooses w by dual ascent.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_PASS_H_
#define SCANTLING_SERVER_BUDGET_FIXED_PASS_H_

#include <cstdint>
#include <vector>

#include "server/budget/fixed_forest.h"
#include "server/budget/fixed_guess.h"
#include "server/budget/fixed_terms.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

struct LinkedBound {
  Wide bound = 0;  // priced loss that no plan is below, terms included
  // Per undecided term: the same for the plans that pay it and for those that do not; kNever: there are none. Void for
  // decided terms.
  std::vector<Wide> if_paid, if_unpaid;
};

// w of every user of every term, in their order; those of decided terms stand for nothing.
using Multipliers = std::vector<Wide>;

class LinkedPass {
 public:
  // `core` must be pruned and reached, its nodes the users of `terms`; both must outlive the pass. Levels that terms
  // decided as unpaid need are taken for gone from its sets.
  LinkedPass(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice);

  // Chooses w at `prices`. *guess: per undecided term what may be paid; improved first, block by block. The functions
  // below follow. All are false where the stop came first; the pass is then void.
  // O((n * K + users * depth) * kLevels).
  bool Start(const Prices& prices, const Stop& stop, std::vector<uint8_t>* guess);

  // Takes w from elsewhere (the same terms at other prices or decisions) where that gives a higher bound.
  bool Try(const Multipliers& w, const Stop& stop);

  // Raises the bound by up to `steps` subgradient steps towards `target`, the priced loss of some plan. O(n + users)
  // each.
  bool Raise(Wide target, int steps, const Stop& stop);

  // The bound, after w of each term was chosen anew once more. O(users * depth * kLevels).
  bool Finish(const std::vector<uint8_t>& guess, const Stop& stop, LinkedBound* result);

  // Priced loss that no plan is below.
  Wide bound() const { return forest_.total() + paid_; }
  Multipliers multipliers() const;

 private:
  struct Share {  // one user of one undecided term
    int32_t node = 0;
    uint8_t levels = 0;
    int32_t term = 0;
    int32_t next = -1;   // another share of the same node, in a ring
    int32_t place = -1;  // in Multipliers
    Wide w = 0;
    Wide free = 0;  // of w: what may be taken without making any level of an unpaid term the better one
  };

  void ListShares();
  void PriceTerms(const Prices& prices);
  bool Sweep(const Stop& stop, const std::vector<uint8_t>& guess, LinkedBound* result);
  void Settle(size_t term, const std::vector<uint8_t>& guess, LinkedBound* result);
  Wide Collect(size_t term, const std::vector<uint8_t>& guess);
  Wide WorthOf(Share* share, const std::vector<uint8_t>& guess);
  void Give(size_t term, Wide collected);
  void Charge(Share* share, Wide w);
  template <typename To>
  bool ChargeAll(To to, const Stop& stop);
  bool Set(const Multipliers& w, const Stop& stop);
  Wide TakenBy(size_t term) const;
  Wide Relaxed() const;
  double Slope(const std::vector<uint8_t>& level, std::vector<double>* slope) const;

  const Core& core_;
  const std::vector<Term>& terms_;
  const PaidChoice& choice_;
  BlockGuess blocks_;
  PricedForest forest_;
  std::vector<Share> shares_;
  std::vector<size_t> first_;  // per term, and one past: its shares
  size_t users_ = 0;           // of all terms
  std::vector<Wide> due_;      // per term: its price
  double part_ = 1.0;          // length of the next subgradient step, kept from one Raise() to the next
  Wide paid_ = 0;              // the prices of terms decided as paid
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_PASS_H_
