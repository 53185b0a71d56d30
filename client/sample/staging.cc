// The set, looking along -Z from the camera's track (x 0 to 8 m, z = 0), ground at y = 0.
//
//   z -8        the lamplighter and her dog, walking along with the camera
//   z -10..-60  market streets along X, each eight metres deep: a row of stalls, then a lane for people and carts;
//   right
//               of the quay's edge (x = 2) they end at z = -34, where the water begins
//   z -40..-54  right: small boats; z -62: the ferry, moored with its bow to the edge, deck 2.5 m above the ground
//   z -76..     left: terraced houses with windows and tenants, rows one behind the other
//   800..1500 m right: a hillside with reapers and hay carts, at honest size
//   up left, out of the picture until the whip: the hill town, honest at 560 to 840 m, all of it shrunk to a seventh
//               about the camera's last place, so that its picture is that of honest houses
//
// A larger cast widens the set by the square root of its number, so that half of it is off to the sides. Places are
// rounded to a tenth of a millimetre and sizes to 1/128 m, which keeps the written form short.

#include "client/sample/staging.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include "client/sample/camera.h"
#include "client/sample/random.h"
#include "client/sample/trig.h"

namespace scantling::sample {
namespace {

constexpr int kFullCast = 1500;
constexpr double kStreetPitch_m = 8;
constexpr double kFirstStreet_m = 17;   // depth of the first row of stalls
constexpr double kQuayEdge_m = 2;       // x where the water begins
constexpr int kStreets = 6;             // left of the edge
constexpr int kStreetsBesideWater = 3;  // right of it
constexpr double kHalfQuay_m = 50;
constexpr double kFerryDepth_m = 62;
constexpr double kFirstHouses_m = 76;
constexpr double kHouseRow_m = 18;
constexpr double kHouseWidth_m = 6;
constexpr int kHouseFloors = 3, kHouseBays = 3;
constexpr double kMostMovingPoses = 8e6;

double RoundPlace(double m) { return std::floor(m * 1e4 + 0.5) / 1e4; }
float RoundSize(double m) { return static_cast<float>(std::max(std::floor(m * 128 + 0.5), 1.0) / 128); }

std::string Numbered(const std::string& stem, int number, int digits) {
  char text[16];
  std::snprintf(text, sizeof text, "_%0*d", digits, number);
  return stem + text;
}

// Everything a placing function needs; the draws of one object.
struct Draft {
  const Set& set;
  int index;
  Random random;
  Staged out;
  double scale = 1;

  void At(double x_m, double y_m, double z_m) { out.start = {x_m, y_m, z_m}; }
};

// A side of the street: along +X or -X, exactly, so that walkers keep to their lanes.
void FaceAlongQuay(Draft& draft) { draft.out.yaw_turns = draft.random.Chance(0.5) ? 0.25 : -0.25; }

double AlongQuay(Draft& draft) {
  const double half_m = kHalfQuay_m * draft.set.width;
  return 4 + draft.random.Between(-half_m, half_m);
}

int StreetAt(Draft& draft, double x_m) {
  return static_cast<int>(draft.random.Below(x_m > kQuayEdge_m ? kStreetsBesideWater : kStreets));
}

// In the lane before a row of stalls.
void InLane(Draft& draft) {
  const double x_m = AlongQuay(draft);
  const double street_m = kFirstStreet_m + kStreetPitch_m * StreetAt(draft, x_m);
  draft.At(x_m, 0, -(street_m - draft.random.Between(1.5, 6.5)));
}

void PlaceLamplighter(Draft& draft) {
  draft.At(-0.9, 0, -kLeadDepth_m);
  draft.out.yaw_turns = 0.25;
}

void PlaceLampDog(Draft& draft) {
  draft.At(0.2, 0, -kLeadDepth_m + 0.5);
  draft.out.yaw_turns = 0.25;
}

Place FerryPlace(int index) {
  const int row = index % 8;
  const int column = index / 8;
  return {kQuayEdge_m + 1 + 15 + 40.0 * column, 0, -(kFerryDepth_m + 20.0 * row)};
}

void PlaceFerry(Draft& draft) { draft.out.start = FerryPlace(draft.index); }

void PlacePerson(Draft& draft) {
  InLane(draft);
  FaceAlongQuay(draft);
}

void PlacePassenger(Draft& draft) {
  const int ferry = draft.index % draft.set.counts[static_cast<int>(Role::kFerry)];
  const Place hull = FerryPlace(ferry);
  draft.out.container = ferry == 0 ? "ferry" : Numbered("ferry", ferry + 1, 3);
  draft.At(hull.x_m + draft.random.Between(-9, 9), kFerryDeck_m, hull.z_m + draft.random.Between(-3.25, 3.25));
  FaceAlongQuay(draft);
}

void PlaceBoat(Draft& draft) {
  const double right_m = 38 * std::max(draft.set.width, 1.0);
  draft.At(kQuayEdge_m + draft.random.Between(2, right_m), -0.5, -draft.random.Between(40, 54));
  draft.out.yaw_turns = draft.random.Between(0.15, 0.35);
}

void PlaceStall(Draft& draft) {
  const double x_m = AlongQuay(draft);
  draft.At(x_m, 0, -(kFirstStreet_m + kStreetPitch_m * StreetAt(draft, x_m)));
}

// Houses stand shoulder to shoulder from the quay's edge leftwards; a row takes as many as the set is wide.
Place HousePlace(const Set& set, int index) {
  const int a_row = std::max(1, static_cast<int>(20 * set.width));
  const int row = index / a_row;
  return {-1.0 - kHouseWidth_m * (index % a_row), 0, -(kFirstHouses_m + kHouseRow_m * row)};
}

void PlaceHouse(Draft& draft) { draft.out.start = HousePlace(draft.set, draft.index); }

// Windows and tenants go to the houses in turn; the second round takes the next bay of each front.
void PlaceInHouse(Draft& draft, double above_floor_m, double behind_front_m) {
  const int houses = draft.set.counts[static_cast<int>(Role::kDwelling)];
  const int house = draft.index % houses;
  const Place place = HousePlace(draft.set, house), bay = PlaceOfBay(BayOf(draft.set, draft.index));
  const double front_m = Stage(draft.set, Role::kDwelling, house).box_max_m[2];
  draft.out.container = Numbered(TraitsOf(Role::kDwelling).id_stem, house + 1, 3);
  draft.At(place.x_m + bay.x_m, bay.y_m + above_floor_m, place.z_m + front_m - behind_front_m);
}

void PlaceWindow(Draft& draft) { PlaceInHouse(draft, kSill_m, -0.1); }
void PlaceTenant(Draft& draft) { PlaceInHouse(draft, 0, 0.6); }

void PlaceGull(Draft& draft) {
  const double depth_m = draft.random.Between(15, 110);
  const double half_m = 30 * std::max(draft.set.width, 1.0);
  draft.At(4 + draft.random.Between(-half_m, half_m), 2.5 + depth_m * draft.random.Between(0.02, 0.12), -depth_m);
  draft.out.yaw_turns = draft.random.Unit();
  draft.out.turn_tps = (draft.random.Chance(0.5) ? 1 : -1) * draft.random.Between(0.06, 0.2);
}

void OnHillside(Draft& draft) {
  const double depth_m = draft.random.Between(800, 1500);
  const double slope_m = 85 + 0.143 * (depth_m - 800);  // above the ferry's roof, inside the picture
  const double right_m = depth_m * std::min(0.42 * std::max(draft.set.width, 1.0), 2.0);
  draft.At(draft.random.Between(0.05 * depth_m, right_m), slope_m, -depth_m);
  draft.out.yaw_turns = draft.random.Unit();
}

void PlaceTownHouse(Draft& draft) {
  const double half_turns = std::min(16 * draft.set.width, 50.0) / 360;
  const double left_turns = kWhipPan_turns + draft.random.Between(-half_turns, half_turns);
  const double up_hill = draft.random.Unit();
  const double honest_m = kTownHonestDistance_m * (0.8 + 0.4 * up_hill);
  const auto [sp, cp] = SinCosOfTurns(left_turns);
  const auto [st, ct] = SinCosOfTurns((11.5 + 12.5 * up_hill + draft.random.Between(-0.5, 0.5)) / 360);
  const double stage_m = honest_m / kTownCheat;
  draft.At(draft.set.town_eye_x_m - sp * ct * stage_m, kEyeHeight_m + st * stage_m, -cp * ct * stage_m);
  draft.out.yaw_turns = left_turns;
  draft.scale = 1 / kTownCheat;
}

void PlaceWall(Draft& draft) {
  const int side = draft.index % 2;  // along the water's two quays in turn
  const double along_m = 10.0 * (draft.index / 2);
  if (side == 0) {
    draft.At(kQuayEdge_m + 5 + along_m, 0, -36.5);
  } else {
    draft.At(kQuayEdge_m, 0, -42 - along_m);
    draft.out.yaw_turns = 0.25;
  }
}

// Lamp posts stand in front of the rows of stalls.
void PlaceLamp(Draft& draft) {
  const double x_m = AlongQuay(draft);
  draft.At(x_m, 0, -(kFirstStreet_m + kStreetPitch_m * StreetAt(draft, x_m) - 1.25));
}

void PlaceProp(Draft& draft) {
  const double x_m = AlongQuay(draft);
  const double street_m = kFirstStreet_m + kStreetPitch_m * StreetAt(draft, x_m);
  draft.At(x_m, 0, -(street_m + draft.random.Between(-1.4, 1.4)));
  draft.out.yaw_turns = draft.random.Unit();
  draft.scale = draft.random.Between(0.6, 1.5);
}

using Placing = void (*)(Draft&);
constexpr Placing kPlacings[kRoles] = {
    PlaceLamplighter, PlaceLampDog, PlaceFerry, PlacePerson,    PlacePassenger, PlacePerson, PlacePerson,
    PlacePerson,      PlacePerson,  PlaceBoat,  PlaceStall,     PlaceHouse,     PlaceWindow, PlaceTenant,
    PlaceGull,        OnHillside,   OnHillside, PlaceTownHouse, PlaceWall,      PlaceLamp,   PlaceProp};

double SpeedOf(Draft& draft, Role role) {
  switch (role) {
    case Role::kLamplighter:
    case Role::kLampDog:
      return draft.set.lead_speed_mps;
    case Role::kGull:
      return draft.random.Between(6, 10);
    case Role::kBicycle:
      return draft.random.Between(2.5, 4.5);
    case Role::kPassenger:
    case Role::kReaper:
    case Role::kBoat:
      return draft.random.Between(0.25, 0.6);
    default:
      return draft.random.Between(0.8, 1.5);
  }
}

bool IsLead(Role role) { return role == Role::kLamplighter || role == Role::kLampDog; }

std::string NameOf(Role role, int index) {
  const char* stem = TraitsOf(role).id_stem;
  return IsLead(role) || (role == Role::kFerry && index == 0) ? stem : Numbered(stem, index + 1, 3);
}

// An asset has its own build; an object of it differs by at most 1.5 hundredths. Built things keep their asset's size.
void Dress(Draft& draft, Role role) {
  const RoleTraits& traits = TraitsOf(role);
  const uint32_t asset = draft.random.Below(traits.assets);
  draft.out.asset =
      traits.assets == 1 ? traits.asset_stem : Numbered(traits.asset_stem, static_cast<int>(asset) + 1, 2);
  draft.out.colour = traits.colours[draft.random.Below(3)];
  const double build = traits.assets == 1 ? 1 : 0.92 + 0.16 * asset / (traits.assets - 1);
  const double size = traits.assets == 1 ? draft.scale : draft.scale * build * draft.random.Between(0.985, 1.015);
  const float half_width = RoundSize(traits.width_m * size / 2);
  const float half_length = RoundSize(traits.length_m * size / 2);
  draft.out.box_min_m[0] = -half_width;
  draft.out.box_min_m[2] = -half_length;
  draft.out.box_max_m[0] = half_width;
  draft.out.box_max_m[1] = RoundSize(traits.height_m * size);
  draft.out.box_max_m[2] = half_length;
}

}  // namespace

int BayOf(const Set& set, int index) {
  const int houses = set.counts[static_cast<int>(Role::kDwelling)];
  return (index / houses * 2 + index % houses) % (kHouseFloors * kHouseBays);
}

Place PlaceOfBay(int bay) { return {1.8 * (bay % kHouseBays - 1), 0.6 + 3.2 * (bay / kHouseBays), 0}; }

Set PlanSet(const SampleOptions& options) {
  const CameraTrack track = PlanTrack(options.frames);
  Set set;
  set.seed = options.seed;
  set.counts = CountRoles(options.objects);
  set.width = std::max(std::sqrt(static_cast<double>(options.objects) / kFullCast), 0.5);
  // Full shares up to 2,000 objects (about a fifth moves), 0.47 of them from 20,000 on (about a tenth).
  const double large = std::clamp((options.objects - 2000) / 18000.0, 0.0, 1.0);
  const double poses = 0.1 * options.objects * options.frames;
  set.moving = std::min(1 - 0.53 * large, 0.47 * kMostMovingPoses / poses);
  set.lead_speed_mps = track.speed_mps;
  set.town_eye_x_m = track.end_x_m();
  return set;
}

Staged Stage(const Set& set, Role role, int index) {
  Draft draft{set, index, Random(set.seed, static_cast<uint64_t>(role), static_cast<uint64_t>(index)), {}};
  kPlacings[static_cast<int>(role)](draft);
  Dress(draft, role);
  Staged& out = draft.out;
  out.role = role;
  out.id = NameOf(role, index);
  out.start = {RoundPlace(out.start.x_m), RoundPlace(out.start.y_m), RoundPlace(out.start.z_m)};
  if (IsLead(role) || draft.random.Chance(TraitsOf(role).moving * set.moving)) {
    out.speed_mps = SpeedOf(draft, role);
  } else {
    out.turn_tps = 0;
  }
  return std::move(out);
}

}  // namespace scantling::sample
