// Dual ascent on w, term by term.
//
// The pass keeps, for every node, the price of each level and what its children cost in each context, so that a change
// of one node's prices is carried to its root in O(depth). A user's worth of a level is how much dearer the least total
// becomes where it may not take it; charged exactly that, the user is indifferent and the least total has risen by as
// much. A term whose users are worth more than it costs takes from each in proportion (it is paid); otherwise it takes
// all of it (not paid). Either is the best choice for this term alone with the others as they are.
//
// Terms taken one after the other can block one another: where a user may have level 3 on one rig or level 2 on
// another, neither level is worth much beside the other one for free. So the terms that the guess leaves unpaid start
// at their full price; those it pays are settled among what is left, and then the unpaid ones are let down to what they
// are worth. Where a term takes only part, it takes first from users that no other term asks for the same levels.
// Sources: Erlenkotter 1978, A dual-based procedure for uncapacitated facility location, Operations Research 26,
// 992-1009; Kolmogorov 2006, Convergent tree-reweighted message passing, IEEE PAMI 28 (min-marginals on trees).

#include "server/budget/fixed_pass.h"

#include <algorithm>
#include <bit>

namespace scantling::budget {
namespace {

constexpr int32_t kStopEvery = 1 << 15;  // nodes between two looks at the stop

Wide Least(const Wide* value, int mask) {
  Wide least = kNever;
  for (int level = 0; level < kLevels; ++level) {
    if (((mask >> level) & 1) != 0) least = std::min(least, value[level]);
  }
  return least;
}

int BitsOf(Wide value) {
  const uint64_t high = static_cast<uint64_t>(value >> 64);
  return high != 0 ? 64 + std::bit_width(high) : std::bit_width(static_cast<uint64_t>(value));
}

// value * part / whole, or a little less; 0 <= value, part <= whole.
Wide Portion(Wide value, Wide part, Wide whole) {
  const int shift = std::max(0, BitsOf(whole) - 61);
  return (((value >> shift) * (part >> shift)) / ((whole >> shift) + (shift > 0 ? 1 : 0))) << shift;
}

}  // namespace

LinkedPass::LinkedPass(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice)
    : core_(core), terms_(terms), choice_(choice) {
  ListShares(terms);
}

void LinkedPass::ListShares(const std::vector<Term>& terms) {
  std::vector<uint8_t> once(core_.size(), 0), twice(core_.size(), 0);  // levels some term, several terms ask for
  for (size_t a = 0; a < terms.size(); ++a) {
    first_.push_back(shares_.size());
    if (choice_[a] != Paid::kUndecided) continue;
    for (const FixedCost::User& user : terms[a].users) {
      const uint8_t levels = user.levels & AnyLevels(core_.sets[user.node]);
      if (levels == 0) continue;
      shares_.push_back({user.node, levels, false, 0});
      twice[user.node] |= once[user.node] & levels;
      once[user.node] |= levels;
    }
  }
  first_.push_back(shares_.size());
  for (Share& share : shares_) share.shared = (twice[share.node] & share.levels) != 0;
}

void LinkedPass::Values(int32_t node, Wide* value) {
  std::copy_n(&price_[int64_t{node} * kLevels], kLevels, value);
  if (!HasChildren(node)) return;
  const Wide* below = Below(node);
  for (int level = 0; level < kLevels; ++level) value[level] += below[ContextOf(level)];
}

void LinkedPass::Insides(int32_t node, Wide* inside) {
  Wide value[kLevels];
  Values(node, value);
  for (int c = 0; c < kContexts; ++c) {
    const int mask = LevelsIn(core_.sets[node], c);
    inside[c] = mask == 0 ? 0 : Least(value, mask);
  }
}

void LinkedPass::PriceTerms(const Prices& prices) {
  total_ = PricedRow(prices, core_.base_loss, core_.base_used.data(), core_.resources);
  due_.assign(terms_.size(), 0);
  for (size_t a = 0; a < terms_.size(); ++a) {
    due_[a] = PricedRow(prices, terms_[a].loss, terms_[a].cost.data(), core_.resources);
    if (choice_[a] == Paid::kYes) total_ += due_[a];
  }
}

// Rows and w, and what they add up to, from the leaves to the roots.
bool LinkedPass::PriceNodes(const Prices& prices, const Stop& stop) {
  price_.resize(int64_t{core_.size()} * kLevels);
  below_.assign(int64_t{core_.slots} * kContexts, 0);
  for (int32_t i = 0; i < core_.size(); ++i) {
    const int64_t* loss = core_.LossRow(i);
    Wide* price = &price_[int64_t{i} * kLevels];
    for (int level = 0; level < kLevels; ++level) {
      price[level] = PricedRow(prices, loss[level], core_.CostRow(i, level), core_.resources);
    }
  }
  for (const Share& share : shares_) AddToRow(share.node, share.levels, share.w);
  for (int32_t i = core_.size() - 1; i >= 0; --i) {
    if (i % kStopEvery == 0 && stop.Requested()) return false;
    Wide inside[kContexts];
    Insides(i, inside);
    if (core_.parent[i] < 0) {
      total_ += inside[kFree];
    } else {
      Wide* up = Below(core_.parent[i]);
      for (int c = 0; c < kContexts; ++c) up[c] += inside[c];
    }
  }
  return true;
}

void LinkedPass::AddToRow(int32_t node, uint8_t levels, Wide amount) {
  for (int level = 0; level < kLevels; ++level) {
    if (((levels >> level) & 1) != 0) price_[int64_t{node} * kLevels + level] += amount;
  }
}

// Makes some levels of a node dearer and carries that up.
void LinkedPass::Add(int32_t node, uint8_t levels, Wide amount) {
  if (amount == 0) return;
  Wide before[kContexts], after[kContexts];
  Insides(node, before);
  AddToRow(node, levels, amount);
  for (;;) {
    Insides(node, after);
    const int32_t above = core_.parent[node];
    if (above < 0) {
      total_ += after[kFree] - before[kFree];
      return;
    }
    if (std::equal(before, before + kContexts, after)) return;
    Wide next[kContexts];
    Insides(above, next);
    Wide* up = Below(above);
    for (int c = 0; c < kContexts; ++c) up[c] += after[c] - before[c];
    std::copy_n(next, kContexts, before);
    node = above;
  }
}

// How much dearer the least total is where the node takes none of the levels; kNever where it must.
Wide LinkedPass::Worth(int32_t node, uint8_t levels) {
  Wide with[kContexts], without[kContexts], value[kLevels], changed[kLevels];
  Values(node, value);
  std::copy_n(value, kLevels, changed);
  for (int level = 0; level < kLevels; ++level) {
    if (((levels >> level) & 1) != 0) changed[level] = kNever;
  }
  for (;;) {
    for (int c = 0; c < kContexts; ++c) {
      const int mask = LevelsIn(core_.sets[node], c);
      with[c] = mask == 0 ? 0 : Least(value, mask);
      without[c] = mask == 0 ? 0 : Least(changed, mask);
    }
    const int32_t above = core_.parent[node];
    if (above < 0) return without[kFree] >= kNever ? kNever : without[kFree] - with[kFree];
    if (std::equal(with, with + kContexts, without)) return 0;
    Values(above, value);
    for (int level = 0; level < kLevels; ++level) {
      const int c = ContextOf(level);
      changed[level] = without[c] >= kNever ? kNever : value[level] + (without[c] - with[c]);
    }
    node = above;
  }
}

// Charges every user its worth; the sum, or kNever where one must take a level (it is then charged the whole).
Wide LinkedPass::Collect(size_t term) {
  Wide sum = 0;
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) {
    Share& share = shares_[s];
    share.w = Worth(share.node, share.levels);
    if (share.w >= kNever) {
      for (size_t before = first_[term]; before < s; ++before) {
        Add(shares_[before].node, shares_[before].levels, -shares_[before].w);
        shares_[before].w = 0;
      }
      share.w = due_[term];
      Add(share.node, share.levels, share.w);
      return kNever;
    }
    Add(share.node, share.levels, share.w);
    sum += share.w;
  }
  return sum;
}

// Cuts what users of one kind are charged to part / whole.
void LinkedPass::Scale(size_t term, bool shared, Wide part, Wide whole) {
  Wide left = part;
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) {
    if (shares_[s].shared == shared) left -= Portion(shares_[s].w, part, whole);
  }
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) {
    Share& share = shares_[s];
    if (share.shared != shared) continue;
    Wide w = Portion(share.w, part, whole);
    const Wide more = std::min(left, share.w - w);  // what rounding left over
    w += more;
    left -= more;
    Add(share.node, share.levels, w - share.w);
    share.w = w;
  }
}

// Gives back what was collected beyond the price.
void LinkedPass::Give(size_t term, Wide collected) {
  Wide alone = 0;
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) {
    if (!shares_[s].shared) alone += shares_[s].w;
  }
  const Wide due = due_[term];
  if (alone >= due) {
    if (collected > alone) Scale(term, true, 0, collected - alone);
    if (alone > due) Scale(term, false, due, alone);
  } else {
    Scale(term, true, due - alone, collected - alone);
  }
}

// Chooses w of one term anew, the others as they are. True where its users are worth its price.
bool LinkedPass::Settle(size_t term, LinkedBound* result) {
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) {
    Add(shares_[s].node, shares_[s].levels, -shares_[s].w);
    shares_[s].w = 0;
  }
  const Wide before = total_;
  const Wide collected = Collect(term);
  if (result != nullptr) {
    result->if_paid[term] = std::max(result->if_paid[term], before + due_[term]);
    result->if_unpaid[term] = std::max(result->if_unpaid[term], collected >= kNever ? kNever : before + collected);
  }
  if (collected > due_[term] && collected < kNever) Give(term, collected);
  return collected >= due_[term];
}

// Settles what is expected to be paid, then the rest.
bool LinkedPass::Sweep(const Stop& stop, std::vector<uint8_t>* guess, LinkedBound* result) {
  const std::vector<uint8_t> before = *guess;
  for (const uint8_t expected : {1, 0}) {
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (choice_[a] != Paid::kUndecided || before[a] != expected) continue;
      if (stop.Requested()) return false;
      (*guess)[a] = Settle(a, result) ? 1 : 0;
    }
  }
  return true;
}

bool LinkedPass::Run(const Prices& prices, int sweeps, const Stop& stop, std::vector<uint8_t>* guess,
                     LinkedBound* result) {
  PriceTerms(prices);
  const Wide most = (Wide{1} << 124) / static_cast<Wide>(shares_.size() + 1);  // all together stay under kNever
  for (size_t a = 0; a < terms_.size(); ++a) {
    const Wide w = (*guess)[a] != 0 ? 0 : std::min(most, due_[a]);
    for (size_t s = first_[a]; s < first_[a + 1]; ++s) shares_[s].w = w;
  }
  if (!PriceNodes(prices, stop) || !Sweep(stop, guess, nullptr)) return false;
  // From here on no term takes more than its price, so that every total is a bound.
  result->bound = total_;
  result->if_paid.assign(terms_.size(), 0);
  result->if_unpaid.assign(terms_.size(), 0);
  for (int sweep = 0; sweep < sweeps; ++sweep) {
    if (!Sweep(stop, guess, result)) return false;
    result->bound = std::max(result->bound, total_);
  }
  return true;
}

}  // namespace scantling::budget
