// Turns figures into rows: for every object and tier an integer loss and integer costs, which tiers are for sale, and
// the forest of containers; ready for the solver.
//
// Integers. Loss counts in quanta of kLossQuantum frame-octaves, costs in quanta of kHoursQuantum hours, so that sums
// are exact whatever their order. Overflow is checked: the totals must stay under budget::kMaxTotal.
//
// Order. Node i of the problem is the i-th object in canonical order (by id), so the order of sending changes nothing.
//
// What is for sale (2-model sections 4 and 7):
//   directives        at least, at most, exactly; per object, asset and class; all that match are intersected
//   worst_octaves     figures: no tier coarser than that in any seen frame, unless a directive asks for it
//   floors go up      a floor above COLOUR_PATCH forbids painting an ancestor in, one above OMITTED forbids omitting it
// A contradiction is a violation that names both sides.

#ifndef SCANTLING_SERVER_CHOICE_CHOICE_H_
#define SCANTLING_SERVER_CHOICE_CHOICE_H_

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "server/budget/budget.h"
#include "server/costing/costing.h"
#include "server/legibility/legibility.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/tier.h"
#include "server/units/violations.h"

namespace scantling {

// 1e-12 frame-octaves: a millionth of a pixel-octave in a 2K picture is 6e-13. 2^61 quanta are 2.3 million frame-octaves.
inline constexpr double kLossQuantum = 1e-12;
// 1e-9 hours: 3.6 microseconds. 2^61 quanta are 2.3 billion hours.
inline constexpr double kHoursQuantum = 1e-9;

inline constexpr int kAnimHours = 0;  // resource indices
inline constexpr int kCoreHours = 1;
inline constexpr int kResources = 2;

int64_t LossQuanta(double frame_octaves);  // rounded to nearest
int64_t HoursQuanta(double hours);         // rounded to nearest; saturates at the largest total

// What keeps a tier from being sold.
enum class Bar : uint8_t {
  kNone,
  kDirective,       // index of the directive in Choice::barred_by
  kWorstOctaves,
  kContents,        // something it holds needs it
  kContainer,       // what holds it is bound to COLOUR_PATCH or OMITTED
};

struct Choice {
  std::vector<uint32_t> row_of_node;       // canonical order: object row of node i
  std::vector<uint32_t> node_of_row;
  std::vector<PerTier<Bar>> bar;           // per node
  std::vector<PerTier<uint32_t>> barred_by;  // per node: directive index, or node index for kContents and kContainer
  std::vector<uint32_t> directive_matches;   // per directive: objects it matched
  budget::Problem problem;                 // no capacities set
};

// Losses with phi at kPhiScale[phi]. Faults (contradictory directives) go to `violations`, and the result is then not to
// be used. INVALID_ARGUMENT where totals overflow.
absl::StatusOr<Choice> BuildChoice(const Scene& scene, const Legibility& legibility, const TierCosts& costs,
                                   const Policy& policy, const Style& style, Violations& violations);

// The same problem with the losses taken at another phi scale; masks and costs stay.
std::vector<int64_t> LossesAt(const Choice& choice, const Legibility& legibility, int phi);

}  // namespace scantling

#endif  // SCANTLING_SERVER_CHOICE_CHOICE_H_
