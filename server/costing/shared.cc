// Set-ups that are paid once for all objects of an asset.
//
// One pass in canonical order, so that neither the list nor its users depend on the order of sending: a cost comes into
// being with its first user, and every further one is found by a key of asset, class and tier.
//
// Two classes of one asset share nothing: each has rates of its own, so each sets the asset up in its own way. Painted
// in, an object is part of its container's drawing and needs no set-up of its own.

#include <cstdint>
#include <unordered_map>

#include "server/costing/costing.h"
#include "server/costing/work.h"

namespace scantling {
namespace {

uint64_t KeyOf(uint32_t asset, uint16_t class_index, Tier tier) {
  return (uint64_t{asset} << 32) | (uint64_t{class_index} << 8) | static_cast<uint64_t>(Index(tier));
}

}  // namespace

std::vector<SharedCost> SharedCostsOf(const PricingInput& input) {
  const Objects& objects = input.scene.objects;
  std::vector<SharedCost> costs;
  std::unordered_map<uint64_t, size_t> place;
  for (const uint32_t row : objects.canonical) {
    if (objects.asset[row] == kNone || !IsSeenOrCast(input, row)) continue;
    const Terms terms = TermsOf(input, row);
    for (const Tier tier : {Tier::kColourPatch, Tier::kProxy, Tier::kFullRig}) {
      const double hours = SharedSetUpHours(terms, tier);
      if (hours <= 0) continue;
      const uint64_t key = KeyOf(objects.asset[row], objects.class_index[row], tier);
      const auto [at, is_new] = place.try_emplace(key, costs.size());
      if (is_new) costs.push_back({objects.asset[row], objects.class_index[row], tier, hours, {}});
      costs[at->second].users.push_back(row);
    }
  }
  return costs;
}

}  // namespace scantling
