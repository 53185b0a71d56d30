// A tier for each run of seen frames and a hold for each of its sections, and what that saves against one choice
// throughout.
//
// Which frames are whose. Every frame that is animated, or rendered because the object is cast in it, belongs to the
// section it is nearest to (the earlier of two as near): handles go to their own run, a gap that is animated through is
// halved, and a frame in which the object is only cast is made as its nearest run is. So no frame counts twice, and
// with one tier and hold everywhere the hours are the plan's own.
//
// Rendering. Camera frames and megapixels are known for the whole shot only. A run is given its share of them by its
// seen frames, as if the object were as large in all of them: saved core-hours are an estimate, though one choice
// throughout again comes to the plan's own. (Lower tiers go to runs in which the object is small, so it is more likely
// too high than too low.)
//
// Which tiers. Free is what no seen frame of the run would show: phi_t * height / floor <= 1 (a set element's patch:
// turn / floor <= 1). Using more tiers means setting up more of them, so each set of tiers between `least` and `tier`
// is tried, at most eight; every run takes the lowest of the set that is free there. The set that saves most money at
// the rate card's prices stands, where no kind of hours rises. Set-ups that an asset shares are charged in full for a
// tier the plan does not give the object: whether others pay them is not this object's to know.

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "server/costing/costing.h"
#include "server/costing/work.h"

namespace scantling {
namespace {

// Hours are counted in millionths by the choice of tiers; less than one is rounding.
constexpr double kLeastHours = 1e-6;

// One section and what falls to it.
struct Part {
  FrameRange frames;
  int32_t hold = 0;
  Tier lowest = Tier::kFullRig;  // free in the whole run, from `tier` down to `least`
  double seconds = 0;            // to animate
  Rendered rendered;
};

// Frames of `spans` that are nearest to each section.
std::vector<int32_t> ShareOut(const FrameSpans& spans, std::span<const Section> sections) {
  std::vector<int32_t> counts(sections.size(), 0);
  size_t s = 0;
  const auto last_of = [&](size_t section) {  // of the frames that are nearest to it
    if (section + 1 == sections.size()) return std::numeric_limits<int32_t>::max();
    const int32_t last = sections[section].frames.last;
    return last + (sections[section + 1].frames.first - last) / 2;
  };
  for (FrameRange rest : spans) {
    while (rest.count() > 0) {
      while (last_of(s) < rest.first) ++s;
      const int32_t last = std::min(rest.last, last_of(s));
      counts[s] += last - rest.first + 1;
      if (last == rest.last) break;
      rest.first = last + 1;
    }
  }
  return counts;
}

// The ratio was rounded to a float: the next one up is at least what it was rounded from.
bool IsUnderFloor(double share, float size_over_floor) {
  return share * std::nextafter(size_over_floor, std::numeric_limits<float>::infinity()) <= 1;
}

bool IsFree(const ObjectClass& object_class, const Section& section, Tier tier) {
  if (tier == Tier::kFullRig) return true;
  const bool drops_unseen = IsUnderFloor(object_class.phi[static_cast<size_t>(Index(tier))], section.height_over_floor);
  if (object_class.kind == ClassKind::kFigure) return drops_unseen;
  const bool patch_unseen = IsUnderFloor(1, section.turn_over_floor);
  if (tier == Tier::kColourPatch) return patch_unseen;
  return tier == Tier::kProxy ? drops_unseen || patch_unseen : drops_unseen && patch_unseen;
}

// Lowest of `tier` down to `least` that all of `sections` are free at; `tier` itself is not asked.
Tier LowestFree(const ObjectClass& object_class, std::span<const Section> sections, Tier tier, Tier least) {
  Tier lowest = tier;
  for (int t = Index(tier) - 1; t >= Index(least); --t) {
    const auto below = static_cast<Tier>(t);
    if (!std::all_of(sections.begin(), sections.end(),
                     [&](const Section& section) { return IsFree(object_class, section, below); })) {
      break;
    }
    lowest = below;
  }
  return lowest;
}

// Writes `lowest`, run by run: sections that touch are one run.
void FindLowest(const ObjectClass& object_class, std::span<const Section> sections, Tier tier, Tier least,
                std::vector<Part>& parts) {
  for (size_t begin = 0; begin < sections.size();) {
    size_t end = begin + 1;
    while (end < sections.size() && sections[end].frames.first == sections[end - 1].frames.last + 1) ++end;
    const Tier lowest = LowestFree(object_class, sections.subspan(begin, end - begin), tier, least);
    for (; begin < end; ++begin) parts[begin].lowest = lowest;
  }
}

std::vector<Part> PartsOf(const PricingInput& input, uint32_t object, Tier tier, Tier least) {
  const Legibility& legibility = input.legibility;
  const std::span<const Section> sections = legibility.sections_of(object);
  const FrameSpans cast_unseen = CastUnseenFrames(input, object);
  const std::vector<int32_t> animated = ShareOut(AnimatedSpans(input.scene, legibility, input.style, object), sections);
  const std::vector<int32_t> cast = ShareOut(cast_unseen, sections);
  const double fps = input.scene.rate.frames_per_second();
  const auto cameras = static_cast<double>(input.scene.cameras.size());
  std::vector<Part> parts(sections.size());
  for (size_t s = 0; s < sections.size(); ++s) {
    Part& part = parts[s];
    part.frames = sections[s].frames;
    // What is cast unseen counts as near, so it keeps the hold found for the whole shot.
    part.hold =
        cast_unseen.empty() ? input.holds.section[legibility.section_begin[object] + s] : input.holds.pose[object];
    part.seconds = animated[s] / fps;
    const double share = static_cast<double>(part.frames.count()) / legibility.seen_frames[object];
    part.rendered.camera_frames = legibility.seen_camera_frames[object] * share + cast[s] * cameras;
    part.rendered.megapixels = legibility.rendered_megapixels[object] * share;
  }
  FindLowest(input.policy.catalogue.classes[input.scene.objects.class_index[object]], sections, tier, least, parts);
  return parts;
}

// Lowest tier of the set at or above `from`; the set has one.
Tier LowestOf(TierMask set, Tier from) {
  Tier tier = from;
  while ((set & Bit(tier)) == 0) tier = static_cast<Tier>(Index(tier) + 1);
  return tier;
}

struct Hours {
  double anim = 0, core = 0, other = 0;
};

class SpanPricer {
 public:
  SpanPricer(const PricingInput& input, const TierCosts& costs, uint32_t object, Tier tier, std::span<const Part> parts)
      : rates_(input.policy.rates), terms_(TermsOf(input, object)), tier_(tier), parts_(parts) {
    double seconds = 0;
    for (const Part& part : parts) {
      seconds += part.seconds;
      hold_factor_.push_back(HoldFactor(part.hold, rates_));
    }
    const double plan_factor = HoldFactor(input.holds.pose[object], rates_);
    for (const Tier each : kAllTiers) {
      const auto t = static_cast<size_t>(Index(each));
      const double unspent = SetUpHours(terms_, each) + MotionHours(terms_, each, seconds, plan_factor);
      // All of it where nothing is left to do: no span needs more than the whole shot does.
      spent_[t] = std::max(unspent - costs.anim_hours[object][t], 0.0);
    }
  }

  Hours Price(TierMask set) const {
    PerTier<double> anim = {}, seconds = {};
    Hours hours;
    TierMask used = 0;
    for (size_t p = 0; p < parts_.size(); ++p) {
      const Tier tier = LowestOf(set, parts_[p].lowest);
      used |= Bit(tier);
      anim[static_cast<size_t>(Index(tier))] += MotionHours(terms_, tier, parts_[p].seconds, hold_factor_[p]);
      seconds[static_cast<size_t>(Index(tier))] += parts_[p].seconds;
      hours.core += CoreHours(terms_, tier, parts_[p].rendered, rates_.renders_to_final);
    }
    for (const Tier tier : kAllTiers) {
      if ((used & Bit(tier)) == 0) continue;
      const auto t = static_cast<size_t>(Index(tier));
      hours.anim += std::max(SetUpHours(terms_, tier) + anim[t] - spent_[t], 0.0);
      if (terms_.shares && tier != tier_) hours.anim += SharedSetUpHours(terms_, tier);
      hours.other += OtherHours(terms_, tier, seconds[t]);
    }
    return hours;
  }

  // Whether an animator has anything to do at this tier.
  bool IsAnimated(Tier tier) const {
    const bool kept_alive = terms_.large && terms_.rates->keep_alive_hours_per_second > 0;
    return tier >= Tier::kProxy && RateOf(terms_, tier).hours_per_second > 0 && (!terms_.still || kept_alive);
  }

 private:
  const RateCard& rates_;
  const Terms terms_;
  const Tier tier_;  // the plan's
  const std::span<const Part> parts_;
  std::vector<double> hold_factor_;
  PerTier<double> spent_ = {};
};

double NoRounding(double hours) { return std::abs(hours) < kLeastHours ? 0 : hours; }

// Whether there may be anything to choose: another hold, or a lower tier, in any section. Asked of every object, so it
// builds nothing.
bool MayOfferAChoice(const PricingInput& input, uint32_t object, Tier tier, Tier least) {
  const std::span<const Section> sections = input.legibility.sections_of(object);
  const auto own_holds =
      std::span(input.holds.section).subspan(input.legibility.section_begin[object], sections.size());
  const uint8_t pose = input.holds.pose[object];
  if (std::any_of(own_holds.begin(), own_holds.end(), [&](uint8_t hold) { return hold != pose; })) return true;
  if (tier <= least) return false;
  const ObjectClass& object_class = input.policy.catalogue.classes[input.scene.objects.class_index[object]];
  const auto below = static_cast<Tier>(Index(tier) - 1);
  return std::any_of(sections.begin(), sections.end(),
                     [&](const Section& section) { return IsFree(object_class, section, below); });
}

}  // namespace

SpanChoice ChooseBySpan(const PricingInput& input, const TierCosts& costs, uint32_t object, Tier tier, Tier least) {
  const bool painted_in = input.scene.objects.container[object] != kNone && tier <= Tier::kColourPatch;
  if (painted_in || tier == Tier::kOmitted || !MayOfferAChoice(input, object, tier, least)) return {};

  const std::vector<Part> parts = PartsOf(input, object, tier, least);
  const SpanPricer pricer(input, costs, object, tier, parts);
  const RateCard& rates = input.policy.rates;
  const auto level = static_cast<size_t>(Index(tier));
  std::tuple<double, double, double, double> best = {0, 0, 0, 0};  // money, then hours of each kind
  TierMask best_set = 0;
  SpanChoice choice;
  for (TierMask below = 0; below < Bit(tier); ++below) {
    const auto set = static_cast<TierMask>(below | Bit(tier));
    const Hours hours = pricer.Price(set);
    const double anim = NoRounding(costs.anim_hours[object][level] - hours.anim);
    const double core = NoRounding(costs.core_hours[object][level] - hours.core);
    const double other = costs.other_hours.empty() ? 0 : NoRounding(costs.other_hours[object][level] - hours.other);
    if (anim < 0 || core < 0 || other < 0) continue;
    const double money =
        anim * rates.money_per_animator_hour + core * rates.money_per_core_hour + other * rates.money_per_other_hour;
    const std::tuple score = {money, anim, core, other};
    if (score <= best) continue;
    best = score;
    best_set = set;
    choice.saved_anim_hours = anim;
    choice.saved_core_hours = core;
    choice.saved_other_hours = other;
  }
  if (best_set == 0) return {};
  for (const Part& part : parts) {
    const Tier own = LowestOf(best_set, part.lowest);
    choice.spans.push_back({part.frames, own, pricer.IsAnimated(own) ? part.hold : 0});
  }
  return choice;
}

}  // namespace scantling
