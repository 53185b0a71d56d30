// Blocks by shared users, and the best set of paid terms for each.
//
// Two terms are in one block where at least half of the users of the one that has more use the other too; and so on
// from term to term. A term that serves everybody therefore stays alone. A block of up to four terms is tried in all
// its sets, a larger one by single changes and exchanges of two from what it pays so far.

#include "server/budget/fixed_guess.h"

#include <algorithm>
#include <map>
#include <numeric>
#include <utility>

namespace scantling::budget {
namespace {

constexpr size_t kMostTried = 4;   // terms of a block all of whose sets are tried
constexpr size_t kMostBlock = 24;  // terms of a block; more are cut into several
constexpr int kMostChanges = 24;   // of a larger block, one after another
constexpr size_t kMostMet = 12;    // terms of one node that are compared with one another

int32_t Leader(std::vector<int32_t>& leader, int32_t term) {
  while (leader[term] != term) term = leader[term] = leader[leader[term]];
  return term;
}

}  // namespace

BlockGuess::BlockGuess(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice)
    : core_(core), terms_(terms) {
  std::vector<std::vector<int32_t>> met(core.size());
  for (size_t a = 0; a < terms.size(); ++a) {
    if (choice[a] != Paid::kUndecided) continue;
    for (const FixedCost::User& user : terms[a].users) {
      if (met[user.node].size() < kMostMet) met[user.node].push_back(static_cast<int32_t>(a));
    }
  }
  std::map<std::pair<int32_t, int32_t>, size_t> shared;  // users of both terms
  for (const std::vector<int32_t>& here : met) {
    for (size_t i = 0; i < here.size(); ++i) {
      for (size_t j = i + 1; j < here.size(); ++j) ++shared[{here[i], here[j]}];
    }
  }
  std::vector<int32_t> leader(terms.size());
  std::iota(leader.begin(), leader.end(), 0);
  for (const auto& [pair, users] : shared) {
    if (2 * users < std::max(terms[pair.first].users.size(), terms[pair.second].users.size())) continue;
    leader[Leader(leader, pair.second)] = Leader(leader, pair.first);
  }
  std::vector<std::vector<int32_t>> members(terms.size());
  for (size_t a = 0; a < terms.size(); ++a) {
    if (choice[a] != Paid::kUndecided) continue;
    std::vector<int32_t>& block = members[Leader(leader, static_cast<int32_t>(a))];
    block.push_back(static_cast<int32_t>(a));
    if (block.size() == kMostBlock) MakeBlock(std::exchange(block, {}));
  }
  for (std::vector<int32_t>& block : members) {
    if (!block.empty()) MakeBlock(std::move(block));
  }
}

void BlockGuess::MakeBlock(std::vector<int32_t> members) {
  Block block;
  for (const int32_t a : members) {
    for (const FixedCost::User& user : terms_[a].users) block.nodes.push_back(user.node);
  }
  std::sort(block.nodes.begin(), block.nodes.end());
  block.nodes.erase(std::unique(block.nodes.begin(), block.nodes.end()), block.nodes.end());
  block.asks.assign(block.nodes.size() * members.size(), 0);
  for (size_t t = 0; t < members.size(); ++t) {
    size_t place = 0;
    for (const FixedCost::User& user : terms_[members[t]].users) {
      while (block.nodes[place] != user.node) ++place;
      block.asks[place * members.size() + t] = user.levels & AnyLevels(core_.sets[user.node]);
    }
  }
  block.terms = std::move(members);
  blocks_.push_back(std::move(block));
}

// What a block costs with a set of its terms paid: their price, and every user's best level that needs no other.
Wide BlockGuess::ValueOf(const Block& block, const std::vector<Wide>& due, uint32_t paid) const {
  const size_t count = block.terms.size();
  Wide value = 0;
  for (size_t t = 0; t < count; ++t) value += ((paid >> t) & 1) != 0 ? due[block.terms[t]] : 0;
  for (size_t i = 0; i < block.nodes.size(); ++i) {
    int blocked = 0;
    for (size_t t = 0; t < count; ++t) blocked |= ((paid >> t) & 1) != 0 ? 0 : block.asks[i * count + t];
    Wide least = kNever;
    for (int level = 0; level < kLevels; ++level) {
      if (((blocked >> level) & 1) == 0) least = std::min(least, excess_[i * kLevels + level]);
    }
    if (least >= kNever) return kNever;
    value += least;
  }
  return value;
}

uint32_t BlockGuess::Best(const Block& block, const std::vector<Wide>& due, uint32_t paid) const {
  const uint32_t count = static_cast<uint32_t>(block.terms.size());
  Wide least = ValueOf(block, due, paid);
  uint32_t best = paid;
  const auto attempt = [&](uint32_t set) {
    const Wide value = ValueOf(block, due, set);
    if (value >= least) return;
    least = value;
    best = set;
  };
  if (count <= kMostTried) {
    for (uint32_t set = 0; set < uint32_t{1} << count; ++set) attempt(set);
    return best;
  }
  for (int change = 0; change < kMostChanges; ++change) {
    const uint32_t from = best;
    for (uint32_t t = 0; t < count; ++t) attempt(from ^ (1u << t));
    for (uint32_t t = 0; t < count; ++t) {
      for (uint32_t u = t + 1; u < count; ++u) {
        if ((((from >> t) ^ (from >> u)) & 1) != 0) attempt(from ^ (1u << t) ^ (1u << u));
      }
    }
    if (best == from) break;
  }
  return best;
}

void BlockGuess::Improve(const std::vector<Wide>& due, const std::vector<Wide>& charge, PricedForest* forest,
                         std::vector<uint8_t>* guess) {
  const auto charge_users = [&](int32_t term, Wide amount) {
    for (const FixedCost::User& user : terms_[term].users) {
      const uint8_t levels = user.levels & AnyLevels(core_.sets[user.node]);
      if (levels != 0) forest->Add(user.node, levels, amount);
    }
  };
  for (const Block& block : blocks_) {
    uint32_t paid = 0;
    for (size_t t = 0; t < block.terms.size(); ++t) {
      const int32_t a = block.terms[t];
      if ((*guess)[a] != 0) paid |= 1u << t;
      if ((*guess)[a] == 0) charge_users(a, -charge[a]);
    }
    excess_.resize(block.nodes.size() * kLevels);
    for (size_t i = 0; i < block.nodes.size(); ++i) forest->Excess(block.nodes[i], &excess_[i * kLevels]);
    paid = Best(block, due, paid);
    for (size_t t = 0; t < block.terms.size(); ++t) {
      const int32_t a = block.terms[t];
      (*guess)[a] = (paid >> t) & 1;
      if ((*guess)[a] == 0) charge_users(a, charge[a]);
    }
  }
}

}  // namespace scantling::budget
