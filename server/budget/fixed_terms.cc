// Terms are kept with their users in the order of the Core, so that equal ones are found by comparing lists: several
// costs of one asset and tier (a rig, its memory in each frame) are one decision, and the fewer there are the better
// the bound and the shorter the search.

#include "server/budget/fixed_terms.h"

#include <algorithm>
#include <map>
#include <utility>

namespace scantling::budget {
namespace {

bool CostsNothing(const Term& term) {
  return term.loss == 0 && std::all_of(term.cost.begin(), term.cost.end(), [](int64_t cost) { return cost == 0; });
}

}  // namespace

std::vector<int32_t> PlacesOf(const Core& core) {
  std::vector<int32_t> place(core.size());
  for (int32_t i = 0; i < core.size(); ++i) place[core.origin.empty() ? i : core.origin[i]] = i;
  return place;
}

std::vector<Term> Merged(std::vector<Term> terms) {
  std::vector<Term> merged;
  std::map<std::vector<std::pair<int32_t, uint8_t>>, size_t> known;  // users to place in `merged`
  for (Term& term : terms) {
    if (CostsNothing(term)) continue;
    std::sort(term.users.begin(), term.users.end(), [](const auto& a, const auto& b) { return a.node < b.node; });
    std::vector<std::pair<int32_t, uint8_t>> key;
    for (const FixedCost::User& user : term.users) key.emplace_back(user.node, user.levels);
    const auto [it, is_new] = known.emplace(std::move(key), merged.size());
    if (is_new) {
      merged.push_back(std::move(term));
      continue;
    }
    merged[it->second].loss += term.loss;
    for (int k = 0; k < kMaxResources; ++k) merged[it->second].cost[k] += term.cost[k];
  }
  return merged;
}

std::vector<Term> TermsOf(const Problem& problem, const std::vector<int32_t>& place) {
  std::vector<Term> terms;
  for (const FixedCost& fixed : problem.fixed) {
    Term term;
    std::copy(fixed.cost.begin(), fixed.cost.end(), term.cost.begin());
    term.users = fixed.users;
    for (FixedCost::User& user : term.users) user.node = place[user.node];
    terms.push_back(std::move(term));
  }
  return Merged(std::move(terms));
}

bool Pays(const Term& term, const std::vector<uint8_t>& level) {
  return std::any_of(term.users.begin(), term.users.end(),
                     [&](const FixedCost::User& user) { return ((user.levels >> level[user.node]) & 1) != 0; });
}

void AddPaid(const std::vector<Term>& terms, const std::vector<uint8_t>& level, Outcome* outcome) {
  for (const Term& term : terms) {
    if (!Pays(term, level)) continue;
    outcome->loss += term.loss;
    for (int k = 0; k < kMaxResources; ++k) outcome->used[k] += term.cost[k];
  }
}

bool RemoveUnpaid(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice,
                  std::vector<uint8_t>* sets) {
  for (size_t a = 0; a < terms.size(); ++a) {
    if (choice[a] != Paid::kNo) continue;
    for (const FixedCost::User& user : terms[a].users) {
      (*sets)[user.node] &= SpreadMask(static_cast<uint8_t>(15 & ~user.levels)) | kLone;
    }
  }
  if (!PruneSets(core.parent, *sets)) return false;
  ReachSets(core.parent, *sets);
  return true;
}

Core WithSets(const Core& core, std::vector<uint8_t> sets) {
  Core other;
  other.resources = core.resources;
  other.parent = core.parent;
  other.sets = std::move(sets);
  other.loss = core.loss;
  other.cost = core.cost;
  other.origin = core.origin;
  other.has_trees = core.has_trees;
  other.slot = core.slot;
  other.slots = core.slots;
  other.base_loss = core.base_loss;
  other.base_used = core.base_used;
  return other;
}

void SumUp(const Problem& problem, Solution* solution) {
  solution->loss = 0;
  solution->used.assign(problem.resources, 0);
  for (int64_t i = 0; i < problem.size(); ++i) {
    const int64_t row = i * kLevels + solution->level[i];
    solution->loss += problem.loss[row];
    for (int k = 0; k < problem.resources; ++k) solution->used[k] += problem.cost[row * problem.resources + k];
  }
  solution->paid.clear();
  for (const FixedCost& fixed : problem.fixed) {
    const bool pays = std::any_of(fixed.users.begin(), fixed.users.end(), [&](const FixedCost::User& user) {
      return ((user.levels >> solution->level[user.node]) & 1) != 0;
    });
    solution->paid.push_back(pays ? 1 : 0);
    for (int k = 0; pays && k < problem.resources; ++k) solution->used[k] += fixed.cost[k];
  }
}

}  // namespace scantling::budget
