// Rates times what was seen or cast: the price of every tier of every object.
//
// A straight pass over the object columns. Per object three figures come out of what was seen and are the same for all
// tiers: seconds to animate, the factor of the hold, and what is rendered (camera frames and megapixels); a tier's
// price is then four products (work.h). The factor (hold / reference hold)^-g has few values, one per hold, and is
// tabulated once.
//
// What is cast and not seen has no place in the picture: its camera frames are counted (its shadow, reflection or light
// needs the thing in the frame), its megapixels are not.
//
// What an asset's objects share is priced apart (shared.cc), but in everything full: there it is added to one object of
// the asset, so that the column still sums to the whole.
//
// Work already spent is taken off last, object by object, from the tier it was spent on alone: the price of the other
// tiers is what it would be to start on them now.

#include <algorithm>
#include <unordered_set>

#include "server/costing/costing.h"
#include "server/costing/work.h"

namespace scantling {
namespace {

FrameSpans SeenFrames(const Legibility& legibility, uint32_t object) {
  const std::span<const FrameRange> spans = legibility.spans_of(object);
  return {spans.begin(), spans.end()};
}

// By hold, from 1 to the style's longest; 0 stands for no hold and is not read.
std::vector<double> HoldFactors(const Style& style, const RateCard& rates) {
  std::vector<double> factors = {0};
  for (int32_t hold = 1; hold <= style.holds.back(); ++hold) factors.push_back(HoldFactor(hold, rates));
  return factors;
}

Rendered RenderedOf(const PricingInput& input, uint32_t object) {
  Rendered rendered;
  const auto cast_unseen = static_cast<double>(CountFrames(CastUnseenFrames(input, object)));
  rendered.camera_frames =
      input.legibility.seen_camera_frames[object] + cast_unseen * static_cast<double>(input.scene.cameras.size());
  rendered.megapixels = input.legibility.rendered_megapixels[object];
  return rendered;
}

// The yardstick: FULL_RIG on the reference hold through every camera over every frame, seen or not. What an object
// would cover in frames in which no camera sees it is unknown and counted as nothing.
void PriceEverythingFull(const PricingInput& input, uint32_t object, TierCosts& costs) {
  const Scene& scene = input.scene;
  const RateCard& rates = input.policy.rates;
  const Rate& rate = rates.classes[scene.objects.class_index[object]].tier[static_cast<size_t>(Index(Tier::kFullRig))];
  const double seconds = scene.frames.count() / scene.rate.frames_per_second();
  const Rendered everything = {static_cast<double>(scene.frames.count()) * static_cast<double>(scene.cameras.size()),
                               input.legibility.rendered_megapixels[object]};
  costs.full_anim_hours[object] = rate.setup_hours + rate.hours_per_second * scene.objects.complexity[object] * seconds;
  costs.full_core_hours[object] = CoreHours(rate, everything, rates.renders_to_final);
  if (scene.objects.asset[object] == kNone) costs.full_anim_hours[object] += rate.shared_setup_hours;
  if (rates.other_department.empty()) return;
  costs.full_other_hours[object] =
      rate.other_setup_hours + rate.other_hours_per_second * scene.objects.complexity[object] * seconds;
}

void PriceObject(const PricingInput& input, double hold_factor, uint32_t object, TierCosts& costs) {
  const Terms terms = TermsOf(input, object);
  const double seconds = costs.animated_frames[object] / input.scene.rate.frames_per_second();
  const Rendered rendered = RenderedOf(input, object);
  for (const Tier tier : {Tier::kColourPatch, Tier::kProxy, Tier::kFullRig}) {
    const auto t = static_cast<size_t>(Index(tier));
    costs.anim_hours[object][t] = SetUpHours(terms, tier) + MotionHours(terms, tier, seconds, hold_factor);
    costs.core_hours[object][t] = CoreHours(terms, tier, rendered, input.policy.rates.renders_to_final);
    if (!costs.other_hours.empty()) costs.other_hours[object][t] = OtherHours(terms, tier, seconds);
  }
  costs.kept_alive[object] = terms.still && terms.large && terms.rates->keep_alive_hours_per_second > 0;
}

void TakeOffSpentWork(const Scene& scene, TierCosts& costs) {
  for (const SpentWork& spent : scene.spent) {
    double& hours = costs.anim_hours[spent.object][static_cast<size_t>(Index(spent.tier))];
    hours = std::max(hours - spent.anim_hours, 0.0);
  }
}

// Everything full sets every asset of a class up once: charged to its first object in canonical order.
void ChargeSharedOnceInFull(const PricingInput& input, TierCosts& costs) {
  const Objects& objects = input.scene.objects;
  std::unordered_set<uint64_t> charged;  // asset and class
  for (const uint32_t object : objects.canonical) {
    const double hours = input.policy.rates.classes[objects.class_index[object]]
                             .tier[static_cast<size_t>(Index(Tier::kFullRig))]
                             .shared_setup_hours;
    if (hours == 0 || objects.asset[object] == kNone) continue;
    if (charged.insert((uint64_t{objects.asset[object]} << 16) | objects.class_index[object]).second) {
      costs.full_anim_hours[object] += hours;
    }
  }
}

}  // namespace

bool IsSeenOrCast(const PricingInput& input, uint32_t object) {
  return input.legibility.seen_frames[object] > 0 || !IndirectFrames(input.scene, object).empty();
}

Terms TermsOf(const PricingInput& input, uint32_t object) {
  const Objects& objects = input.scene.objects;
  const uint16_t class_index = objects.class_index[object];
  Terms terms;
  terms.rates = &input.policy.rates.classes[class_index];
  terms.complexity = objects.complexity[object];
  terms.contained = objects.container[object] != kNone;
  terms.shares = objects.asset[object] != kNone;
  terms.still = input.holds.still[object] != 0;
  terms.large = input.policy.catalogue.classes[class_index].kind == ClassKind::kFigure &&
                input.legibility.height_over_floor[object] >= input.style.keep_alive_floors;
  return terms;
}

FrameSpans CastUnseenFrames(const PricingInput& input, uint32_t object) {
  const FrameSpans cast = IndirectFrames(input.scene, object);
  if (cast.empty()) return cast;  // nearly all objects
  return SubtractSpans(cast, SeenFrames(input.legibility, object));
}

FrameSpans AnimatedSpans(const Scene& scene, const Legibility& legibility, const Style& style, uint32_t object) {
  FrameSpans needed = SeenFrames(legibility, object);
  const FrameSpans cast = IndirectFrames(scene, object);
  if (!cast.empty()) needed = UniteSpans(needed, cast);
  FrameSpans widened = WidenSpans(needed, style.handle_frames, style.settle_frames, scene.frames);
  const FrameSpans& replaced = scene.replaced_of(object);
  return replaced.empty() ? widened : SubtractSpans(widened, replaced);
}

TierCosts PriceTiers(const PricingInput& input) {
  const size_t count = input.scene.objects.size();
  const std::vector<double> hold_factors = HoldFactors(input.style, input.policy.rates);
  TierCosts costs;
  costs.anim_hours.resize(count);
  costs.core_hours.resize(count);
  costs.animated_frames.resize(count);
  costs.kept_alive.resize(count);
  costs.full_anim_hours.resize(count);
  costs.full_core_hours.resize(count);
  if (!input.policy.rates.other_department.empty()) {
    costs.other_hours.resize(count);
    costs.full_other_hours.resize(count);
  }
  for (uint32_t i = 0; i < count; ++i) {
    PriceEverythingFull(input, i, costs);
    if (!IsSeenOrCast(input, i)) continue;
    costs.animated_frames[i] =
        static_cast<int32_t>(CountFrames(AnimatedSpans(input.scene, input.legibility, input.style, i)));
    PriceObject(input, hold_factors[input.holds.pose[i]], i, costs);
  }
  ChargeSharedOnceInFull(input, costs);
  TakeOffSpentWork(input.scene, costs);
  return costs;
}

RoughHours PriceRoughly(const Scene& scene, const Legibility& legibility, const RateCard& rates, uint32_t object) {
  RoughHours hours;
  if (legibility.seen_frames[object] == 0) return hours;
  const Objects& objects = scene.objects;
  Terms terms;
  terms.rates = &rates.classes[objects.class_index[object]];
  terms.complexity = objects.complexity[object];
  terms.contained = objects.container[object] != kNone;
  terms.shares = objects.asset[object] != kNone;
  const double seconds = legibility.seen_frames[object] / scene.rate.frames_per_second();
  const Rendered rendered = {static_cast<double>(legibility.seen_camera_frames[object]),
                             legibility.rendered_megapixels[object]};
  for (const Tier tier : {Tier::kColourPatch, Tier::kProxy, Tier::kFullRig}) {
    const auto t = static_cast<size_t>(Index(tier));
    hours.anim[t] = SetUpHours(terms, tier) + MotionHours(terms, tier, seconds, 1);
    hours.core[t] = CoreHours(terms, tier, rendered, rates.renders_to_final);
  }
  return hours;
}

double BaseCoreHours(const Scene& scene, const RateCard& rates) {
  const double camera_frames = static_cast<double>(scene.frames.count()) * static_cast<double>(scene.cameras.size());
  return rates.renders_to_final * rates.base_core_s_per_frame * camera_frames / kSecondsPerHour;
}

}  // namespace scantling
