// The answer in full: a decision for every object with its reason and figures, and totals with their proof.

#ifndef SCANTLING_SERVER_ANSWER_ANSWER_H_
#define SCANTLING_SERVER_ANSWER_ANSWER_H_

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "server/budget/budget.h"
#include "server/choice/choice.h"
#include "server/costing/costing.h"
#include "server/legibility/crowds.h"
#include "server/legibility/legibility.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/frames.h"
#include "server/units/stop.h"
#include "server/units/tier.h"

namespace scantling {

enum class Reason : uint8_t {
  kReadInFull,
  kOffScreen,
  kHidden,
  kUnreadable,
  kTraded,
  kDirective,
  kPaintedIn,
  kIndirectlySeen,
  kWorkDone,
  kTooSmall,
  kContainerOmitted,
  kHoldsContents,
  kReplaced,
  kKeptAsBefore,
  kCrowdShare,
  kLikeItsTwins,
};

struct TierAnswer {
  double anim_hours = 0, core_hours = 0;
  double loss = 0;  // frame-octaves
  double worst_octaves = 0;
  bool allowed = true;
  std::string why_not;  // one clause; empty where allowed
};

struct FlipAnswer {
  Tier tier = Tier::kFullRig;         // what it would become
  std::optional<double> size_factor;  // exactly one of these is set
  std::optional<double> price_factor;
  std::string directive;
  std::optional<double> anim_hours, core_hours, other_hours;  // that budget, in the relaxed plan
};

// Everything fixed-size about a decision; text is made on demand by ReasonText.
struct Decision {
  uint32_t object = 0;  // row in the scene
  Tier tier = Tier::kFullRig;
  Reason reason = Reason::kReadInFull;
  bool needs_animation = false;
  int32_t hold = 0, path_hold = 0;  // 0 where nothing needs animating
  double anim_hours = 0, core_hours = 0, loss = 0;
  double other_hours = 0;
  std::optional<Tier> earlier;  // in the earlier plan
};

struct CostRange {
  Range anim_hours, core_hours, other_hours;
};

// Something that bounded the plan.
struct LimitFigures {
  Resource resource;
  double most = 0, used = 0;  // hours, MB, members, % of what a cell's members cover
  double price = 0;           // fall in loss, frame-octaves, per further unit
};

// What became of a crowd.
struct CrowdFigures {
  int64_t members = 0, seen = 0, kept = 0;
  int32_t emptiest_cell = -1;  // -1: no cells asked for, or no member covers any
  double emptiest_share = 0;
  Twins twins;
};

struct Steadiness {
  int64_t earlier = 0, unknown = 0, changed = 0, changed_freely = 0;
  double loss = 0;  // frame-octaves
};

struct Totals {
  int64_t objects = 0;
  PerTier<int64_t> count = {};
  int64_t needs_animation = 0, painted_in = 0;
  int64_t off_screen = 0, hidden = 0;  // never in frame; in frame, never visible
  int64_t still = 0;                   // seen or cast, nothing to animate at any tier
  int64_t held_longer = 0;             // needs animating, on a longer hold than the hours are quoted on
  CostRange saved_by_span;             // if every object took its choice by span; not in `plan`
  CostRange everything_full, plan, saving, unseen_plan, bought_saving;
  std::array<CostRange, kPhiScales> unseen_saving;
  double loss = 0, loss_bound = 0, gap = 0;
  bool proved_optimal = false, interrupted = false;
  double price_anim_hour = 0, price_core_hour = 0;  // fall in loss, frame-octaves, per further hour
  double animator_weeks = 0, animated_seconds = 0;
  double price_other_hour = 0;
  double shared_anim_hours = 0;  // of the plan's animator-hours, those paid once an asset
  double peak_memory_mb = 0;
  int32_t peak_memory_frame = 0;  // the first such
  FrameSpans over_memory;         // frames above the memory asked for
  std::vector<float> memory_mb;   // per frame
  std::vector<LimitFigures> limits;
  std::vector<CrowdFigures> crowds;  // as in the scene
  std::optional<Steadiness> steadiness;
};

struct Budgets {
  std::optional<double> anim_hours = std::nullopt;
  std::optional<double> core_hours = std::nullopt;
  std::optional<double> other_hours = std::nullopt;
  std::optional<double> memory_mb = std::nullopt;  // most any frame may need
  bool unseen_mode() const { return !anim_hours && !core_hours && !other_hours && !memory_mb; }
};

// What planning found out beside the solutions, for the totals.
struct PlanFindings {
  std::vector<double> memory_mb;     // per frame, of the plan
  std::vector<CrowdFigures> crowds;  // as in the scene
  std::optional<Steadiness> steadiness;
  std::vector<std::optional<Tier>> earlier;  // per node; empty: no earlier plan
  std::vector<uint8_t> steady;               // per node: 1 where the margin kept it; empty: none
  std::vector<uint8_t> twinned;              // per node: 1 where it had to take a tier with others; empty: none
};

// All that the answer reads. Solutions at the three phi scales are the unseen plans.
struct AnswerInput {
  const Scene& scene;
  const Legibility& legibility;
  const Holds& holds;
  const TierCosts& costs;
  const Choice& choice;
  const Policy& policy;
  const Style& style;
  Budgets budgets;
  const budget::Solution& solution;                        // the plan
  const std::array<budget::Solution, kPhiScales>& unseen;  // least loss, then least money
  const PlanFindings& findings;
};

struct Plan {
  std::vector<Decision> decisions;  // canonical order
  Totals totals;
};

Plan AnswerOf(const AnswerInput& input);

// One sentence for a person: why the object is what it is. It quotes the object's own figures and rulings.
std::string ReasonText(const AnswerInput& input, const Decision& decision);

// The same with the prices of the day, where it was traded for a budget.
std::string PricedReasonText(const AnswerInput& input, const Decision& decision);

// All four tiers, FULL_RIG first.
std::array<TierAnswer, kTierCount> TiersOf(const AnswerInput& input, const Decision& decision);

// Tier and hold of each span on its own, where that saves something against the decision throughout; else empty.
SpanChoice SpanChoiceOf(const AnswerInput& input, const Decision& decision);

// What would change the tier: by size (unseen reasons), by price and by each budget (budget mode), or the directive
// that holds it. Budget flips take some forty duals each; where the stop comes in they are left out.
std::vector<FlipAnswer> FlipsOf(const AnswerInput& input, const Decision& decision, const Stop& stop = Stop());

}  // namespace scantling

#endif  // SCANTLING_SERVER_ANSWER_ANSWER_H_
