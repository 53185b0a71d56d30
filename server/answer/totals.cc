// Sums by class and tier (CostMix) for everything full, the plan and the unseen plans; ranges and savings come from
// costing/ with the same draws on both sides.
//
//   saving          everything full - plan
//   unseen saving   everything full - unseen plan, at each phi scale
//   bought saving   unseen plan (phi as given) - plan
//   saved by span   plan - plan with every choice by span taken
//
// What is paid once an asset counts to its class and tier, wherever some object takes that tier.

#include "server/answer/totals.h"

#include <algorithm>

namespace scantling {
namespace {

struct Mixes {
  explicit Mixes(size_t classes) : anim(classes), core(classes), other(classes) {}
  CostMix anim, core, other;
};

Mixes EverythingFull(const AnswerInput& input) {
  Mixes mixes(input.policy.catalogue.classes.size());
  for (uint32_t row : input.choice.row_of_node) {
    const uint16_t class_index = input.scene.objects.class_index[row];
    mixes.anim.Add(class_index, Tier::kFullRig, input.costs.full_anim_hours[row]);
    mixes.core.Add(class_index, Tier::kFullRig, input.costs.full_core_hours[row]);
    if (input.choice.has_other_hours()) {
      mixes.other.Add(class_index, Tier::kFullRig, input.costs.full_other_hours[row]);
    }
  }
  mixes.core.AddBase(BaseCoreHours(input.scene, input.policy.rates));
  return mixes;
}

// Calls visit(shared cost) for every one that some object's level pays.
template <typename Visit>
void ForEachPaid(const AnswerInput& input, const budget::Solution& solution, Visit visit) {
  for (size_t i = 0; i < input.choice.shared.size(); ++i) {
    const SharedCost& shared = input.choice.shared[i];
    const bool paid = std::any_of(shared.users.begin(), shared.users.end(), [&](uint32_t row) {
      return solution.level[input.choice.node_of_row[row]] == Index(shared.tier);
    });
    if (paid) visit(shared);
  }
}

Mixes MixesOf(const AnswerInput& input, const budget::Solution& solution) {
  Mixes mixes(input.policy.catalogue.classes.size());
  for (size_t node = 0; node < solution.level.size(); ++node) {
    const uint32_t row = input.choice.row_of_node[node];
    const uint8_t level = solution.level[node];
    const auto tier = static_cast<Tier>(level);
    const uint16_t class_index = input.scene.objects.class_index[row];
    mixes.anim.Add(class_index, tier, input.costs.anim_hours[row][level]);
    mixes.core.Add(class_index, tier, input.costs.core_hours[row][level]);
    if (input.choice.has_other_hours()) mixes.other.Add(class_index, tier, input.costs.other_hours[row][level]);
  }
  ForEachPaid(input, solution,
              [&](const SharedCost& shared) { mixes.anim.Add(shared.class_index, shared.tier, shared.anim_hours); });
  mixes.core.AddBase(BaseCoreHours(input.scene, input.policy.rates));
  return mixes;
}

CostRange RangesOf(const AnswerInput& input, const Mixes& mixes) {
  const RateCard& rates = input.policy.rates;
  CostRange range = {
      RangeOf(mixes.anim, CostKind::kAnimHours, rates), RangeOf(mixes.core, CostKind::kCoreHours, rates), {}};
  if (input.choice.has_other_hours()) range.other_hours = RangeOf(mixes.other, CostKind::kOtherHours, rates);
  return range;
}

CostRange SavingsOf(const AnswerInput& input, const Mixes& from, const Mixes& to) {
  const RateCard& rates = input.policy.rates;
  CostRange range = {SavingOf(from.anim, to.anim, CostKind::kAnimHours, rates),
                     SavingOf(from.core, to.core, CostKind::kCoreHours, rates),
                     {}};
  if (input.choice.has_other_hours()) {
    range.other_hours = SavingOf(from.other, to.other, CostKind::kOtherHours, rates);
  }
  return range;
}

// Frames would be animated, but for its standing still.
bool IsStill(const AnswerInput& input, uint32_t row) {
  return input.costs.animated_frames[row] > 0 && input.holds.still[row] != 0 && input.costs.kept_alive[row] == 0;
}

// The plan with every choice by span taken. What is saved counts as saved at the decision's own tier.
Mixes BySpan(const AnswerInput& input, Mixes plan, const std::vector<Decision>& decisions) {
  for (const Decision& decision : decisions) {
    const SpanChoice choice = SpanChoiceOf(input, decision);
    const uint16_t class_index = input.scene.objects.class_index[decision.object];
    plan.anim.Add(class_index, decision.tier, -choice.saved_anim_hours);
    plan.core.Add(class_index, decision.tier, -choice.saved_core_hours);
  }
  return plan;
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
  const auto price = [&](size_t k) {
    return k < solution.price.size() ? solution.price[k] * kLossQuantum / kHoursQuantum : 0.0;
  };
  totals.price_anim_hour = price(kAnimHours);
  totals.price_core_hour = price(kCoreHours);
  if (input.choice.has_other_hours()) totals.price_other_hour = price(kOtherHours);
}

// Hours, MB and members in their own units; a cell's cover in per cent of what all its members cover.
void FillLimits(const AnswerInput& input, Totals& totals) {
  const budget::Solution& solution = input.solution;
  for (size_t k = 0; k < input.choice.resources.size() && k < solution.used.size(); ++k) {
    const std::optional<int64_t>& capacity = input.choice.problem.capacity[k];
    if (!capacity) continue;
    const Resource& resource = input.choice.resources[k];
    double unit = resource.unit;
    if (resource.kind == LimitKind::kCellCover)
      unit = 100.0 / static_cast<double>(std::max<int64_t>(resource.whole, 1));
    totals.limits.push_back({resource, static_cast<double>(*capacity) * unit,
                             static_cast<double>(solution.used[k]) * unit, solution.price[k] * kLossQuantum / unit});
  }
}

void FillMemory(const AnswerInput& input, Totals& totals) {
  const std::vector<double>& memory = input.findings.memory_mb;
  totals.memory_mb.assign(memory.begin(), memory.end());
  totals.peak_memory_frame = input.scene.frames.first;
  for (size_t i = 0; i < memory.size(); ++i) {
    const int32_t frame = input.scene.frames.first + static_cast<int32_t>(i);
    if (memory[i] > totals.peak_memory_mb) {
      totals.peak_memory_mb = memory[i];
      totals.peak_memory_frame = frame;
    }
    // A quantum and a hair: what the solver met to the quantum is met.
    if (!input.budgets.memory_mb || memory[i] <= *input.budgets.memory_mb + kMemoryQuantum) continue;
    if (!totals.over_memory.empty() && totals.over_memory.back().last == frame - 1) {
      totals.over_memory.back().last = frame;
    } else {
      totals.over_memory.push_back({frame, frame});
    }
  }
}

}  // namespace

Totals TotalsOf(const AnswerInput& input, const std::vector<Decision>& decisions) {
  const RateCard& rates = input.policy.rates;
  Totals totals;
  CountDecisions(input, decisions, totals);
  const Mixes full = EverythingFull(input);
  const Mixes plan = MixesOf(input, input.solution);
  totals.everything_full = RangesOf(input, full);
  totals.plan = RangesOf(input, plan);
  totals.saving = SavingsOf(input, full, plan);
  totals.saved_by_span = SavingsOf(input, plan, BySpan(input, plan, decisions));
  for (size_t phi = 0; phi < kPhiScales; ++phi) {
    const Mixes unseen = MixesOf(input, input.unseen[phi]);
    totals.unseen_saving[phi] = SavingsOf(input, full, unseen);
    if (phi != kPhiAsGiven) continue;
    totals.unseen_plan = RangesOf(input, unseen);
    totals.bought_saving = SavingsOf(input, unseen, plan);
  }
  ForEachPaid(input, input.solution, [&](const SharedCost& shared) { totals.shared_anim_hours += shared.anim_hours; });
  FillProof(input, totals);
  FillLimits(input, totals);
  FillMemory(input, totals);
  totals.crowds = input.findings.crowds;
  totals.steadiness = input.findings.steadiness;
  totals.animator_weeks = totals.plan.anim_hours.mean / rates.hours_per_animator_week;
  return totals;
}

}  // namespace scantling
