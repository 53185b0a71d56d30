// Which tiers of each object are for sale: directives, the style's worst_octaves, and the forest's own demands.

#ifndef SCANTLING_SERVER_CHOICE_BOUNDS_H_
#define SCANTLING_SERVER_CHOICE_BOUNDS_H_

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "server/choice/choice.h"
#include "server/choice/forest_order.h"

namespace scantling {

struct BoundsResult {
  std::vector<TierBounds> bounds;           // per node
  std::vector<uint32_t> directive_matches;  // per directive
};

struct BoundsInput {
  const Scene& scene;
  const Legibility& legibility;
  const ClassCatalogue& catalogue;
  const Style& style;
};

// `group`: per node, as Choice::group; empty: none. Contradictions go to `violations`, each naming both directives and
// the object; the bounds are then not to be used.
BoundsResult BoundTiers(const BoundsInput& input, const ForestOrder& order, std::span<const int32_t> group,
                        Violations& violations);

// The coarsest tier the style's worst_octaves leaves a figure; OMITTED for what is none. O(1).
Tier LeastByWorstOctaves(const BoundsInput& input, uint32_t row);

// The tier indirect sight keeps an object at; OMITTED where it is seen itself wherever it casts. O(its spans).
Tier LeastByIndirectSight(const BoundsInput& input, uint32_t row);

// Every directive with every node it matches. Node by node. O(objects + matches).
struct Ruling {
  uint32_t node = 0, directive = 0;
};
std::vector<Ruling> RulingsOf(const BoundsInput& input, std::span<const uint32_t> row_of_node);

// "class person at most PROXY".
std::string RulingWords(const Directive& directive);

// Tiers a directive leaves, a budget::Problem mask.
uint8_t MaskOf(const Directive& directive);

}  // namespace scantling

#endif  // SCANTLING_SERVER_CHOICE_BOUNDS_H_
