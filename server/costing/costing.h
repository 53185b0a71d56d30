// What each tier of each object costs, and with what certainty.
//
// Animation hours of tier t: setup + hours per second * complexity * animated seconds * (pose hold / reference
// hold)^-g; what is still has its set-up only; a figure as large as the style's keep_alive_floors, still or not, costs
// at least its class's keep-alive hours per animated second, times complexity, at FULL_RIG and PROXY. Animated: frames
// seen or cast, widened, replaced ones left out. Core-hours: renders to final * (core-seconds per frame * camera frames
// + per megapixel * covered megapixels) / 3600. Camera frames: those seen, and for each frame in which an object is
// cast and seen by no camera one per camera (which covers nothing). Hours already spent on a tier are taken off, not
// below zero. A contained object's COLOUR_PATCH is drawn into or onto its container: paint-in hours, no core-hours, no
// hours of the third department. Those are otherwise set-up + hours per second * complexity * animated seconds,
// whatever the hold; what is still has its set-up only, kept alive or not; spent animation hours do not touch them.
// What is neither seen nor cast in any frame costs nothing at any tier.
//
// A shared set-up is paid once a shot for all objects of one asset and class at one tier (SharedCostsOf); an object of
// no asset pays it in its own animation hours, at every tier it is not painted in at.
//
// "Everything full" is the yardstick savings are measured from: the object at FULL_RIG, animated on the reference hold
// and rendered through every camera over every frame of the shot, whether seen or not. Shared set-ups at FULL_RIG count
// once there too, for seen and unseen alike: the first object of each asset and class, by id, carries them.
// Starting rates: config/rates.yaml.

#ifndef SCANTLING_SERVER_COSTING_COSTING_H_
#define SCANTLING_SERVER_COSTING_COSTING_H_

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "server/legibility/holds.h"
#include "server/legibility/legibility.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/frames.h"
#include "server/units/tier.h"

namespace scantling {

// Columns by object row. OMITTED costs nothing. Core-hours never rise as the tier falls, nor do animation hours but
// where work already spent on a higher tier has made it the cheaper one.
struct TierCosts {
  std::vector<PerTier<double>> anim_hours;
  std::vector<PerTier<double>> core_hours;
  std::vector<PerTier<double>> other_hours;  // of the third department; no column (empty) where the card has none
  std::vector<int32_t> animated_frames;      // frames of AnimatedSpans, also of what is still
  std::vector<uint8_t> kept_alive;           // 1: still, but too large to be left wholly still
  std::vector<double> full_anim_hours;       // everything full, see above: spent hours not taken off, shared set-ups
                                             // with the first object of the asset and class
  std::vector<double> full_core_hours;
  std::vector<double> full_other_hours;  // empty where the card has no third department
};

// Frames in which an object is seen or seen indirectly, widened by handles, gaps closed, replaced frames left out.
// O(its spans).
FrameSpans AnimatedSpans(const Scene& scene, const Legibility& legibility, const Style& style, uint32_t object);

struct PricingInput {
  const Scene& scene;
  const Legibility& legibility;
  const Holds& holds;
  const Policy& policy;
  const Style& style;
};

// O(objects + seen spans + spent work).
TierCosts PriceTiers(const PricingInput& input);

// Rough figures of one measured object before its hold is known: on the reference hold, moving. For a first look.
struct RoughHours {
  PerTier<double> anim = {}, core = {};
};
RoughHours PriceRoughly(const Scene& scene, const Legibility& legibility, const RateCard& rates, uint32_t object);

// ---- What is paid once for many ---------------------------------------------------------------------------------

// A set-up that every object of one asset and class at one tier shares: hours once a shot where any of them takes it.
struct SharedCost {
  uint32_t asset = 0;
  uint16_t class_index = 0;
  Tier tier = Tier::kFullRig;
  double anim_hours = 0;        // > 0
  std::vector<uint32_t> users;  // rows in canonical order; those seen or cast, and not painted in at this tier
};

// Of every (asset, class, tier) whose rate has shared set-up hours and that has a user; in canonical order of their
// first users, then by tier, so that the order of sending changes nothing. What has no asset pays it in its own
// anim_hours. Hours spent on single objects are not taken off. O(objects); nothing where no rate has any.
std::vector<SharedCost> SharedCostsOf(const PricingInput& input);

// Memory that a frame needs. What is in a frame: objects seen or cast in it, at the tier they take, but where a drawing
// replaces them; what is painted in and what is OMITTED needs none. One asset at one tier is held once, for whichever
// class needs most. Figures of the card are rounded to thousandths of a MB; their sums are exact up to 9e12 MB.

// One thing that is held where any of its users takes the tier. A frame holds the sum.
struct FrameMemory {
  struct Holding {
    uint32_t asset = kNone;  // kNone: one object of no asset
    Tier tier = Tier::kFullRig;
    double memory_mb = 0;         // > 0
    std::vector<uint32_t> users;  // rows in canonical order, that are in the frame
  };
  std::vector<Holding> holdings;
};

// What every frame of a plan needs: `tier` by object row. One figure per frame of the shot.
// O(objects + spans log spans + frames).
std::vector<double> MemoryByFrame(const PricingInput& input, std::span<const Tier> tier);

// All that may be held in one frame of the shot, for every tier: what a limit on that frame is made of. Where classes
// need different amounts of one asset at one tier, the least is one holding, and what some need on top of it are others
// of fewer users: in every plan the paid holdings add up to MemoryByFrame. In canonical order of their first users,
// then by tier. O(objects log spans + holdings * users).
FrameMemory MemoryOfFrame(const PricingInput& input, int32_t frame);

// ---- Tier and hold by span ---------------------------------------------------------------------------------------

// One run of seen frames with a tier of its own, and a hold for each of its sections.
struct SpanTier {
  FrameRange frames;
  Tier tier = Tier::kFullRig;
  int32_t hold = 0;  // 0: nothing to animate
};
struct SpanChoice {
  std::vector<SpanTier> spans;                        // sections in order
  double saved_anim_hours = 0, saved_core_hours = 0;  // against `tier` throughout
  double saved_other_hours = 0;                       // 0 where the card has no third department
};

// A tier for each run of seen frames, and the section's own hold in each of its sections. A run may take a tier from
// `tier` down to `least` that loses nothing in any of its frames; it keeps `tier` where there is none. Every tier used
// is set up once, so of the sets of tiers the one that saves most money is taken, and every run gets the lowest of the
// set that loses nothing there. Empty where nothing is saved, where hours of any kind would rise, where the object is
// never seen, and where it is painted in (contained, at COLOUR_PATCH or lower). What an asset shares at another tier
// than `tier` is set up for this object alone, and what it shares at `tier` stays paid, so that no more is promised
// than can be had whatever the others of its asset take.
//
// Every animated frame, and every rendered frame in which the object is only cast, belongs to the section it is nearest
// to, the earlier of two: none counts twice, and one tier and hold throughout comes to costs.anim_hours and
// costs.other_hours. What is cast where it is not seen keeps its hold throughout. Camera frames seen and megapixels are
// shared out by seen frames, so saved core-hours are an estimate; one tier throughout comes to costs.core_hours.
//
// `costs` from the same input; least <= tier. O(its spans + sections).
SpanChoice ChooseBySpan(const PricingInput& input, const TierCosts& costs, uint32_t object, Tier tier, Tier least);

// Core-hours of the frames themselves, whatever is in them.
double BaseCoreHours(const Scene& scene, const RateCard& rates);

// ---- Ranges ------------------------------------------------------------------------------------------------------

struct Range {
  double mean = 0, p10 = 0, p50 = 0, p90 = 0;
};

// Hours (or core-hours) summed by class and tier: what the spread depends on.
class CostMix {
 public:
  explicit CostMix(size_t classes) : mean_(classes) {}
  void Add(uint16_t class_index, Tier tier, double figure) { mean_[class_index][Index(tier)] += figure; }
  void AddBase(double figure) { base_ += figure; }  // carries the show's and the shot's factor only
  const std::vector<PerTier<double>>& mean() const { return mean_; }
  double base() const { return base_; }
  double total() const;

 private:
  std::vector<PerTier<double>> mean_;
  double base_ = 0;
};

enum class CostKind : uint8_t { kAnimHours, kCoreHours, kOtherHours };  // kOtherHours spreads as kAnimHours does

// Log-normal factors of mean 1: one for the show, one for the shot, one per class, independent; each factor is one
// normal Z: figure i = mean_i exp(s_i Z - s_i^2 / 2), s^2 = ln(1 + cv^2). The sum is matched by its first two moments
// to a log-normal, whose quantiles these are. O(classes * tiers^2).
Range RangeOf(const CostMix& mix, CostKind kind, const RateCard& rates);

// Quantiles of full - plan with the same draws on both sides: kSavingDraws draws of a fixed seed. Not a difference of
// two independent sums. The mean is exact. Both mixes have the rate card's classes. Deterministic. O(draws * classes).
inline constexpr int kSavingDraws = 4096;
Range SavingOf(const CostMix& full, const CostMix& plan, CostKind kind, const RateCard& rates);

}  // namespace scantling

#endif  // SCANTLING_SERVER_COSTING_COSTING_H_
