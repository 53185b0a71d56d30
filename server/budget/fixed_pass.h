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

#include "server/budget/fixed_terms.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

// More than any priced loss.
inline constexpr Wide kNever = Wide{1} << 126;

struct LinkedBound {
  Wide bound = 0;  // priced loss that no plan is below, terms included
  // Per undecided term: the same for the plans that pay it and for those that do not; kNever: there are none. Void for
  // decided terms.
  std::vector<Wide> if_paid, if_unpaid;
};

class LinkedPass {
 public:
  // `core` must be pruned and reached, its nodes the users of `terms`; both must outlive the pass. Levels that terms
  // decided as unpaid need are taken for gone from its sets.
  LinkedPass(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice);

  // The bound at `prices`. *guess: per term what is expected to be paid (read for undecided terms; a good guess makes a
  // good bound), replaced by what w came to suggest. False where the stop came first. `sweeps`: how often w of each
  // term is chosen anew after the first time; with 0 if_paid and if_unpaid say nothing. O((n * K + users * depth * (1 +
  // sweeps)) * kLevels).
  bool Run(const Prices& prices, int sweeps, const Stop& stop, std::vector<uint8_t>* guess, LinkedBound* result);

 private:
  struct Share {  // one user of one undecided term
    int32_t node = 0;
    uint8_t levels = 0;
    bool shared = false;  // another undecided term asks for some of these levels of the node
    Wide w = 0;
  };

  void ListShares(const std::vector<Term>& terms);
  bool HasChildren(int32_t node) const { return (core_.sets[node] & kLone) == 0 && core_.slot[node] >= 0; }
  Wide* Below(int32_t node) { return &below_[int64_t{core_.slot[node]} * kContexts]; }
  void Values(int32_t node, Wide* value);
  void Insides(int32_t node, Wide* inside);
  void PriceTerms(const Prices& prices);
  bool PriceNodes(const Prices& prices, const Stop& stop);
  void AddToRow(int32_t node, uint8_t levels, Wide amount);
  void Add(int32_t node, uint8_t levels, Wide amount);
  Wide Worth(int32_t node, uint8_t levels);
  bool Settle(size_t term, LinkedBound* result);
  bool Sweep(const Stop& stop, std::vector<uint8_t>* guess, LinkedBound* result);
  Wide Collect(size_t term);
  void Give(size_t term, Wide collected);
  void Scale(size_t term, bool shared, Wide part, Wide whole);

  const Core& core_;
  const std::vector<Term>& terms_;
  const PaidChoice& choice_;
  std::vector<Share> shares_;
  std::vector<size_t> first_;  // per term, and one past: its shares
  std::vector<Wide> price_;    // [node * kLevels + level]: row and w
  std::vector<Wide> below_;    // [slot * kContexts + context]: what the children cost
  std::vector<Wide> due_;      // per term: its price
  Wide total_ = 0;             // least total over all trees, terms decided as paid included
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_PASS_H_
