// Rates times what was seen: the price of every tier of every object.
//
// A straight pass over the object columns. Per object three figures come out of what was seen and are the same for all
// tiers: seconds to animate, the factor of the hold, and what is rendered (camera frames and megapixels); a tier's
// price is then four products. The factor (hold / reference hold)^-g has few values, one per hold of the style, and is
// tabulated once.
//
// Work already spent is taken off last, object by object, from the tier it was spent on alone: the price of the other
// tiers is what it would be to start on them now.

#include <algorithm>
#include <cmath>

#include "server/costing/costing.h"

namespace scantling {
namespace {

constexpr double kSecondsPerHour = 3600;
// A readable cycle keeps at least two poses (there and back) and gains nothing beyond six; between them one more for
// each octave of amplitude over the floor.
constexpr double kLeastPoses = 2, kMostPoses = 6;

// What one object needs at any tier.
struct Work {
  double animated_s = 0;  // on the hours of the reference hold
  double complexity = 1;
  double camera_frames = 0;
  double megapixels = 0;
};

double AnimHours(const Rate& rate, const Work& work) {
  return rate.setup_hours + rate.hours_per_second * work.complexity * work.animated_s;
}

double CoreHours(const Rate& rate, const Work& work, double renders_to_final) {
  const double core_s = rate.core_s_per_frame * work.camera_frames + rate.core_s_per_megapixel * work.megapixels;
  return renders_to_final * core_s / kSecondsPerHour;
}

// (hold / reference)^-g for holds 0 to the style's longest; 0 stands for no hold and is not read.
std::vector<double> HoldFactors(const Style& style, const RateCard& rates) {
  std::vector<double> factors(static_cast<size_t>(style.holds.back()) + 1, 0);
  for (const int32_t hold : style.holds) {
    factors[static_cast<size_t>(hold)] =
        std::pow(static_cast<double>(hold) / rates.reference_hold, -rates.hold_exponent);
  }
  return factors;
}

void PriceObject(const ClassRates& rates, const Work& work, bool contained, double renders_to_final, TierCosts& costs,
                 size_t object) {
  for (const Tier tier : {Tier::kColourPatch, Tier::kProxy, Tier::kFullRig}) {
    const auto t = static_cast<size_t>(Index(tier));
    const bool painted_in = contained && tier == Tier::kColourPatch;
    costs.anim_hours[object][t] = painted_in ? rates.paint_in_hours : AnimHours(rates.tier[t], work);
    costs.core_hours[object][t] = painted_in ? 0 : CoreHours(rates.tier[t], work, renders_to_final);
  }
}

// The yardstick: FULL_RIG on the reference hold through every camera over every frame, seen or not. What an object
// would cover in frames in which no camera sees it is unknown and counted as nothing.
void PriceEverythingFull(const Scene& scene, const Legibility& legibility, const RateCard& rates, size_t object,
                         TierCosts& costs) {
  const Rate& rate = rates.classes[scene.objects.class_index[object]].tier[static_cast<size_t>(Index(Tier::kFullRig))];
  Work work;
  work.animated_s = scene.frames.count() / scene.rate.frames_per_second();
  work.complexity = scene.objects.complexity[object];
  work.camera_frames = static_cast<double>(scene.frames.count()) * static_cast<double>(scene.cameras.size());
  work.megapixels = legibility.rendered_megapixels[object];
  costs.full_anim_hours[object] = AnimHours(rate, work);
  costs.full_core_hours[object] = CoreHours(rate, work, rates.renders_to_final);
}

void TakeOffSpentWork(const Scene& scene, TierCosts& costs) {
  for (const SpentWork& spent : scene.spent) {
    double& hours = costs.anim_hours[spent.object][static_cast<size_t>(Index(spent.tier))];
    hours = std::max(hours - spent.anim_hours, 0.0);
  }
}

}  // namespace

FrameSpans AnimatedSpans(std::span<const FrameRange> seen, const Style& style, FrameRange shot) {
  return WidenSpans(FrameSpans(seen.begin(), seen.end()), style.handle_frames, style.settle_frames, shot);
}

int32_t PoseHold(const ObjectClass& object_class, const Style& style, double height_over_floor,
                 double frames_per_second) {
  const double amplitude_over_floor = object_class.articulation * height_over_floor;
  const bool bounded = amplitude_over_floor >= 1 && object_class.cycles_per_second > 0;
  const double poses = bounded ? std::clamp(2 + std::log2(amplitude_over_floor), kLeastPoses, kMostPoses) : 0;
  int32_t chosen = 0;
  for (const int32_t hold : style.holds) {
    if (hold < object_class.least_hold || hold > object_class.greatest_hold) continue;
    const bool reads = !bounded || hold * object_class.cycles_per_second * poses <= frames_per_second;
    if (chosen == 0 || reads) chosen = hold;
  }
  return chosen;
}

TierCosts PriceTiers(const Scene& scene, const Legibility& legibility, const Policy& policy, const Style& style) {
  const size_t count = scene.objects.size();
  const double fps = scene.rate.frames_per_second();
  const std::vector<double> hold_factors = HoldFactors(style, policy.rates);
  TierCosts costs;
  costs.anim_hours.resize(count);
  costs.core_hours.resize(count);
  costs.animated_frames.resize(count);
  costs.hold.resize(count);
  costs.full_anim_hours.resize(count);
  costs.full_core_hours.resize(count);
  for (size_t i = 0; i < count; ++i) {
    const uint16_t class_index = scene.objects.class_index[i];
    costs.hold[i] = PoseHold(policy.catalogue.classes[class_index], style, legibility.height_over_floor[i], fps);
    PriceEverythingFull(scene, legibility, policy.rates, i, costs);
    if (legibility.seen_frames[i] == 0) continue;
    const FrameSpans spans = AnimatedSpans(legibility.spans_of(i), style, scene.frames);
    costs.animated_frames[i] = static_cast<int32_t>(CountFrames(spans));
    Work work;
    work.animated_s = costs.animated_frames[i] / fps * hold_factors[static_cast<size_t>(costs.hold[i])];
    work.complexity = scene.objects.complexity[i];
    work.camera_frames = legibility.seen_camera_frames[i];
    work.megapixels = legibility.rendered_megapixels[i];
    PriceObject(policy.rates.classes[class_index], work, scene.objects.container[i] != kNone,
                policy.rates.renders_to_final, costs, i);
  }
  TakeOffSpentWork(scene, costs);
  return costs;
}

double BaseCoreHours(const Scene& scene, const RateCard& rates) {
  const double camera_frames = static_cast<double>(scene.frames.count()) * static_cast<double>(scene.cameras.size());
  return rates.renders_to_final * rates.base_core_s_per_frame * camera_frames / kSecondsPerHour;
}

}  // namespace scantling
