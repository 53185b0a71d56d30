// What one object needs whatever its tier, and what a tier makes of it. Private to costing/: pricing.cc prices one tier
// throughout, by_span.cc a tier and a hold for each span, and both must come to the same hours for the same thing.

#ifndef SCANTLING_SERVER_COSTING_WORK_H_
#define SCANTLING_SERVER_COSTING_WORK_H_

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "server/costing/costing.h"

namespace scantling {

inline constexpr double kSecondsPerHour = 3600;

// How an object is priced over the shot.
struct Terms {
  const ClassRates* rates = nullptr;
  double complexity = 1;
  bool contained = false;  // its COLOUR_PATCH is painted in
  bool still = false;
  bool large = false;   // a figure of the style's keep_alive_floors or more
  bool shares = false;  // is of an asset: shared set-ups are paid once for all of it
};
Terms TermsOf(const PricingInput& input, uint32_t object);

inline const Rate& RateOf(const Terms& terms, Tier tier) { return terms.rates->tier[static_cast<size_t>(Index(tier))]; }

inline bool IsPaintedIn(const Terms& terms, Tier tier) { return terms.contained && tier == Tier::kColourPatch; }

// (hold / reference hold)^-g. hold >= 1.
inline double HoldFactor(int32_t hold, const RateCard& rates) {
  return std::pow(static_cast<double>(hold) / rates.reference_hold, -rates.hold_exponent);
}

// What is set up once for all who need it: an asset, or this object alone where it is of none.
inline double SharedSetUpHours(const Terms& terms, Tier tier) {
  return IsPaintedIn(terms, tier) ? 0 : RateOf(terms, tier).shared_setup_hours;
}

// The object's own.
inline double SetUpHours(const Terms& terms, Tier tier) {
  if (IsPaintedIn(terms, tier)) return terms.rates->paint_in_hours;
  return RateOf(terms, tier).setup_hours + (terms.shares ? 0 : SharedSetUpHours(terms, tier));
}

// Hours of animating `seconds` on a hold of this factor, without set-up. Linear in seconds, so that spans add up.
inline double MotionHours(const Terms& terms, Tier tier, double seconds, double hold_factor) {
  if (IsPaintedIn(terms, tier)) return 0;
  double hours_per_second = terms.still ? 0 : RateOf(terms, tier).hours_per_second * hold_factor;
  if (terms.large && tier >= Tier::kProxy) {
    hours_per_second = std::max(hours_per_second, terms.rates->keep_alive_hours_per_second);
  }
  return hours_per_second * terms.complexity * seconds;
}

// Hours of the third department.
inline double OtherHours(const Terms& terms, Tier tier, double seconds) {
  if (IsPaintedIn(terms, tier)) return 0;
  const Rate& rate = RateOf(terms, tier);
  return rate.other_setup_hours + (terms.still ? 0 : rate.other_hours_per_second * terms.complexity * seconds);
}

// What is rendered of an object.
struct Rendered {
  double camera_frames = 0;
  double megapixels = 0;
};

inline double CoreHours(const Rate& rate, const Rendered& rendered, double renders_to_final) {
  const double core_s =
      rate.core_s_per_frame * rendered.camera_frames + rate.core_s_per_megapixel * rendered.megapixels;
  return renders_to_final * core_s / kSecondsPerHour;
}

inline double CoreHours(const Terms& terms, Tier tier, const Rendered& rendered, double renders_to_final) {
  return IsPaintedIn(terms, tier) ? 0 : CoreHours(RateOf(terms, tier), rendered, renders_to_final);
}

// What is neither costs nothing at any tier.
bool IsSeenOrCast(const PricingInput& input, uint32_t object);

// Frames in which an object is cast and not seen: each is rendered once per camera, and nothing of it is covered.
FrameSpans CastUnseenFrames(const PricingInput& input, uint32_t object);

}  // namespace scantling

#endif  // SCANTLING_SERVER_COSTING_WORK_H_
