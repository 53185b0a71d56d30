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
//   indirect sight    what is seen only by its shadow, reflection or light in some frame keeps at least its class's
//   tier,
//                     unless a directive asks for less
//   floors go up      a floor above COLOUR_PATCH forbids painting an ancestor in, one above OMITTED forbids omitting it
// A contradiction is a violation that names both sides. Alike groups share their bounds: what bars a tier to one bars
// it to all.
//
// Resources of the problem are the departments' hours, and after them what limits.h adds: budgets that only some shots
// have, each a column of its own.

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

// 1e-10 frame-octaves: one pixel of a 4096 x 2160 picture, one octave too coarse, for one frame, is 1130 of them. The
// largest total of 2^61 quanta is 2.3e8 frame-octaves.
inline constexpr double kLossQuantum = 1e-10;
// 1e-6 hours: 3.6 milliseconds. The largest total of 2^61 quanta is 2.3e12 hours; ties break by money, at most 20,000 a
// quantum, so what a shot may cost in all is bounded by 1.1e8 hours.
inline constexpr double kHoursQuantum = 1e-6;

// 1e-3 MB; and 1e-3 visible px summed over frames.
inline constexpr double kMemoryQuantum = 1e-3;
inline constexpr double kCoverQuantum = 1e-3;

inline constexpr int kAnimHours = 0;  // resource indices that always stand
inline constexpr int kCoreHours = 1;
inline constexpr int kOtherHours = 2;  // where the rate card has a third department; what follows depends on the shot

// What a resource of the problem stands for, in the order of its resources.
enum class LimitKind : uint8_t { kAnimHours, kCoreHours, kOtherHours, kFrameMemory, kCrowdShare, kCellCover };
struct Resource {
  LimitKind kind = LimitKind::kAnimHours;
  double unit = kHoursQuantum;  // of one quantum: hours, MB, members, px
  uint32_t crowd = kNone;       // kCrowdShare, kCellCover: into Scene::crowds
  int32_t cell = 0;             // kCellCover: row * columns + column
  int32_t frame = 0;            // kFrameMemory
  int64_t whole = 0;            // kCellCover: what all members cover, in quanta
};

// Rounded up, so that a loss that can be seen never becomes none; saturates at the largest total.
int64_t LossQuanta(double frame_octaves);
// Rounded to nearest; saturates at the largest total.
int64_t HoursQuanta(double hours);

// What keeps tiers above or below a bound from being sold.
enum class Bar : uint8_t {
  kNone,
  kDirective,     // `by` is the index of the directive
  kWorstOctaves,  // the style's limit; `by` is not used
  kIndirect,      // its shadow, reflection or light is seen where it is not; `by` is not used
  kContents,      // something it holds needs it; `by` is that node
  kContainer,     // a directive on a container above caps it; `by` is that directive
  kTwin,          // alike: one of its asset, container and band; `by` is that node, whose own bound says why
};

struct Bound {
  Tier tier = Tier::kOmitted;
  Bar bar = Bar::kNone;
  uint32_t by = kNone;
  friend bool operator==(const Bound&, const Bound&) = default;
};

// Tiers for sale are least.tier .. most.tier, always an interval.
struct TierBounds {
  Bound least = {Tier::kOmitted};
  Bound most = {Tier::kFullRig};
};

struct Choice {
  std::vector<uint32_t> row_of_node;  // canonical order: object row of node i
  std::vector<uint32_t> node_of_row;
  std::vector<TierBounds> bounds;           // per node
  std::vector<uint8_t> has_contents;        // per node: 1 where it holds others
  std::vector<uint32_t> directive_matches;  // per directive: objects it matched
  std::vector<int32_t> group;               // per node: which alike group, -1: on its own; empty: none asked for
  std::vector<Resource> resources;          // of the problem
  std::vector<SharedCost> shared;           // problem.fixed[i] is shared[i]; what follows in `fixed` is memory
  budget::Problem problem;                  // capacities of crowds set, none else

  bool has_other_hours() const {
    return resources.size() > kOtherHours && resources[kOtherHours].kind == LimitKind::kOtherHours;
  }
};

struct ChoiceInput {
  const Scene& scene;
  const Legibility& legibility;
  const TierCosts& costs;
  const Policy& policy;
  const Style& style;
  std::vector<SharedCost> shared = {};
  bool alike = false;  // see PlanOptions.alike
};

// Losses with phi as given. Faults (contradictory directives) go to `violations`, and the result is then not to be
// used. INVALID_ARGUMENT where totals overflow. O(n).
absl::StatusOr<Choice> BuildChoice(const ChoiceInput& input, Violations& violations);

// Losses of the same problem with phi at kPhiScale[phi]; masks and costs stay.
std::vector<int64_t> LossesAt(const Choice& choice, const Legibility& legibility, int phi);

}  // namespace scantling

#endif  // SCANTLING_SERVER_CHOICE_CHOICE_H_
