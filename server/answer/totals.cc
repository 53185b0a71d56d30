// Sums by class and tier (CostMix) for everything full, the plan and the unseen plans; ranges and savings come from
// costing/ with the same draws on both sides.
//
//   saving          everything full - plan
//   unseen saving   everything full - unseen plan, at each phi scale
//   bought saving   unseen plan (phi as given) - plan
//   saved by span   plan - plan with every choice by span taken

#include "server/answer/totals.h"

namespace scantling {
namespace {

struct Mixes {
  explicit Mixes(size_t classes) : anim(classes), core(classes) {}
  CostMix anim, core;

  void Add(uint16_t class_index, Tier tier, double anim_hours, double core_hours) {
    anim.Add(class_index, tier, anim_hours);
    core.Add(class_index, tier, core_hours);
  }
};

Mixes EverythingFull(const AnswerInput& input) {
  Mixes mixes(input.policy.catalogue.classes.size());
  for (uint32_t row : input.choice.row_of_node) {
    mixes.Add(input.scene.objects.class_index[row], Tier::kFullRig, input.costs.full_anim_hours[row],
              input.costs.full_core_hours[row]);
  }
  mixes.core.AddBase(BaseCoreHours(input.scene, input.policy.rates));
  return mixes;
}

Mixes MixesOf(const AnswerInput& input, const budget::Solution& solution) {
  Mixes mixes(input.policy.catalogue.classes.size());
  for (size_t node = 0; node < solution.level.size(); ++node) {
    const uint32_t row = input.choice.row_of_node[node];
    const uint8_t level = solution.level[node];
    mixes.Add(input.scene.objects.class_index[row], static_cast<Tier>(level), input.costs.anim_hours[row][level],
              input.costs.core_hours[row][level]);
  }
  mixes.core.AddBase(BaseCoreHours(input.scene, input.policy.rates));
  return mixes;
}

CostRange RangesOf(const Mixes& mixes, const RateCard& rates) {
  return {RangeOf(mixes.anim, CostKind::kAnimHours, rates), RangeOf(mixes.core, CostKind::kCoreHours, rates)};
}

CostRange SavingsOf(const Mixes& from, const Mixes& to, const RateCard& rates) {
  return {SavingOf(from.anim, to.anim, CostKind::kAnimHours, rates),
          SavingOf(from.core, to.core, CostKind::kCoreHours, rates)};
}

// Frames would be animated, but for its standing still.
bool IsStill(const AnswerInput& input, uint32_t row) {
  return input.costs.animated_frames[row] > 0 && input.holds.still[row] != 0 && input.costs.kept_alive[row] == 0;
}

// The plan with every choice by span taken. What is saved counts as saved at the decision's own tier.
Mixes BySpan(const AnswerInput& input, const std::vector<Decision>& decisions) {
  Mixes mixes(input.policy.catalogue.classes.size());
  for (const Decision& decision : decisions) {
    const SpanChoice choice = SpanChoiceOf(input, decision);
    mixes.Add(input.scene.objects.class_index[decision.object], decision.tier,
              decision.anim_hours - choice.saved_anim_hours, decision.core_hours - choice.saved_core_hours);
  }
  mixes.core.AddBase(BaseCoreHours(input.scene, input.policy.rates));
  return mixes;
}

void CountDecisions(const AnswerInput& input, const std::vector<Decision>& decisions, Totals& totals) {
  totals.objects = static_cast<int64_t>(decisions.size());
  int64_t animated_frames = 0;
  for (const Decision& decision : decisions) {
    ++totals.count[static_cast<size_t>(Index(decision.tier))];
    totals.painted_in += decision.reason == Reason::kPaintedIn;
    const Sight sight = input.legibility.sight[decision.object];
    totals.off_screen += sight == Sight::kOffScreen;
    totals.hidden += sight == Sight::kHidden;
    totals.still += IsStill(input, decision.object);
    totals.held_longer += decision.needs_animation && decision.hold > input.policy.rates.reference_hold;
    if (!decision.needs_animation) continue;
    ++totals.needs_animation;
    animated_frames += input.costs.animated_frames[decision.object];
  }
  totals.animated_seconds = static_cast<double>(animated_frames) / input.scene.rate.frames_per_second();
}

void FillProof(const AnswerInput& input, Totals& totals) {
  const budget::Solution& solution = input.solution;
  totals.loss = static_cast<double>(solution.loss) * kLossQuantum;
  totals.loss_bound = static_cast<double>(solution.bound) * kLossQuantum;
  totals.gap = solution.gap();
  totals.proved_optimal = solution.proved_optimal;
  totals.interrupted = solution.interrupted;
  if (solution.price.size() == kResources) {
    totals.price_anim_hour = solution.price[kAnimHours] * kLossQuantum / kHoursQuantum;
    totals.price_core_hour = solution.price[kCoreHours] * kLossQuantum / kHoursQuantum;
  }
}

}  // namespace

Totals TotalsOf(const AnswerInput& input, const std::vector<Decision>& decisions) {
  const RateCard& rates = input.policy.rates;
  Totals totals;
  CountDecisions(input, decisions, totals);
  const Mixes full = EverythingFull(input);
  const Mixes plan = MixesOf(input, input.solution);
  totals.everything_full = RangesOf(full, rates);
  totals.plan = RangesOf(plan, rates);
  totals.saving = SavingsOf(full, plan, rates);
  totals.saved_by_span = SavingsOf(plan, BySpan(input, decisions), rates);
  for (size_t phi = 0; phi < kPhiScales; ++phi) {
    const Mixes unseen = MixesOf(input, input.unseen[phi]);
    totals.unseen_saving[phi] = SavingsOf(full, unseen, rates);
    if (phi != kPhiAsGiven) continue;
    totals.unseen_plan = RangesOf(unseen, rates);
    totals.bought_saving = SavingsOf(unseen, plan, rates);
  }
  FillProof(input, totals);
  totals.animator_weeks = totals.plan.anim_hours.mean / rates.hours_per_animator_week;
  return totals;
}

}  // namespace scantling
