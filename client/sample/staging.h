// Where everything of the demonstration shot stands, what it looks like and how it moves.

#ifndef SCANTLING_CLIENT_SAMPLE_STAGING_H_
#define SCANTLING_CLIENT_SAMPLE_STAGING_H_

#include <cstdint>
#include <string>

#include "client/sample/cast.h"
#include "client/sample/sample.h"

namespace scantling::sample {

inline constexpr double kLeadDepth_m = 8;             // the lamplighter, in front of the camera's track
inline constexpr double kTownHonestDistance_m = 700;  // where the hill town would stand if it were built in full
inline constexpr double kFerryDeck_m = 2.5;           // above the ground
inline constexpr double kSill_m = 0.9;                // of a window, above its floor
inline constexpr double kTownCheat = 7;               // built at 1/7 of its size, set 1/7 as far away

struct Place {
  double x_m = 0, y_m = 0, z_m = 0;
};

// One object, ready to be written. Local axes: x its width, y up from the ground it stands on, z the way it faces.
struct Staged {
  Role role = Role::kProp;
  std::string id;
  std::string asset;
  std::string container;  // empty: none
  uint32_t colour = 0;    // 0xRRGGBB
  float box_min_m[3] = {0, 0, 0};
  float box_max_m[3] = {0, 0, 0};
  Place start;           // at the first frame
  double yaw_turns = 0;  // about +Y; 0 faces +Z, a quarter faces +X
  double speed_mps = 0;  // along the way it faces; 0: it stays
  double turn_tps = 0;   // turns a second
};

// What the whole set shares.
struct Set {
  uint64_t seed = 1;
  RoleCounts counts{};
  double width = 1;   // of the set, against the full cast of 1500
  double moving = 1;  // factor on the roles' moving shares
  double lead_speed_mps = 0;
  double town_eye_x_m = 0;  // where the camera stands when it looks at the town
};

// The set for options that pass CheckSampleOptions.
Set PlanSet(const SampleOptions& options);

// The bay of a house's front at which window or tenant number `index` stands, and the place of that bay: x and floor
// height in the house's own axes (z 0).
int BayOf(const Set& set, int index);
Place PlaceOfBay(int bay);

// Object `index` (from 0) of a role of the set; index below set.counts[role]. Depends on nothing drawn before.
Staged Stage(const Set& set, Role role, int index);

}  // namespace scantling::sample

#endif  // SCANTLING_CLIENT_SAMPLE_STAGING_H_
