// Set-ups that are paid once for all objects of an asset.

#include <map>
#include <tuple>

#include "server/costing/costing.h"
#include "server/costing/work.h"

namespace scantling {

std::vector<SharedCost> SharedCostsOf(const PricingInput& input) {
  const Objects& objects = input.scene.objects;
  std::map<std::tuple<uint32_t, uint16_t, Tier>, SharedCost> found;
  for (uint32_t row = 0; row < objects.size(); ++row) {
    if (objects.asset[row] == kNone || !IsSeenOrCast(input, row)) continue;
    const Terms terms = TermsOf(input, row);
    for (const Tier tier : {Tier::kColourPatch, Tier::kProxy, Tier::kFullRig}) {
      const double hours = RateOf(terms, tier).shared_setup_hours;
      if (hours <= 0 || IsPaintedIn(terms, tier)) continue;
      SharedCost& shared = found[{objects.asset[row], objects.class_index[row], tier}];
      shared.asset = objects.asset[row];
      shared.class_index = objects.class_index[row];
      shared.tier = tier;
      shared.anim_hours = hours;
      shared.users.push_back(row);
    }
  }
  std::vector<SharedCost> costs;
  costs.reserve(found.size());
  for (auto& [key, shared] : found) costs.push_back(std::move(shared));
  return costs;
}

}  // namespace scantling
