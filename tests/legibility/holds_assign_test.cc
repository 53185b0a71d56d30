// Holds of whole shots: still, path holds, splits, sharing, staggering, class bounds. The camera is 2000 px wide and
// looks down -Z from the origin: at ten metres a metre is 100 px; the floor is 1 px, the bound 2000 / 168 = 11.9 px.
// The boxes are 2 m, 200 px high at their centre and 222 px at their near side, so an articulation of 1/8 moves by 28
// floors: m = 6, and at two cycles a second and 24 frames n <= 2.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <functional>
#include <numeric>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "server/legibility/holds.h"
#include "server/legibility/path_hold.h"
#include "server/legibility/stagger.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

constexpr int32_t kFrames = 24;

using Course = std::function<double(int)>;  // px to the right of the middle, by frame index

// How a class moves; figures all.
struct Movement {
  double articulation = 0.1;
  double cycles_per_second = 2;
  HoldBounds hold = {1, 4};
  bool moves_at_rest = true;
  Contact contact = Contact::kRigid;
};

struct HeldShot {
  Shot shot{kFrames};

  HeldShot() {
    shot.AddCamera(0);
    AddClass({.articulation = 0.125, .cycles_per_second = 2, .hold = {1, 4}});
  }
  uint16_t AddClass(const Movement& like) {
    const uint16_t added = shot.AddClass(ClassKind::kFigure);
    ObjectClass& made = shot.catalogue.classes[added];
    made.articulation = like.articulation;
    made.cycles_per_second = like.cycles_per_second;
    made.hold = like.hold;
    made.moves_at_rest = like.moves_at_rest;
    made.contact = like.contact;
    return added;
  }
  uint32_t Add(uint16_t class_index, const Course& x_px) {
    const uint32_t row = shot.AddRow(class_index);
    std::vector<Pose> poses(kFrames);
    for (int f = 0; f < kFrames; ++f) poses[static_cast<size_t>(f)].centre[0] = x_px(f) / 100;
    shot.Place(row, 0, poses);
    return row;
  }
  void Group(const std::vector<uint32_t>& rows) {
    const auto group = static_cast<uint32_t>(shot.scene.hold_groups.size());
    shot.scene.hold_groups.Append("group " + std::to_string(group));
    for (const uint32_t row : rows) shot.Own(row).hold_group = group;
  }
  Holds Assign(bool share_in_containers = false) const {
    return AssignHolds(shot.Optics(), FoldForReal(shot), {share_in_containers});
  }
};

Course Stands(double x_px = 0) {
  return [x_px](int) { return x_px; };
}
Course Goes(double px_per_frame, double from_px = 0) {
  return [=](int f) { return from_px + px_per_frame * f; };
}

constexpr double kQuarter = 1.5707963267948966;
// 2 a, 0, -2 a ... : twos from even frames jump 2 a, from odd ones a.
Course Swings(double a_px) {
  return [a_px](int f) { return a_px * std::cos(kQuarter * f); };
}

TEST(Still, IsWhatNeitherTravelsNorActsOverTheFloor) {
  HeldShot held;
  const uint16_t stone = held.AddClass({.articulation = 0, .cycles_per_second = 2});
  const uint16_t breathing = held.AddClass({.articulation = 0.004, .cycles_per_second = 2});  // 0.9 px of 222
  const uint16_t cart = held.AddClass({.articulation = 0.125, .cycles_per_second = 2, .moves_at_rest = false});
  const uint32_t walker = held.Add(0, Stands());
  const uint32_t lies = held.Add(stone, Stands()), creeps = held.Add(stone, Goes(0.9 / 23)),
                 rolls = held.Add(stone, Goes(1.1 / 23)), breathes = held.Add(breathing, Stands()),
                 parked = held.Add(cart, Stands()), driven = held.Add(cart, Goes(1.0));
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.still[walker], 0);
  EXPECT_EQ(holds.still[lies], 1);
  EXPECT_EQ(holds.still[creeps], 1);
  EXPECT_EQ(holds.still[rolls], 0);
  EXPECT_EQ(holds.still[breathes], 1);
  EXPECT_EQ(holds.still[parked], 1);
  EXPECT_EQ(holds.still[driven], 0);
}

TEST(Still, WhatIsCastFromOffScreenIsNotWhileItMoves) {
  HeldShot held;
  const uint16_t stone = held.AddClass({.articulation = 0});
  const uint32_t lies = held.Add(stone, Stands(5000)), rolls = held.Add(stone, Goes(1, 5000)),
                 acts = held.Add(0, Stands(5000)), uncast = held.Add(stone, Goes(1, 5000));
  for (const uint32_t row : {lies, rolls, acts}) {
    held.shot.Own(row).indirect = {{IndirectKind::kShadow, {{1001, 1010}}}};
  }
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.still[lies], 1);
  EXPECT_EQ(holds.still[rolls], 0);
  EXPECT_EQ(holds.still[acts], 0);
  EXPECT_EQ(holds.still[uncast], 1);
  EXPECT_EQ(holds.poses_per_cycle[acts], 6);  // counts as near
  EXPECT_EQ(holds.pose[acts], 2);
}

TEST(Still, WhatWasOnlyMeasuredMayTravel) {
  HeldShot held;
  const uint16_t cart = held.AddClass({.articulation = 0.125, .moves_at_rest = false});
  const uint32_t measured = held.shot.AddRow(cart);
  held.shot.Measure(measured, std::vector<MeasuredFigure>(kFrames, {200, 9000, 10}));
  EXPECT_EQ(held.Assign().still[measured], 0);
}

TEST(PathHold, MayBeLongerThanThatOfThePoses) {
  HeldShot held;
  const uint32_t stands = held.Add(0, Stands());
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.pose[stands], 2);
  EXPECT_EQ(holds.path[stands], 4);
  EXPECT_EQ(holds.split[stands], PathSplit::kWithPoses);
}

TEST(PathHold, ShorterThanThePosesIsSplitOffRigidThings) {
  HeldShot held;
  const uint16_t cart = held.AddClass({.articulation = 0, .hold = {1, 4}});
  // Fours: 4 * 2.9 = 11.6 under 11.9; 4 * 3.1 = 12.4 over, 3 * 3.1 = 9.3 under; 2 * 12 over.
  const uint32_t slow = held.Add(cart, Goes(2.9)), quick = held.Add(cart, Goes(3.1)), fast = held.Add(cart, Goes(12));
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.pose[slow], 4);
  EXPECT_EQ(holds.split[slow], PathSplit::kWithPoses);
  EXPECT_NEAR(holds.path_jump_px[slow], 11.6, 1e-4);
  EXPECT_EQ(holds.pose[quick], 4);
  EXPECT_EQ(holds.path[quick], 3);
  EXPECT_EQ(holds.split[quick], PathSplit::kSplit);
  EXPECT_NEAR(holds.path_jump_px[quick], 9.3, 1e-4);
  EXPECT_EQ(holds.path[fast], 1);
  EXPECT_EQ(holds.split[fast], PathSplit::kSplit);
  EXPECT_EQ(holds.path_jump_px[fast], 0);
}

TEST(PathHold, FeetThatWouldSlipAreTheAnimatorsChoice) {
  HeldShot held;
  const uint16_t walker =
      held.AddClass({.articulation = 0.125, .cycles_per_second = 2, .hold = {1, 4}, .contact = Contact::kGround});
  const uint32_t walks = held.Add(walker, Goes(7));
  Holds holds = held.Assign();
  EXPECT_EQ(holds.pose[walks], 2);
  EXPECT_EQ(holds.path[walks], 1);
  EXPECT_EQ(holds.split[walks], PathSplit::kWouldSlip);
  EXPECT_NEAR(holds.contact_slip_px[walks], 7, 1e-4);  // one frame of it

  for (double& y : held.shot.scene.chunks[0].centre_y) y = -4.5;  // the base a metre lower, half a metre out of frame
  holds = held.Assign();
  EXPECT_EQ(holds.split[walks], PathSplit::kSplit);
}

// A floor of 8 px: a walk of 7 px a frame slips by 7 on twos, and jumps by 14 over the bound of 11.9.
TEST(PathHold, FeetThatSlipUnderTheFloorMaySplit) {
  HeldShot held;
  held.shot.style.viewing_distance_heights *= 8;
  const uint16_t walker =
      held.AddClass({.articulation = 0.9, .cycles_per_second = 2, .hold = {1, 2}, .contact = Contact::kGround});
  const uint32_t walks = held.Add(walker, Goes(7)), runs = held.Add(walker, Goes(9, -400));
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.pose[walks], 2);
  EXPECT_EQ(holds.split[walks], PathSplit::kSplit);
  EXPECT_EQ(holds.split[runs], PathSplit::kWouldSlip);
}

TEST(PathHold, TakesTheBestPhase) {
  HeldShot held;
  const uint32_t swings = held.Add(0, Swings(10));  // 20 from even frames, 10 from odd ones
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.pose[swings], 2);
  EXPECT_EQ(holds.phase[swings], 1);
  EXPECT_EQ(holds.split[swings], PathSplit::kWithPoses);
  EXPECT_NEAR(holds.path_jump_px[swings], 10, 1e-4);
}

TEST(Bounds, LeadIsNeverAboveTwosHoweverFarItIs) {
  HeldShot held;
  const uint16_t lead = held.AddClass({.articulation = 0.125, .cycles_per_second = 2, .hold = {1, 2}});
  const uint32_t row = held.Add(lead, Stands());
  for (double& z : held.shot.scene.chunks[0].centre_z) z = -2000;
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.poses_per_cycle[row], 0);
  EXPECT_EQ(holds.pose[row], 2);
}

TEST(Shared, GroupTakesTheShortestHoldAndOnePhase) {
  HeldShot held;
  const uint16_t slow = held.AddClass({.articulation = 0.125, .cycles_per_second = 1, .hold = {1, 4}});  // 24 / 6 = 4
  const uint32_t a = held.Add(0, Swings(8)), b = held.Add(slow, Stands(300)), alone = held.Add(slow, Stands(-300));
  held.Group({a, b});
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.pose[alone], 4);
  EXPECT_EQ(holds.pose[a], 2);
  EXPECT_EQ(holds.pose[b], 2);
  EXPECT_EQ(holds.phase[a], 1);
  EXPECT_EQ(holds.phase[b], 1);
}

TEST(Shared, GroupWithoutACommonPhaseSplitsItsPath) {
  HeldShot held;
  // One can be on twos from odd frames, the other from even ones only.
  const uint32_t a = held.Add(0, Swings(10)), b = held.Add(0, [](int f) { return 10 * std::sin(kQuarter * f); });
  Holds holds = held.Assign();
  EXPECT_EQ(holds.phase[a], 1);
  EXPECT_EQ(holds.phase[b], 0);
  EXPECT_EQ(holds.split[b], PathSplit::kWithPoses);
  held.Group({a, b});
  holds = held.Assign();
  for (const uint32_t row : {a, b}) {
    EXPECT_EQ(holds.pose[row], 2);
    EXPECT_EQ(holds.path[row], 1);
    EXPECT_EQ(holds.split[row], PathSplit::kSplit);
  }
}

TEST(Shared, ContainersContentsOnlyWhenAsked) {
  HeldShot held;
  const uint16_t slow = held.AddClass({.articulation = 0.125, .cycles_per_second = 1, .hold = {1, 4}});
  const uint32_t box = held.Add(slow, Stands(0)), a = held.Add(0, Stands(1)), b = held.Add(slow, Stands(2));
  held.shot.scene.objects.container[a] = held.shot.scene.objects.container[b] = box;
  EXPECT_EQ(held.Assign(false).pose[b], 4);
  const Holds shared = held.Assign(true);
  EXPECT_EQ(shared.pose[b], 2);
  EXPECT_EQ(shared.phase[a], shared.phase[b]);
  EXPECT_EQ(shared.pose[box], 4);
}

TEST(Shared, WhatIsStillHasNoSay) {
  HeldShot held;
  const uint16_t stone = held.AddClass({.articulation = 0, .hold = {1, 2}});
  const uint16_t slow = held.AddClass({.articulation = 0.125, .cycles_per_second = 1});
  const uint32_t lies = held.Add(stone, Stands(100)), moves = held.Add(slow, Stands());
  held.Group({lies, moves});
  EXPECT_EQ(held.Assign().pose[moves], 4);
}

TEST(Sections, OfAGroupTakeItsHold) {
  HeldShot held;
  held.shot.scene.beats = {1013};
  held.Add(0, Stands());
  held.Add(0, Stands(100));
  PoseChunk& chunk = held.shot.scene.chunks[0];
  for (int f = 12; f < kFrames; ++f) chunk.centre_z[chunk.at(f, 0)] = -100;
  held.Group({0, 1});
  for (const uint8_t hold : held.Assign().section) EXPECT_EQ(hold, 2);
}

TEST(Sections, HaveHoldsOfTheirOwn) {
  HeldShot held;
  held.shot.scene.beats = {1013};
  const uint32_t row = held.Add(0, Stands());
  PoseChunk& chunk = held.shot.scene.chunks[0];
  // Then at 100 m: 20 px, psi h = 2.5 floors, m = 3.3, n <= 24 / 6.7 = 3.6.
  for (int f = 12; f < kFrames; ++f) chunk.centre_z[chunk.at(f, 0)] = -100;
  const Holds holds = held.Assign();
  ASSERT_EQ(holds.section.size(), 2u);
  EXPECT_EQ(holds.section[0], 2);
  EXPECT_EQ(holds.section[1], 3);
  EXPECT_EQ(holds.pose[row], 2);
}

std::vector<int> PhasesLeftToRight(const HeldShot& held, const std::vector<uint32_t>& rows) {
  const Holds holds = held.Assign();
  std::vector<int> phases;
  for (const uint32_t row : rows) phases.push_back(holds.phase[row]);
  return phases;
}

TEST(Staggered, NeighboursTakeTurns) {
  HeldShot held;
  std::vector<uint32_t> rows;
  for (const int place : {3, 0, 4, 1, 2}) rows.push_back(held.Add(0, Stands(100 * place)));
  EXPECT_EQ(PhasesLeftToRight(held, {rows[1], rows[3], rows[4], rows[0], rows[2]}), (std::vector<int>{0, 1, 0, 1, 0}));
}

TEST(Staggered, RoomIsMadeForWhoHasNoChoice) {
  HeldShot held;
  // The second can be on twos from odd frames only, the fourth from even ones only.
  const uint32_t a = held.Add(0, Stands(-300)), b = held.Add(0, [](int f) { return -100 + Swings(10)(f); }),
                 c = held.Add(0, Stands(100)), d = held.Add(0, [](int f) { return 300 + 10 * std::sin(kQuarter * f); });
  const std::vector<int> phases = PhasesLeftToRight(held, {a, b, c, d});
  EXPECT_EQ(phases[0], 0);
  EXPECT_EQ(phases[1], 1);
  EXPECT_EQ(phases[3], 0);  // c clashes with one of its neighbours whatever it does
}

// Steps of 7.2, 7.2, 6.9, 6.9 px: twos jump 14.4 px from even frames and 14.1 from odd ones, over the bound either way
// and hardly worse one way than the other.
TEST(Staggered, WhereAllPhasesJumpTooFarThoseNearlyAsGoodMayBeTaken) {
  HeldShot held;
  const uint16_t walker =
      held.AddClass({.articulation = 0.125, .cycles_per_second = 2, .hold = {1, 4}, .contact = Contact::kGround});
  const auto walks = [](double from_px) {
    return [from_px](int f) { return from_px + 28.2 * (f / 4) + std::min(f % 4, 2) * 7.2 + (f % 4 == 3 ? 6.9 : 0); };
  };
  const uint32_t left = held.Add(walker, walks(-400)), right = held.Add(walker, walks(-100));
  const Holds holds = held.Assign();
  EXPECT_EQ(holds.split[left], PathSplit::kWouldSlip);
  EXPECT_EQ(holds.phase[left], 1);
  EXPECT_EQ(holds.phase[right], 0);
}

// Against all ways of choosing.
TEST(Staggered, NoWayHasFewerClashes) {
  std::mt19937 random(7);
  for (int trial = 0; trial < 300; ++trial) {
    const int hold = 2 + static_cast<int>(random() % 3), count = 1 + static_cast<int>(random() % 5);
    std::vector<Neighbour> crowd;
    for (int i = 0; i < count; ++i) {
      const auto phases = static_cast<Phases>(1 + random() % ((1u << hold) - 1));
      int32_t best = 0;
      while ((phases >> best & 1) == 0) ++best;
      crowd.push_back({hold, phases, best});
    }
    const auto clashes = [&](const std::vector<int32_t>& phases) {
      int sum = 0;
      for (size_t i = 0; i < phases.size(); ++i) {
        if ((crowd[i].phases >> phases[i] & 1) == 0) return 1000;
        sum += i > 0 && phases[i] == phases[i - 1] ? 1 : 0;
      }
      return sum;
    };
    int fewest = 1000;
    for (int code = 0; code < std::pow(hold, count); ++code) {
      std::vector<int32_t> phases;
      for (int i = 0, rest = code; i < count; ++i, rest /= hold) phases.push_back(rest % hold);
      fewest = std::min(fewest, clashes(phases));
    }
    EXPECT_EQ(clashes(Stagger(crowd)), fewest);
  }
}

TEST(Holds, DoNotDependOnTheOrderOfSending) {
  std::vector<std::pair<uint16_t, Course>> things;
  std::mt19937 random(3);
  std::uniform_real_distribution<double> place(-800, 500), speed(0, 9);
  for (int i = 0; i < 30; ++i) {
    const double at = place(random), by = speed(random);
    things.emplace_back(i % 2, i % 3 == 0 ? Goes(by, at) : Course([=](int f) { return at + Swings(by)(f); }));
  }
  std::vector<size_t> order(things.size());
  std::iota(order.begin(), order.end(), 0);
  std::vector<std::vector<int>> seen;
  for (int turn = 0; turn < 3; ++turn) {
    HeldShot held;
    held.AddClass({.articulation = 0.05, .cycles_per_second = 1, .hold = {1, 4}, .contact = Contact::kGround});
    std::vector<uint32_t> row_of(things.size());
    for (const size_t thing : order) row_of[thing] = held.Add(things[thing].first, things[thing].second);
    held.shot.scene.objects.canonical = row_of;  // by name: the order of `things`
    held.Group({row_of[3], row_of[10], row_of[11]});
    const Holds holds = held.Assign();
    std::vector<int>& all = seen.emplace_back();
    for (const uint32_t row : row_of) {
      for (const int figure :
           {holds.pose[row], holds.path[row], holds.phase[row], static_cast<uint8_t>(holds.split[row])}) {
        all.push_back(figure);
      }
    }
    std::shuffle(order.begin(), order.end(), random);
  }
  EXPECT_EQ(seen[0], seen[1]);
  EXPECT_EQ(seen[0], seen[2]);
}

}  // namespace
}  // namespace scantling
