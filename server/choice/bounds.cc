// Every object's tiers for sale are an interval [least, most]: directives cut it from both ends, worst_octaves from
// below (a lower tier is never finer), and the forest passes demands along:
//
//   downwards  a container that may be COLOUR_PATCH at most caps what it holds at COLOUR_PATCH, one that must be
//   OMITTED
//              caps it at OMITTED
//   upwards    contents that need more than COLOUR_PATCH keep their container at PROXY or above, contents that need
//              COLOUR_PATCH keep it at COLOUR_PATCH or above
//
// Order matters: caps go down first, so that a ruling on a container counts as the directive that worst_octaves asks
// for; only then do worst_octaves and indirect sight raise floors, and only then do floors go up. After the downward
// pass every demand that goes up can be met, so the upward pass finds no contradiction.

#include "server/choice/bounds.h"

#include <algorithm>
#include <string>
#include <unordered_map>

#include "absl/strings/str_cat.h"

namespace scantling {
namespace {

absl::string_view View(std::string_view text) { return {text.data(), text.size()}; }

// The most contents may be under a container that may be `most` at most.
Tier CapUnder(Tier most) {
  if (most == Tier::kOmitted) return Tier::kOmitted;
  return most == Tier::kColourPatch ? Tier::kColourPatch : Tier::kFullRig;
}

// The least a container may be over contents that need `least`.
Tier NeedOver(Tier least) {
  if (least == Tier::kOmitted) return Tier::kOmitted;
  return least == Tier::kColourPatch ? Tier::kColourPatch : Tier::kProxy;
}

void Raise(Bound& least, const Bound& to) {
  if (to.tier > least.tier) least = to;
}

void Lower(Bound& most, const Bound& to) {
  if (to.tier < most.tier) most = to;
}

std::string Describe(const Scene& scene, uint32_t directive) {
  const Directive& ruling = scene.directives[directive];
  constexpr std::array<absl::string_view, 3> kScope = {"object ", "asset ", "class "};
  constexpr std::array<absl::string_view, 3> kBound = {"at least ", "at most ", "exactly "};
  return absl::StrCat("directives[", directive, "] (", kScope[static_cast<size_t>(ruling.scope)], ruling.target, " ",
                      kBound[static_cast<size_t>(ruling.bound)], View(Name(ruling.tier)), ")");
}

// Directives by what they name, so that one pass over the objects applies them all.
class DirectiveIndex {
 public:
  explicit DirectiveIndex(const Scene& scene) {
    for (uint32_t i = 0; i < scene.directives.size(); ++i) {
      const Directive& directive = scene.directives[i];
      by_target_[static_cast<size_t>(directive.scope)][directive.target].push_back(i);
    }
  }

  template <typename Visit>
  void ForEach(DirectiveScope scope, std::string_view target, Visit visit) const {
    const auto& of_scope = by_target_[static_cast<size_t>(scope)];
    if (of_scope.empty()) return;
    const auto found = of_scope.find(std::string(target));
    if (found == of_scope.end()) return;
    for (uint32_t directive : found->second) visit(directive);
  }

 private:
  std::array<std::unordered_map<std::string, std::vector<uint32_t>>, 3> by_target_;
};

void ApplyDirective(const Directive& directive, uint32_t index, TierBounds& bounds) {
  const Bound bound = {directive.tier, Bar::kDirective, index};
  if (directive.bound != DirectiveBound::kAtMost) Raise(bounds.least, bound);
  if (directive.bound != DirectiveBound::kAtLeast) Lower(bounds.most, bound);
}

void ApplyDirectives(const Scene& scene, const ClassCatalogue& catalogue, const ForestOrder& order,
                     BoundsResult& result) {
  if (scene.directives.empty()) return;
  const DirectiveIndex index(scene);
  for (uint32_t node = 0; node < result.bounds.size(); ++node) {
    const uint32_t row = order.row_of_node[node];
    const auto apply = [&](uint32_t directive) {
      ApplyDirective(scene.directives[directive], directive, result.bounds[node]);
      ++result.directive_matches[directive];
    };
    index.ForEach(DirectiveScope::kObject, scene.objects.id[row], apply);
    if (scene.objects.asset[row] != kNone) {
      index.ForEach(DirectiveScope::kAsset, scene.assets[scene.objects.asset[row]], apply);
    }
    index.ForEach(DirectiveScope::kClass, catalogue.classes[scene.objects.class_index[row]].name, apply);
  }
}

void PassCapsDown(const ForestOrder& order, std::vector<TierBounds>& bounds) {
  for (auto node = order.upward.rbegin(); node != order.upward.rend(); ++node) {
    const int32_t parent = order.parent[*node];
    if (parent < 0) continue;
    const Bound& above = bounds[static_cast<size_t>(parent)].most;
    Lower(bounds[*node].most, {CapUnder(above.tier), Bar::kContainer, above.by});
  }
}

void FindContradictions(const Scene& scene, const ForestOrder& order, const std::vector<TierBounds>& bounds,
                        Violations& violations) {
  for (uint32_t node = 0; node < bounds.size(); ++node) {
    const Bound& least = bounds[node].least;
    const Bound& most = bounds[node].most;
    if (least.tier <= most.tier) continue;
    const absl::string_view id = View(scene.objects.id[order.row_of_node[node]]);
    violations.Add(
        absl::StrCat("directives[", least.by, "]"),
        absl::StrCat("contradicts another ruling on object ", id, ": got ", Describe(scene, least.by), " and ",
                     Describe(scene, most.by), most.bar == Bar::kContainer ? " on what holds it" : "",
                     ", want rulings that leave at least one tier"));
  }
}

// Figures may not be coarser than the style's limit in any seen frame, unless a directive holds them there.
void ApplyWorstOctaves(const Scene& scene, const Legibility& legibility, const ClassCatalogue& catalogue,
                       const Style& style, const ForestOrder& order, std::vector<TierBounds>& bounds) {
  for (uint32_t node = 0; node < bounds.size(); ++node) {
    const uint32_t row = order.row_of_node[node];
    if (catalogue.classes[scene.objects.class_index[row]].kind != ClassKind::kFigure) continue;
    Tier finest_needed = Tier::kFullRig;
    for (Tier tier : kAllTiers) {
      if (tier != Tier::kFullRig && legibility.worst_octaves[row][Index(tier)] > style.worst_octaves) continue;
      finest_needed = tier;
      break;
    }
    Raise(bounds[node].least, {std::min(finest_needed, bounds[node].most.tier), Bar::kWorstOctaves, kNone});
  }
}

// What is seen only indirectly in some frame keeps at least its class's tier, unless a directive holds it lower.
void ApplyIndirectSight(const Scene& scene, const Legibility& legibility, const ClassCatalogue& catalogue,
                        const ForestOrder& order, std::vector<TierBounds>& bounds) {
  for (const Particulars& particulars : scene.particulars) {
    const uint32_t row = particulars.object;
    if (!IsSeenOnlyIndirectlySomewhere(scene, legibility, row)) continue;
    const Tier wanted = catalogue.classes[scene.objects.class_index[row]].least_tier_when_indirect;
    TierBounds& bound = bounds[order.node_of_row[row]];
    Raise(bound.least, {std::min(wanted, bound.most.tier), Bar::kIndirect, kNone});
  }
}

void PassNeedsUp(const ForestOrder& order, std::vector<TierBounds>& bounds) {
  for (uint32_t node : order.upward) {
    const int32_t parent = order.parent[node];
    if (parent < 0) continue;
    Raise(bounds[static_cast<size_t>(parent)].least, {NeedOver(bounds[node].least.tier), Bar::kContents, node});
  }
}

}  // namespace

BoundsResult BoundTiers(const Scene& scene, const Legibility& legibility, const ClassCatalogue& catalogue,
                        const Style& style, const ForestOrder& order, Violations& violations) {
  BoundsResult result;
  result.bounds.resize(scene.objects.size());
  result.directive_matches.assign(scene.directives.size(), 0);
  ApplyDirectives(scene, catalogue, order, result);
  PassCapsDown(order, result.bounds);
  const size_t faults_before = violations.count();
  FindContradictions(scene, order, result.bounds, violations);
  if (violations.count() != faults_before) return result;
  ApplyWorstOctaves(scene, legibility, catalogue, style, order, result.bounds);
  ApplyIndirectSight(scene, legibility, catalogue, order, result.bounds);
  PassNeedsUp(order, result.bounds);
  return result;
}

}  // namespace scantling
