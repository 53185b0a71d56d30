// Who and what is in the demonstration shot: roles, how many of each, and the assets they are instances of.

#ifndef SCANTLING_CLIENT_SAMPLE_CAST_H_
#define SCANTLING_CLIENT_SAMPLE_CAST_H_

#include <array>
#include <cstdint>

namespace scantling::sample {

// In the order they stand in the shot; containers come before what they hold.
enum class Role : uint8_t {
  kLamplighter,
  kLampDog,
  kFerry,
  kPerson,
  kPassenger,
  kStrayDog,
  kCart,
  kBicycle,
  kHandcart,
  kBoat,
  kStall,
  kDwelling,
  kWindow,
  kTenant,
  kGull,
  kReaper,
  kHayCart,
  kHillDwelling,
  kWall,
  kLamp,
  kProp,
};
inline constexpr int kRoles = 21;

// What all objects of a role have in common. Sizes are metres at life size: width, height and length (along the way
// it faces); an asset and an object each vary the size by a few hundredths.
struct RoleTraits {
  const char* class_name;
  const char* id_stem;     // objects of the role are "<stem>_001", ...; leads: the stem alone
  const char* asset_stem;  // assets are "<stem>_01", ...; one asset: the stem alone
  uint32_t assets;         // how many assets the role shares
  float width_m, height_m, length_m;
  double moving;        // share that moves, in a small shot
  uint32_t colours[3];  // 0xRRGGBB; an object takes one
};

const RoleTraits& TraitsOf(Role role);

using RoleCounts = std::array<int, kRoles>;

// How many objects of each role a shot of `objects` holds (at least 1); they add up to `objects`. The lamplighter comes
// first, then her dog, then a ferry; the rest keep the shares of the full cast of 1500. Windows and tenants stand only
// where a house does. O(1).
RoleCounts CountRoles(int objects);

}  // namespace scantling::sample

#endif  // SCANTLING_CLIENT_SAMPLE_CAST_H_
