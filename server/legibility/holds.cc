// Holds in five steps: what is still; who shares a hold; the hold of each such unit's poses and path; the phases of
// crowds; and what of it each object and section gets.
//
// The hold of a shared unit comes from those of its members that need animating (where none does, from all), and goes
// to all of them. Its jumps are the largest of any member's, hold by hold and phase by phase, so that the one choice
// that is made for a single object is made for a unit too.
//
// m = clamp(2 + log2(psi h / floor), 2, 6): a readable cycle keeps at least two poses (there and back) and gains
// nothing beyond six; between them one more for each octave of amplitude over the floor. (Starting values; common
// practice, no source.)

#include "server/legibility/holds.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <tuple>

#include "server/legibility/carried.h"
#include "server/legibility/hold_sharing.h"
#include "server/legibility/path_hold.h"
#include "server/legibility/stagger.h"

namespace scantling {
namespace {

constexpr double kLeastPoses = 2, kMostPoses = 6;
constexpr double kNear = std::numeric_limits<double>::infinity();  // height over floor of what casts from off screen

// 24000/1001 frames a second count as 24, which they are a thousandth short of: a walk that is on twos at 24 is not to
// go on ones for that.
constexpr double kRateSlack = 1.002;

double Amplitude(const ObjectClass& object_class, double height_over_floor) {
  const bool moves = object_class.articulation > 0 && object_class.cycles_per_second > 0;
  return moves ? object_class.articulation * height_over_floor : 0;
}

int32_t LongestThatReads(const Style& style, HoldBounds bounds, double poses_per_second, double frames_per_second) {
  int32_t chosen = 0;
  for (const int32_t hold : style.holds) {
    if (hold < bounds.least || hold > bounds.greatest) continue;
    if (chosen == 0 || hold * poses_per_second <= frames_per_second * kRateSlack) chosen = hold;
  }
  return chosen;
}

// One object, or several that share a hold.
struct Unit {
  PathHold path;
  int32_t pose = 1;
  uint32_t first = 0;     // the first member that counts
  bool animated = false;  // some member needs it
};

class Assigning {
 public:
  Assigning(const ShotOptics& optics, const Legibility& legibility)
      : scene_(*optics.scene),
        catalogue_(*optics.catalogue),
        style_(*optics.style),
        legibility_(legibility),
        frames_per_second_(scene_.rate.frames_per_second()) {
    for (const ObjectClass& object_class : catalogue_.classes) bounds_.push_back(HoldBoundsOf(style_, object_class));
  }

  Holds Run(const HoldOptions& options);

 private:
  const ObjectClass& ClassOf(uint32_t row) const { return catalogue_.classes[scene_.objects.class_index[row]]; }
  HoldBounds BoundsOf(uint32_t row) const { return bounds_[scene_.objects.class_index[row]]; }
  int32_t PoseHoldOf(uint32_t row, double height_over_floor) const {
    const double poses = PosesPerCycle(ClassOf(row), height_over_floor);
    return LongestThatReads(style_, BoundsOf(row), poses * ClassOf(row).cycles_per_second, frames_per_second_);
  }
  std::span<const Jump> JumpsOf(uint32_t row) const;
  bool CanSlip(uint32_t row) const {
    return ClassOf(row).contact == Contact::kGround && legibility_.motion.feet_unseen[row] == 0;
  }

  void Resize();
  void JudgeAlone(uint32_t row);
  bool IsStill(uint32_t row, bool cast_unseen) const;
  UnitJumps JumpsTogether(std::span<const uint32_t> members, bool animated);
  Unit ChooseFor(std::span<const uint32_t> members);
  std::vector<int32_t> ChoosePhases() const;
  void Write(std::span<const uint32_t> members, const Unit& unit, int32_t phase);
  void WritePath(uint32_t row, const Unit& unit, int32_t phase);
  void WriteSections(uint32_t row, bool shared);

  const Scene& scene_;
  const ClassCatalogue& catalogue_;
  const Style& style_;
  const Legibility& legibility_;
  const double frames_per_second_;
  std::vector<HoldBounds> bounds_;  // by class
  std::vector<uint8_t> animated_;   // by row: seen or cast, and not still
  std::vector<Unit> units_;
  std::vector<Jump> together_;  // of the unit at hand
  Holds holds_;
};

Holds Assigning::Run(const HoldOptions& options) {
  Resize();
  for (uint32_t row = 0; row < scene_.objects.size(); ++row) JudgeAlone(row);
  const HoldUnits shared = ShareHolds(scene_, options.share_in_containers);
  units_.reserve(shared.size());
  for (size_t u = 0; u < shared.size(); ++u) units_.push_back(ChooseFor(shared.members_of(u)));
  const std::vector<int32_t> phases = ChoosePhases();
  for (size_t u = 0; u < shared.size(); ++u) Write(shared.members_of(u), units_[u], phases[u]);
  return std::move(holds_);
}

void Assigning::Resize() {
  const size_t count = scene_.objects.size();
  animated_.resize(count);
  holds_.still.resize(count);
  holds_.poses_per_cycle.resize(count);
  holds_.pose.resize(count);
  holds_.path.resize(count);
  holds_.phase.resize(count);
  holds_.split.resize(count);
  holds_.path_jump_px.resize(count);
  holds_.contact_slip_px.resize(count);
  holds_.section.resize(legibility_.sections.size());
}

std::span<const Jump> Assigning::JumpsOf(uint32_t row) const {
  const uint32_t first = legibility_.motion.first_jump[row];
  if (first == kNone) return {};
  return std::span(legibility_.motion.jumps).subspan(first, JumpCount(style_));
}

// What is cast where nobody sees the object itself has no size there, and counts as near.
void Assigning::JudgeAlone(uint32_t row) {
  const uint32_t particulars = scene_.objects.particulars[row];
  const bool cast_unseen = particulars != kNone && !scene_.particulars[particulars].indirect.empty() &&
                           IsSeenOnlyIndirectlySomewhere(scene_, legibility_, row);
  const double height_over_floor = cast_unseen ? kNear : static_cast<double>(legibility_.height_over_floor[row]);
  holds_.poses_per_cycle[row] = static_cast<float>(PosesPerCycle(ClassOf(row), height_over_floor));
  holds_.pose[row] = static_cast<uint8_t>(PoseHoldOf(row, height_over_floor));
  holds_.still[row] = IsStill(row, cast_unseen) ? 1 : 0;
  const bool looked_at = cast_unseen || legibility_.seen_frames[row] > 0;
  animated_[row] = looked_at && holds_.still[row] == 0 ? 1 : 0;
}

bool Assigning::IsStill(uint32_t row, bool cast_unseen) const {
  const ObjectClass& object_class = ClassOf(row);
  if (cast_unseen) {
    const bool acts = object_class.moves_at_rest && Amplitude(object_class, 1) > 0;
    if (acts || PoseOrContainersChanges(scene_, row)) return false;
  }
  if (legibility_.motion.travel_over_floor[row] > 1) return false;
  if (Amplitude(object_class, legibility_.height_over_floor[row]) <= 1) return true;
  if (scene_.objects.chunk[row] == kNone) return false;  // whether it travels is not known
  const std::span<const FrameRange> seen = legibility_.spans_of(row);
  return !object_class.moves_at_rest && !PathMoves(scene_, row, {seen.begin(), seen.end()});
}

// The largest jumps of the members that count.
UnitJumps Assigning::JumpsTogether(std::span<const uint32_t> members, bool animated) {
  together_.clear();
  for (const uint32_t row : members) {
    const std::span<const Jump> jumps = JumpsOf(row);
    if (jumps.empty() || (animated && animated_[row] == 0)) continue;
    together_.resize(jumps.size());
    const float slips = CanSlip(row) ? 1 : 0;
    for (size_t i = 0; i < jumps.size(); ++i) {
      Jump& most = together_[i];
      most.over_bound = std::max(most.over_bound, jumps[i].over_bound);
      most.px = std::max(most.px, jumps[i].px);
      most.slip_px = std::max(most.slip_px, slips * jumps[i].slip_px);
      most.slip_over_floor = std::max(most.slip_over_floor, slips * jumps[i].slip_over_floor);
    }
  }
  return {style_, together_};
}

Unit Assigning::ChooseFor(std::span<const uint32_t> members) {
  Unit unit;
  const auto first = std::find_if(members.begin(), members.end(), [&](uint32_t row) { return animated_[row] != 0; });
  unit.animated = first != members.end();
  unit.first = unit.animated ? *first : members.front();
  unit.pose = kLongestHold;
  int32_t greatest = kLongestHold;
  for (const uint32_t row : members) {
    if (unit.animated && animated_[row] == 0) continue;
    unit.pose = std::min<int32_t>(unit.pose, holds_.pose[row]);
    greatest = std::min(greatest, BoundsOf(row).greatest);
  }
  unit.path = ChoosePathHold(style_, JumpsTogether(members, unit.animated), unit.pose, greatest);
  return unit;
}

// By unit. Crowds are figures of one class and hold, left to right; places that are not known come last, and canonical
// order (that of the units) decides between equals.
std::vector<int32_t> Assigning::ChoosePhases() const {
  std::vector<int32_t> phases(units_.size());
  std::vector<uint32_t> order;
  for (uint32_t u = 0; u < units_.size(); ++u) {
    phases[u] = units_[u].path.best;
    if (units_[u].animated && ClassOf(units_[u].first).kind == ClassKind::kFigure) order.push_back(u);
  }
  const auto crowd_of = [&](uint32_t u) {
    return std::tuple(scene_.objects.class_index[units_[u].first], units_[u].path.phased);
  };
  const auto place_of = [&](uint32_t u) {
    const float u_px = legibility_.largest_u_px[units_[u].first];
    return std::isnan(u_px) ? std::tuple(true, 0.0F) : std::tuple(false, u_px);
  };
  std::sort(order.begin(), order.end(), [&](uint32_t a, uint32_t b) {
    return std::tuple(crowd_of(a), place_of(a), a) < std::tuple(crowd_of(b), place_of(b), b);
  });
  std::vector<Neighbour> crowd;
  for (size_t begin = 0, end = 0; begin < order.size(); begin = end) {
    crowd.clear();
    for (; end < order.size() && crowd_of(order[end]) == crowd_of(order[begin]); ++end) {
      const PathHold& path = units_[order[end]].path;
      crowd.push_back({path.phased, path.phases, path.best});
    }
    const std::vector<int32_t> dealt = Stagger(crowd);
    for (size_t i = begin; i < end; ++i) phases[order[i]] = dealt[i - begin];
  }
  return phases;
}

void Assigning::Write(std::span<const uint32_t> members, const Unit& unit, int32_t phase) {
  for (const uint32_t row : members) {
    holds_.pose[row] = static_cast<uint8_t>(unit.pose);
    holds_.path[row] = static_cast<uint8_t>(unit.path.path);
    holds_.phase[row] = static_cast<uint8_t>(phase);
    WritePath(row, unit, phase);
    WriteSections(row, members.size() > 1);
  }
}

void Assigning::WritePath(uint32_t row, const Unit& unit, int32_t phase) {
  const PathHold& path = unit.path;
  const UnitJumps own(style_, JumpsOf(row));
  const int32_t held = path.with_poses ? unit.pose : path.path;
  holds_.path_jump_px[row] = held == path.phased ? own.At(held, phase).px : 0;
  if (!path.with_poses) {
    holds_.split[row] = path.would_slip && CanSlip(row) ? PathSplit::kWouldSlip : PathSplit::kSplit;
  }
  if (ClassOf(row).contact != Contact::kGround) return;
  const int32_t pose_phase = path.phased == unit.pose ? phase : own.LeastSlipPhase(unit.pose);
  holds_.contact_slip_px[row] = own.At(unit.pose, pose_phase).slip_px;
}

void Assigning::WriteSections(uint32_t row, bool shared) {
  for (size_t s = legibility_.section_begin[row]; s < legibility_.section_begin[row + 1]; ++s) {
    const double height_over_floor = legibility_.sections[s].height_over_floor;
    holds_.section[s] = shared ? holds_.pose[row] : static_cast<uint8_t>(PoseHoldOf(row, height_over_floor));
  }
}

}  // namespace

double PosesPerCycle(const ObjectClass& object_class, double height_over_floor) {
  const double amplitude = Amplitude(object_class, height_over_floor);
  return amplitude >= 1 ? std::clamp(kLeastPoses + std::log2(amplitude), kLeastPoses, kMostPoses) : 0;
}

int32_t PoseHold(const ObjectClass& object_class, const Style& style, double height_over_floor,
                 double frames_per_second) {
  const double poses_per_second = PosesPerCycle(object_class, height_over_floor) * object_class.cycles_per_second;
  return LongestThatReads(style, HoldBoundsOf(style, object_class), poses_per_second, frames_per_second);
}

Holds AssignHolds(const ShotOptics& optics, const Legibility& legibility, const HoldOptions& options) {
  return Assigning(optics, legibility).Run(options);
}

}  // namespace scantling
