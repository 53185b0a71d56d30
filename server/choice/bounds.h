// Which tiers of each object are for sale: directives, the style's worst_octaves, and the forest's own demands.

#ifndef SCANTLING_SERVER_CHOICE_BOUNDS_H_
#define SCANTLING_SERVER_CHOICE_BOUNDS_H_

#include <cstdint>
#include <vector>

#include "server/choice/choice.h"
#include "server/choice/forest_order.h"

namespace scantling {

struct BoundsResult {
  std::vector<TierBounds> bounds;           // per node
  std::vector<uint32_t> directive_matches;  // per directive
};

// Contradictions go to `violations`, each naming both directives and the object; the bounds are then not to be used.
BoundsResult BoundTiers(const Scene& scene, const Legibility& legibility, const ClassCatalogue& catalogue,
                        const Style& style, const ForestOrder& order, Violations& violations);

}  // namespace scantling

#endif  // SCANTLING_SERVER_CHOICE_BOUNDS_H_
