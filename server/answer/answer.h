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
#include "server/legibility/legibility.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/frames.h"
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
};

// Everything fixed-size about a decision; text is made on demand by ReasonText.
struct Decision {
  uint32_t object = 0;  // row in the scene
  Tier tier = Tier::kFullRig;
  Reason reason = Reason::kReadInFull;
  bool needs_animation = false;
  int32_t hold = 0, path_hold = 0;  // 0 where nothing needs animating
  double anim_hours = 0, core_hours = 0, loss = 0;
};

struct CostRange {
  Range anim_hours, core_hours;
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
};

struct Budgets {
  std::optional<double> anim_hours = std::nullopt;
  std::optional<double> core_hours = std::nullopt;
  bool unseen_mode() const { return !anim_hours && !core_hours; }
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
};

struct Plan {
  std::vector<Decision> decisions;  // canonical order
  Totals totals;
};

Plan AnswerOf(const AnswerInput& input);

// One sentence for a person: why the object is what it is.
std::string ReasonText(const AnswerInput& input, const Decision& decision);

// All four tiers, FULL_RIG first.
std::array<TierAnswer, kTierCount> TiersOf(const AnswerInput& input, const Decision& decision);

// Tier and hold of each span on its own, where that saves something against the decision throughout; else empty.
SpanChoice SpanChoiceOf(const AnswerInput& input, const Decision& decision);

// What would change the tier: by size (unseen reasons), by price (traded), or the directive that holds it.
std::vector<FlipAnswer> FlipsOf(const AnswerInput& input, const Decision& decision);

}  // namespace scantling

#endif  // SCANTLING_SERVER_ANSWER_ANSWER_H_
