// The working form of fixed costs: what is paid, by whom, on the nodes of a Core.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_TERMS_H_
#define SCANTLING_SERVER_BUDGET_FIXED_TERMS_H_

#include <cstdint>
#include <vector>

#include "server/budget/budget.h"
#include "server/budget/core.h"
#include "server/budget/dual.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {

// One or more fixed costs that the same users pay together.
struct Term {
  int64_t loss = 0;  // a loss paid once; 0 for the fixed costs of a problem, the figure where one figure is minimised
  PerResource cost{};
  std::vector<FixedCost::User> users;  // nodes of the Core, ascending
};

enum class Paid : uint8_t { kUndecided, kYes, kNo };
using PaidChoice = std::vector<Paid>;  // per term

// Per node of the problem, the node of the Core that CoreOf() made of it. O(n).
std::vector<int32_t> PlacesOf(const Core& core);

// The fixed costs of a problem as terms: those without any cost are dropped, those of the same users and masks are
// added up. O(users log users).
std::vector<Term> TermsOf(const Problem& problem, const std::vector<int32_t>& place);

// Adds up terms of equal users and masks and drops those that cost nothing. Keeps the order of the first ones.
std::vector<Term> Merged(std::vector<Term> terms);

// Whether a plan of the Core pays a term. O(users).
bool Pays(const Term& term, const std::vector<uint8_t>& level);

// Adds the terms that a plan pays to its sums. O(users).
void AddPaid(const std::vector<Term>& terms, const std::vector<uint8_t>& level, Outcome* outcome);

// Takes the levels that unpaid terms need out of `sets`, prunes and reaches them. False where no plan is left; *sets is
// then void. O(n + users).
bool RemoveUnpaid(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice,
                  std::vector<uint8_t>* sets);

// The same Core with other sets. Its rows are those of `core`, which must outlive it. O(n).
Core WithSets(const Core& core, std::vector<uint8_t> sets);

// Sets loss, used and paid of a solution from its levels. O(n * K).
void SumUp(const Problem& problem, Solution* solution);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_TERMS_H_
