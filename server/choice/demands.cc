// The bounds of bounds.cc taken apart again.
//
// There every bound is passed through the forest and says only who set it; here each demand stands alone with the nodes
// it names, and the solver passes it on. A floor of worst_octaves or of indirect sight is what it is with all
// directives in force: where a directive holds an object below it, it asks for no more than the directive leaves.

#include "server/choice/demands.h"

#include <algorithm>

#include "server/choice/bounds.h"

namespace scantling {
namespace {

constexpr uint8_t kEveryTier = 15;

uint8_t AtLeast(Tier tier) { return static_cast<uint8_t>(kEveryTier & ~(Bit(tier) - 1)); }

void AddFloor(DemandKind kind, uint32_t row, Tier wanted, const Choice& choice, std::vector<ShotDemand>& demands) {
  const uint32_t node = choice.node_of_row[row];
  const Tier least = std::min(wanted, choice.bounds[node].most.tier);
  if (least == Tier::kOmitted) return;
  ShotDemand demand = {kind, row, 0, least, {}};
  demand.demand.restrictions.push_back({static_cast<int32_t>(node), AtLeast(least)});
  demands.push_back(std::move(demand));
}

}  // namespace

ShotDemands DemandsOf(const ChoiceInput& input, const Choice& choice) {
  const BoundsInput bounds = {input.scene, input.legibility, input.policy.catalogue, input.style};
  ShotDemands result;
  result.rest = choice.problem;
  std::fill(result.rest.allowed.begin(), result.rest.allowed.end(), kEveryTier);

  std::vector<ShotDemand> rulings(input.scene.directives.size());
  for (const Ruling& ruling : RulingsOf(bounds, choice.row_of_node)) {
    const uint8_t mask = MaskOf(input.scene.directives[ruling.directive]);
    if (mask == kEveryTier) continue;
    rulings[ruling.directive].demand.restrictions.push_back({static_cast<int32_t>(ruling.node), mask});
  }
  for (uint32_t i = 0; i < rulings.size(); ++i) {
    if (rulings[i].demand.restrictions.empty()) continue;
    rulings[i].index = i;
    result.demands.push_back(std::move(rulings[i]));
  }
  for (const Particulars& particulars : input.scene.particulars) {
    AddFloor(DemandKind::kIndirectSight, particulars.object, LeastByIndirectSight(bounds, particulars.object), choice,
             result.demands);
  }
  for (const uint32_t row : choice.row_of_node) {
    AddFloor(DemandKind::kWorstOctaves, row, LeastByWorstOctaves(bounds, row), choice, result.demands);
  }
  for (size_t k = 0; k < choice.resources.size(); ++k) {
    const Resource& resource = choice.resources[k];
    const bool cell = resource.kind == LimitKind::kCellCover;
    if (!cell && resource.kind != LimitKind::kCrowdShare) continue;
    ShotDemand demand = {
        cell ? DemandKind::kCoveredShare : DemandKind::kKeepShare, resource.crowd, resource.cell, Tier::kOmitted, {}};
    demand.demand.resource = static_cast<int>(k);
    result.demands.push_back(std::move(demand));
  }
  return result;
}

}  // namespace scantling
