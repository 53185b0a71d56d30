// The cast of the demonstration shot.
//
// Counts are given for the full cast of 1500 (two leads, one ferry, 1497 others) and shared out for other sizes by
// cumulated rounding, so that they always add up. Sizes are everyday ones (a person 1.68 m, a cart 1.8 m high; common
// knowledge, no source); they are multiples of 1/128 m, which both float and short decimals hold exactly.

#include "client/sample/cast.h"

#include <algorithm>

namespace scantling::sample {
namespace {

constexpr int kShares[kRoles] = {0, 0, 0, 400, 60, 8, 16, 20, 14, 24, 60, 40, 200, 160, 40, 90, 12, 220, 24, 30, 79};
constexpr int64_t kShareSum = 1497;
constexpr int kObjectsPerFerry = 1498;

constexpr RoleTraits kTraits[kRoles] = {
    {"lead", "lamplighter", "lamplighter", 1, 0.625f, 1.6875f, 0.5f, 1, {0xC8642C, 0xC8642C, 0xC8642C}},
    {"lead", "lamplighter/dog", "lamplighter_dog", 1, 0.28125f, 0.625f, 0.90625f, 1, {0xE8DCC0, 0xE8DCC0, 0xE8DCC0}},
    {"ferry", "ferry", "ferry", 1, 30, 7.5f, 9, 0, {0x7C3B32, 0x7C3B32, 0x7C3B32}},
    {"person", "crowd/person", "extra", 24, 0.59375f, 1.6875f, 0.4375f, 0.5, {0x5A4A52, 0x38435C, 0x8C6A4A}},
    {"passenger", "passenger", "traveller", 8, 0.59375f, 1.6875f, 0.4375f, 0.15, {0x4A4E60, 0x6C5348, 0x2E3A46}},
    {"dog", "market/dog", "stray", 3, 0.25f, 0.53125f, 0.8125f, 0.6, {0x6A5440, 0x38302C, 0xA89878}},
    {"cart", "market/cart", "cart", 4, 1.75f, 1.8125f, 3.25f, 0.5, {0x6E5236, 0x57452F, 0x7A6248}},
    {"bicycle", "market/bicycle", "bicycle", 3, 0.5625f, 1.09375f, 1.78125f, 0.7, {0x26282C, 0x4C2A28, 0x2A3C34}},
    {"handcart", "market/handcart", "handcart", 3, 0.9375f, 1.1875f, 1.875f, 0.5, {0x7A6248, 0x5C4A38, 0x8A7458}},
    {"boat", "harbour/boat", "boat", 5, 1.8125f, 1.5f, 5.5f, 0.15, {0x3E5A5C, 0x8A8470, 0x5C3430}},
    {"stall", "market/stall", "stall", 8, 3, 2.625f, 2, 0, {0xB8763A, 0x9C4038, 0x56685A}},
    {"dwelling", "house", "terrace", 6, 6, 11, 9, 0, {0xA08870, 0x8C7C78, 0x787468}},
    {"window", "window", "lit_window", 2, 0.90625f, 1.3125f, 0.125f, 0, {0xF4C860, 0xF0B850, 0xE8D890}},
    {"tenant", "tenant", "tenant", 6, 0.5625f, 1.65625f, 0.40625f, 0, {0x4C3C34, 0x5C4C44, 0x3C3438}},
    {"gull", "gull", "gull", 2, 1.1875f, 0.3125f, 0.5f, 1, {0xECECE8, 0xD8DCE0, 0xC8CCD4}},
    {"reaper", "hill/reaper", "reaper", 4, 0.59375f, 1.6875f, 0.4375f, 0.3, {0x8A7A58, 0x5E5A4C, 0xA89468}},
    {"hay_cart", "hill/hay_cart", "hay_cart", 2, 2.3125f, 2.8125f, 4.75f, 0.6, {0xC0A050, 0xB09048, 0xA88848}},
    {"hill_dwelling", "town/house", "hill_house", 8, 7, 8.5f, 8, 0, {0xB09C88, 0x988880, 0xC0B09C}},
    {"wall", "quay/wall", "quay_wall", 1, 10, 0.9375f, 0.625f, 0, {0x5C5C60, 0x545458, 0x646468}},
    {"lamp", "quay/lamp", "street_lamp", 2, 0.375f, 3.25f, 0.375f, 0, {0xF8D070, 0xF0C060, 0xF4C868}},
    {"prop", "market/prop", "prop", 12, 0.625f, 0.8125f, 0.625f, 0, {0x6A5844, 0x484038, 0x7C7060}},
};

int At(Role role) { return static_cast<int>(role); }

}  // namespace

const RoleTraits& TraitsOf(Role role) { return kTraits[At(role)]; }

RoleCounts CountRoles(int objects) {
  RoleCounts counts{};
  counts[At(Role::kLamplighter)] = 1;
  counts[At(Role::kLampDog)] = objects > 1;
  const int others = std::max(objects - 2, 0);
  const int ferries = others == 0 ? 0 : std::max(1, others / kObjectsPerFerry);
  counts[At(Role::kFerry)] = ferries;
  const int64_t rest = others - ferries;
  int64_t shares = 0;
  int64_t given = 0;
  for (int r = At(Role::kPerson); r < kRoles; ++r) {
    shares += kShares[r];
    const int64_t until = rest * shares / kShareSum;
    counts[r] = static_cast<int>(until - given);
    given = until;
  }
  if (counts[At(Role::kDwelling)] == 0) {
    int& people = counts[At(Role::kPerson)];
    people += counts[At(Role::kWindow)] + counts[At(Role::kTenant)];
    counts[At(Role::kWindow)] = counts[At(Role::kTenant)] = 0;
  }
  return counts;
}

}  // namespace scantling::sample
