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
//
// Alike objects (siblings of one asset in one band) share the strictest bound of each kind among them, before and after
// each pass; the bound then says which twin it came from.

#include "server/choice/bounds.h"

#include <algorithm>
#include <array>
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
  return absl::StrCat("directives[", directive, "] (", RulingWords(scene.directives[directive]), ")");
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

// The bounds of all nodes, in the making.
class BoundMaking {
 public:
  BoundMaking(const BoundsInput& input, const ForestOrder& order, std::span<const int32_t> group)
      : input_(input), order_(order) {
    result_.bounds.resize(order.row_of_node.size());
    result_.directive_matches.assign(input.scene.directives.size(), 0);
    for (uint32_t node = 0; node < group.size(); ++node) {
      if (group[node] < 0) continue;
      const auto number = static_cast<size_t>(group[node]);
      if (number >= groups_.size()) groups_.resize(number + 1);
      groups_[number].push_back(node);
    }
  }

  BoundsResult Run(Violations& violations) {
    for (const Ruling& ruling : RulingsOf(input_, order_.row_of_node)) {
      ApplyDirective(input_.scene.directives[ruling.directive], ruling.directive, result_.bounds[ruling.node]);
      ++result_.directive_matches[ruling.directive];
    }
    // Sharing caps lowers what twins hold, passing caps down lowers twins: at most as many rounds as the forest is
    // deep.
    do PassCapsDown();
    while (ShareCaps());
    ShareNeeds();
    const size_t faults_before = violations.count();
    FindContradictions(violations);
    if (violations.count() != faults_before) return std::move(result_);
    ApplyWorstOctaves();
    ApplyIndirectSight();
    do PassNeedsUp();
    while (ShareNeeds());
    return std::move(result_);
  }

 private:
  // What is at the root of a bound that twins hand on.
  const Bound& LeastCause(const Bound& bound) const {
    const Bound* cause = &bound;
    while (cause->bar == Bar::kTwin) cause = &result_.bounds[cause->by].least;
    return *cause;
  }
  const Bound& MostCause(const Bound& bound) const {
    const Bound* cause = &bound;
    while (cause->bar == Bar::kTwin) cause = &result_.bounds[cause->by].most;
    return *cause;
  }

  void PassCapsDown() {
    for (auto node = order_.upward.rbegin(); node != order_.upward.rend(); ++node) {
      const int32_t parent = order_.parent[*node];
      if (parent < 0) continue;
      const Bound& above = result_.bounds[static_cast<size_t>(parent)].most;
      Lower(result_.bounds[*node].most, {CapUnder(above.tier), Bar::kContainer, MostCause(above).by});
    }
  }

  void PassNeedsUp() {
    for (uint32_t node : order_.upward) {
      const int32_t parent = order_.parent[node];
      if (parent < 0) continue;
      Raise(result_.bounds[static_cast<size_t>(parent)].least,
            {NeedOver(result_.bounds[node].least.tier), Bar::kContents, node});
    }
  }

  // The lowest cap, and the highest need, of a group are everyone's. True where that changed any bound.
  bool ShareCaps() {
    return Share([](const TierBounds& one, const TierBounds& other) { return one.most.tier < other.most.tier; },
                 [](TierBounds& bounds, Tier tier, uint32_t by) {
                   bounds.most = {tier, Bar::kTwin, by};
                 },
                 [](const TierBounds& bounds) { return bounds.most.tier; });
  }
  bool ShareNeeds() {
    return Share([](const TierBounds& one, const TierBounds& other) { return one.least.tier > other.least.tier; },
                 [](TierBounds& bounds, Tier tier, uint32_t by) {
                   bounds.least = {tier, Bar::kTwin, by};
                 },
                 [](const TierBounds& bounds) { return bounds.least.tier; });
  }
  template <typename Stricter, typename Set, typename TierIn>
  bool Share(Stricter stricter, Set set, TierIn tier_in) {
    bool changed = false;
    for (const std::vector<uint32_t>& members : groups_) {
      const uint32_t strictest = *std::min_element(members.begin(), members.end(), [&](uint32_t a, uint32_t b) {
        return stricter(result_.bounds[a], result_.bounds[b]);
      });
      for (const uint32_t member : members) {
        if (!stricter(result_.bounds[strictest], result_.bounds[member])) continue;
        set(result_.bounds[member], tier_in(result_.bounds[strictest]), strictest);
        changed = true;
      }
    }
    return changed;
  }

  void FindContradictions(Violations& violations) const {
    for (uint32_t node = 0; node < result_.bounds.size(); ++node) {
      const TierBounds& bounds = result_.bounds[node];
      if (bounds.least.tier <= bounds.most.tier) continue;
      const Bound &least = LeastCause(bounds.least), &most = MostCause(bounds.most);
      const bool of_twins = bounds.least.bar == Bar::kTwin || bounds.most.bar == Bar::kTwin;
      violations.Add(
          absl::StrCat("directives[", least.by, "]"),
          absl::StrCat("contradicts another ruling on object ", IdOf(node), ": got ", Describe(input_.scene, least.by),
                       " and ", Describe(input_.scene, most.by), most.bar == Bar::kContainer ? " on what holds it" : "",
                       of_twins ? " on objects that are to be alike" : "",
                       ", want rulings that leave at least one tier"));
    }
  }

  absl::string_view IdOf(uint32_t node) const { return View(input_.scene.objects.id[order_.row_of_node[node]]); }

  // Figures may not be coarser than the style's limit in any seen frame, unless a directive holds them there.
  void ApplyWorstOctaves() {
    for (uint32_t node = 0; node < result_.bounds.size(); ++node) {
      const Tier wanted = LeastByWorstOctaves(input_, order_.row_of_node[node]);
      TierBounds& bounds = result_.bounds[node];
      Raise(bounds.least, {std::min(wanted, bounds.most.tier), Bar::kWorstOctaves, kNone});
    }
  }

  // What is seen only indirectly in some frame keeps at least its class's tier, unless a directive holds it lower.
  void ApplyIndirectSight() {
    for (const Particulars& particulars : input_.scene.particulars) {
      const Tier wanted = LeastByIndirectSight(input_, particulars.object);
      TierBounds& bounds = result_.bounds[order_.node_of_row[particulars.object]];
      Raise(bounds.least, {std::min(wanted, bounds.most.tier), Bar::kIndirect, kNone});
    }
  }

  const BoundsInput& input_;
  const ForestOrder& order_;
  std::vector<std::vector<uint32_t>> groups_;  // nodes, rising
  BoundsResult result_;
};

}  // namespace

std::string RulingWords(const Directive& directive) {
  constexpr std::array<absl::string_view, 3> kScope = {"object ", "asset ", "class "};
  constexpr std::array<absl::string_view, 3> kBound = {" at least ", " at most ", " exactly "};
  return absl::StrCat(kScope[static_cast<size_t>(directive.scope)], directive.target,
                      kBound[static_cast<size_t>(directive.bound)], View(Name(directive.tier)));
}

std::vector<Ruling> RulingsOf(const BoundsInput& input, std::span<const uint32_t> row_of_node) {
  const Scene& scene = input.scene;
  std::vector<Ruling> rulings;
  if (scene.directives.empty()) return rulings;
  const DirectiveIndex index(scene);
  for (uint32_t node = 0; node < row_of_node.size(); ++node) {
    const uint32_t row = row_of_node[node];
    const auto add = [&](uint32_t directive) { rulings.push_back({node, directive}); };
    index.ForEach(DirectiveScope::kObject, scene.objects.id[row], add);
    if (scene.objects.asset[row] != kNone) {
      index.ForEach(DirectiveScope::kAsset, scene.assets[scene.objects.asset[row]], add);
    }
    index.ForEach(DirectiveScope::kClass, input.catalogue.classes[scene.objects.class_index[row]].name, add);
  }
  return rulings;
}

uint8_t MaskOf(const Directive& directive) {
  TierBounds bounds;
  ApplyDirective(directive, 0, bounds);
  uint8_t mask = 0;
  for (const Tier tier : kAllTiers) {
    if (bounds.least.tier <= tier && tier <= bounds.most.tier) mask |= Bit(tier);
  }
  return mask;
}

Tier LeastByWorstOctaves(const BoundsInput& input, uint32_t row) {
  if (input.catalogue.classes[input.scene.objects.class_index[row]].kind != ClassKind::kFigure) return Tier::kOmitted;
  for (const Tier tier : kAllTiers) {
    if (tier != Tier::kFullRig && input.legibility.worst_octaves[row][Index(tier)] > input.style.worst_octaves)
      continue;
    return tier;
  }
  return Tier::kFullRig;
}

Tier LeastByIndirectSight(const BoundsInput& input, uint32_t row) {
  if (!IsSeenOnlyIndirectlySomewhere(input.scene, input.legibility, row)) return Tier::kOmitted;
  return input.catalogue.classes[input.scene.objects.class_index[row]].least_tier_when_indirect;
}

BoundsResult BoundTiers(const BoundsInput& input, const ForestOrder& order, std::span<const int32_t> group,
                        Violations& violations) {
  return BoundMaking(input, order, group).Run(violations);
}

}  // namespace scantling
