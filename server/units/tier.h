// How much of an object is made. The order is the order of making: a lower tier makes less.

#ifndef SCANTLING_SERVER_UNITS_TIER_H_
#define SCANTLING_SERVER_UNITS_TIER_H_

#include <array>
#include <cstdint>
#include <string_view>

namespace scantling {

enum class Tier : uint8_t { kOmitted = 0, kColourPatch = 1, kProxy = 2, kFullRig = 3 };

inline constexpr int kTierCount = 4;
inline constexpr std::array<Tier, kTierCount> kAllTiers = {Tier::kOmitted, Tier::kColourPatch, Tier::kProxy,
                                                           Tier::kFullRig};

// Index into per-tier arrays: 0 OMITTED, 1 COLOUR_PATCH, 2 PROXY, 3 FULL_RIG.
constexpr int Index(Tier tier) { return static_cast<int>(tier); }

// A set of tiers, bit Index(t) for tier t.
using TierMask = uint8_t;
inline constexpr TierMask kAnyTier = 0b1111;
constexpr TierMask Bit(Tier tier) { return static_cast<TierMask>(1u << Index(tier)); }

// "FULL_RIG", "PROXY", "COLOUR_PATCH", "OMITTED".
constexpr std::string_view Name(Tier tier) {
  constexpr std::array<std::string_view, kTierCount> kNames = {"OMITTED", "COLOUR_PATCH", "PROXY", "FULL_RIG"};
  return kNames[static_cast<std::size_t>(Index(tier))];
}

template <typename T>
using PerTier = std::array<T, kTierCount>;

}  // namespace scantling

#endif  // SCANTLING_SERVER_UNITS_TIER_H_
