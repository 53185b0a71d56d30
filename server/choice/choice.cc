// Rows for the solver: rounds losses and costs to integers, asks bounds.cc which tiers are for sale, and lays both out
// by node in canonical order.
//
// A child's COLOUR_PATCH is drawn into a painted container or onto a kept one at the same price and the same loss
// (2-model section 7), so one row serves both and four levels a node are enough.

#include "server/choice/choice.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "server/choice/bounds.h"
#include "server/choice/forest_order.h"

namespace scantling {
namespace {

int64_t Saturated(double quanta) {
  if (!(quanta < static_cast<double>(budget::kMaxTotal))) return budget::kMaxTotal;
  return static_cast<int64_t>(quanta);
}

// FNV-1a with a finishing mix: stable over runs, platforms and orders. Ties between identical extras break by it.
// Source: Fowler, Noll & Vo, 1991 (parameters of the 64-bit variant); finisher: Steele, Lea & Flood, Fast splittable
// pseudorandom number generators, 2014 (splitmix64).
uint64_t StableHash(std::string_view text) {
  uint64_t hash = 14695981039346656037ull;
  for (const char c : text) hash = (hash ^ static_cast<uint8_t>(c)) * 1099511628211ull;
  hash = (hash ^ (hash >> 30)) * 0xbf58476d1ce4e5b9ull;
  hash = (hash ^ (hash >> 27)) * 0x94d049bb133111ebull;
  return hash ^ (hash >> 31);
}

// Prices as integers of one scale, the dearest 20,000: only their ratio breaks ties. A thousandth of the dearest price
// is still told to a twentieth of itself, and money totals stay far under budget::kMaxTotal.
std::vector<int64_t> MoneyOf(const RateCard& rates, bool other) {
  std::vector<double> prices = {rates.money_per_animator_hour, rates.money_per_core_hour};
  if (other) prices.push_back(rates.money_per_other_hour);
  const double dearest = *std::max_element(prices.begin(), prices.end());
  std::vector<int64_t> money(prices.size(), 0);
  if (dearest <= 0) return money;
  for (size_t k = 0; k < prices.size(); ++k) money[k] = std::llround(prices[k] / dearest * 2e4);
  return money;
}

uint8_t MaskOf(const TierBounds& bounds) {
  uint8_t mask = 0;
  for (Tier tier : kAllTiers) {
    if (bounds.least.tier <= tier && tier <= bounds.most.tier) mask |= Bit(tier);
  }
  return mask;
}

void FillRows(const Scene& scene, const TierCosts& costs, const Choice& choice, budget::Problem& problem) {
  const size_t count = choice.row_of_node.size(), resources = choice.resources.size();
  problem.allowed.resize(count);
  problem.tie.resize(count);
  problem.cost.resize(count * budget::kLevels * resources);
  for (size_t node = 0; node < count; ++node) {
    const uint32_t row = choice.row_of_node[node];
    problem.allowed[node] = MaskOf(choice.bounds[node]);
    problem.tie[node] = StableHash(scene.objects.id[row]);
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      int64_t* cost = &problem.cost[(node * budget::kLevels + tier) * resources];
      cost[kAnimHours] = HoursQuanta(costs.anim_hours[row][tier]);
      cost[kCoreHours] = HoursQuanta(costs.core_hours[row][tier]);
      if (choice.has_other_hours()) cost[kOtherHours] = HoursQuanta(costs.other_hours[row][tier]);
    }
  }
}

// Siblings of one asset in one band that are seen, numbered by their first in canonical order. -1: alone, without
// asset, or never seen (such have nothing to differ in: no loss at any tier).
std::vector<int32_t> AlikeGroups(const ChoiceInput& input, const ForestOrder& order) {
  const Objects& objects = input.scene.objects;
  using Key = std::tuple<int32_t, uint32_t, uint8_t>;
  std::map<Key, std::vector<uint32_t>> members;
  for (uint32_t node = 0; node < order.row_of_node.size(); ++node) {
    const uint32_t row = order.row_of_node[node];
    if (objects.asset[row] == kNone || input.legibility.sight[row] != Sight::kSeen) continue;
    members[{order.parent[node], objects.asset[row], input.legibility.band[row]}].push_back(node);
  }
  std::vector<int32_t> group(order.row_of_node.size(), -1);
  int32_t number = 0;
  for (const auto& [key, nodes] : members) {
    if (nodes.size() < 2) continue;
    for (const uint32_t node : nodes) group[node] = number;
    ++number;
  }
  return group;
}

void AddSharedCosts(const Choice& choice, budget::Problem& problem) {
  for (const SharedCost& shared : choice.shared) {
    budget::FixedCost fixed;
    fixed.cost.assign(choice.resources.size(), 0);
    fixed.cost[kAnimHours] = HoursQuanta(shared.anim_hours);
    for (const uint32_t row : shared.users) {
      fixed.users.push_back({static_cast<int32_t>(choice.node_of_row[row]), Bit(shared.tier)});
    }
    problem.fixed.push_back(std::move(fixed));
  }
}

}  // namespace

int64_t LossQuanta(double frame_octaves) { return Saturated(std::ceil(frame_octaves / kLossQuantum)); }

int64_t HoursQuanta(double hours) { return Saturated(std::round(hours / kHoursQuantum)); }

std::vector<int64_t> LossesAt(const Choice& choice, const Legibility& legibility, int phi) {
  std::vector<int64_t> losses(choice.row_of_node.size() * budget::kLevels);
  for (size_t node = 0; node < choice.row_of_node.size(); ++node) {
    const PerTier<double>& loss = legibility.loss[choice.row_of_node[node]][static_cast<size_t>(phi)];
    for (size_t tier = 0; tier < kTierCount; ++tier) losses[node * budget::kLevels + tier] = LossQuanta(loss[tier]);
  }
  return losses;
}

absl::StatusOr<Choice> BuildChoice(const ChoiceInput& input, Violations& violations) {
  const Scene& scene = input.scene;
  ForestOrder order = OrderForest(scene.objects);
  Choice choice;
  if (input.alike) choice.group = AlikeGroups(input, order);
  BoundsResult bounds =
      BoundTiers({scene, input.legibility, input.policy.catalogue, input.style}, order, choice.group, violations);
  choice.row_of_node = std::move(order.row_of_node);
  choice.node_of_row = std::move(order.node_of_row);
  choice.bounds = std::move(bounds.bounds);
  choice.directive_matches = std::move(bounds.directive_matches);
  choice.has_contents.assign(order.parent.size(), 0);
  for (const int32_t parent : order.parent) {
    if (parent >= 0) choice.has_contents[static_cast<size_t>(parent)] = 1;
  }
  if (!violations.empty()) return choice;

  const bool other = !input.policy.rates.other_department.empty();
  choice.resources = {{LimitKind::kAnimHours, kHoursQuantum}, {LimitKind::kCoreHours, kHoursQuantum}};
  if (other) choice.resources.push_back({LimitKind::kOtherHours, kHoursQuantum});
  choice.shared = input.shared;
  budget::Problem& problem = choice.problem;
  problem.resources = static_cast<int>(choice.resources.size());
  problem.parent = std::move(order.parent);
  problem.capacity.assign(choice.resources.size(), std::nullopt);
  problem.money = MoneyOf(input.policy.rates, other);
  problem.loss = LossesAt(choice, input.legibility, kPhiAsGiven);
  FillRows(scene, input.costs, choice, problem);
  AddSharedCosts(choice, problem);
  if (absl::Status valid = budget::Validate(problem); !valid.ok()) return valid;
  return choice;
}

}  // namespace scantling
