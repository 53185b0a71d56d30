// A shot that changes comes to what it would be planned as had it been sent at once: byte for byte, after any series of
// edits, stopped anywhere on the way.

#include "server/planning/live_shot.h"

#include <gtest/gtest.h>

#include <chrono>
#include <cstdlib>
#include <string>

#include "server/rpc/convert.h"
#include "tests/planning/demo_shot.h"
#include "tests/planning/random_edits.h"

namespace scantling {
namespace {

using testing::Pool;
using testing::RandomEdits;
using testing::SceneOf;
using testing::ShippedPolicy;

constexpr size_t kMapBytes = size_t{64} << 20;

const Style& StyleOf(const v1::Shot& shot) {
  return *ShippedPolicy().FindStyle(shot.style().empty() ? ShippedPolicy().default_style : shot.style());
}

// Takes an edit in; the header is the shot's as it is to be.
void Take(const v1::Shot& shot, const v1::ShotEdit& edit, LiveShot& live) {
  Violations violations;
  v1::Shot header = shot;
  header.clear_objects();
  SceneBuilder builder(ShippedPolicy().catalogue, SceneLimits(), HeaderFromProto(header, violations), violations);
  AddInterests(header, builder, violations);
  RowReader reader(builder, violations);
  for (int i = 0; i < edit.objects_size(); ++i) reader.Add(edit.objects(i), "objects[" + std::to_string(i) + "]");
  const std::vector<std::string> removed(edit.removed_ids().begin(), edit.removed_ids().end());
  MergedScene merged = builder.FinishOnto(live.scene(), removed);
  for (const Violation& violation : violations.listed()) {
    ADD_FAILURE() << violation.field << ": " << violation.description << "\n" << edit.ShortDebugString().substr(0, 400);
  }
  if (violations.empty()) live.TakeScene(std::move(merged), StyleOf(shot));
}

std::string Bytes(const PlannedShot& planned) {
  v1::PlanShotResponse response;
  ToProto(planned, {}, response);
  return response.plan().SerializeAsString();
}

// Where two plans differ first, for a person.
std::string Difference(const PlannedShot& live, const PlannedShot& fresh) {
  v1::PlanShotResponse a, b;
  ToProto(live, {}, a);
  ToProto(fresh, {}, b);
  if (a.plan().decisions_size() != b.plan().decisions_size()) return "number of decisions";
  for (int i = 0; i < a.plan().decisions_size(); ++i) {
    const std::string x = a.plan().decisions(i).ShortDebugString(), y = b.plan().decisions(i).ShortDebugString();
    if (x != y) return "live " + x + "\nfresh " + y;
  }
  return "live " + a.plan().totals().ShortDebugString() + "\nfresh " + b.plan().totals().ShortDebugString();
}

struct Fresh {
  std::unique_ptr<PlannedShot> plan;
  absl::Status status;
};

Fresh PlanFresh(const v1::Shot& shot, const PlanRequest& request) {
  PlanFaults faults;
  const Stop stop;
  auto planned = PlanShot(SceneOf(shot), {ShippedPolicy(), StyleOf(shot), stop, {}}, request, faults);
  if (!planned.ok()) return {nullptr, planned.status()};
  return {*std::move(planned), absl::OkStatus()};
}

// Measures to the end, stopping now and then on the way.
void MeasureAll(std::mt19937_64& random, LiveShot& live) {
  for (int i = 0; i < 2 && random() % 2 == 0; ++i) {
    const Stop soon(Stop::Clock::now() + std::chrono::microseconds(random() % 3000));
    (void)live.Measure(1, soon, {});
  }
  const Stop never;
  const absl::Status measured = live.Measure(1 + static_cast<int>(random() % 2), never, {});
  ASSERT_TRUE(measured.ok()) << measured;
  ASSERT_TRUE(live.measured());
}

// Planning cut short leaves nothing behind that the next plan would show.
void SettleNowAndThen(const PlanRequest& request, std::mt19937_64& random, LiveShot& live) {
  for (int i = 0; i < 2 && random() % 3 == 0; ++i) {
    const Stop soon(Stop::Clock::now() + std::chrono::microseconds(random() % 4000));
    PlanFaults faults;
    if (random() % 2 == 0) {
      (void)live.Settle(request, soon, faults);
    } else {
      (void)live.Finish(request, soon, faults);
    }
  }
}

// Thousands of series with SCANTLING_LONG=1.
int Series(int quick) {
  const char* more = std::getenv("SCANTLING_LONG");
  return more != nullptr && std::string(more) == "1" ? quick * 100 : quick;
}

TEST(LiveShot, AnySeriesOfEditsComesToTheFreshPlan) {
  for (int series = 0; series < Series(25); ++series) {
    SCOPED_TRACE(series);
    const auto seed = static_cast<uint64_t>(series);
    RandomEdits edits(Pool(40 + 6 * (series % 20), 1 + series % 14, seed + 1), seed);
    std::mt19937_64 random(seed + 77);
    LiveShot live(ShippedPolicy(), series % 5 == 0 ? 0 : kMapBytes);
    Take(edits.shot(), edits.First(), live);
    for (int step = 0; step < 16; ++step) {
      SCOPED_TRACE(step);
      const v1::ShotEdit edit = edits.Next();
      Take(edits.shot(), edit, live);
      if (HasFatalFailure() || HasNonfatalFailure()) return;
      if (random() % 3 == 0) continue;  // the next one overtakes it
      MeasureAll(random, live);
      SettleNowAndThen({}, random, live);
      const Fresh fresh = PlanFresh(edits.shot(), {});
      PlanFaults faults;
      const Stop never;
      const absl::StatusOr<bool> settled = live.Settle({}, never, faults);
      ASSERT_EQ(settled.ok(), fresh.status.ok()) << settled.status() << " / " << fresh.status;
      if (!settled.ok()) continue;
      EXPECT_TRUE(*settled);
      ASSERT_EQ(Bytes(live.shot()), Bytes(*fresh.plan)) << Difference(live.shot(), *fresh.plan);
      if (random() % 3 != 0) continue;  // edits paused
      ASSERT_TRUE(live.Finish({}, never, faults).ok());
      ASSERT_EQ(Bytes(live.shot()), Bytes(*fresh.plan)) << Difference(live.shot(), *fresh.plan);
    }
  }
}

TEST(LiveShot, WithABudgetItSettlesWithinItAndFinishesAsFresh) {
  int warm = 0;
  for (int series = 0; series < Series(8); ++series) {
    SCOPED_TRACE(series);
    const auto seed = static_cast<uint64_t>(series) + 1000;
    v1::Shot pool = Pool(60 + 10 * (series % 9), 1 + series % 9, seed);
    if (series % 3 != 0) pool.clear_crowds();
    RandomEdits edits(std::move(pool), seed);
    std::mt19937_64 random(seed);
    LiveShot live(ShippedPolicy(), kMapBytes);
    Take(edits.shot(), edits.First(), live);
    const Stop never;
    PlanRequest request;
    for (int step = 0; step < 10; ++step) {
      SCOPED_TRACE(step);
      if (step % 4 == 0) {
        const Fresh unseen = PlanFresh(edits.shot(), {});
        if (unseen.plan == nullptr) break;
        request.budgets.anim_hours = unseen.plan->plan.totals.unseen_plan.anim_hours.mean * 0.8;
        request.alike = step == 8;
      }
      MeasureAll(random, live);
      SettleNowAndThen(request, random, live);
      PlanFaults faults;
      const absl::StatusOr<bool> settled = live.Settle(request, never, faults);
      const Fresh fresh = PlanFresh(edits.shot(), request);
      if (settled.ok()) {
        const Totals& totals = live.shot().plan.totals;
        EXPECT_LE(totals.plan.anim_hours.mean, *request.budgets.anim_hours + 1e-3);
        EXPECT_LE(totals.loss_bound, totals.loss);
        if (fresh.status.ok()) {
          // Either bound is proved for the same problem, so neither may pass the other's plan.
          const Totals& other = fresh.plan->plan.totals;
          EXPECT_LE(totals.loss_bound, other.loss * (1 + 1e-9) + 1e-9);
          EXPECT_LE(other.loss_bound, totals.loss * (1 + 1e-9) + 1e-9);
        }
        warm += !*settled;
        if (*settled && fresh.status.ok()) {
          EXPECT_EQ(Bytes(live.shot()), Bytes(*fresh.plan));
        }
      }
      const absl::Status finished = live.Finish(request, never, faults);
      ASSERT_EQ(finished.ok(), fresh.status.ok()) << finished << " / " << fresh.status;
      if (finished.ok()) {
        ASSERT_EQ(Bytes(live.shot()), Bytes(*fresh.plan)) << Difference(live.shot(), *fresh.plan);
      }
      Take(edits.shot(), edits.Next(), live);
      if (HasFatalFailure() || HasNonfatalFailure()) return;
    }
  }
  EXPECT_GT(warm, 0);
}

// What Settle calls PlanShot's plan is that, whatever bounded the plan before: crowds' limits of the last plan must not
// stand in the way of plans that are solved from scratch.
TEST(LiveShot, WhatIsSolvedFromScratchForgetsTheLastPlansLimits) {
  v1::Shot shot = Pool(400, 24, 1);
  shot.clear_crowds();
  v1::Crowd& crowd = *shot.add_crowds();
  crowd.set_name("people");
  for (const char* name : {"person", "gull", "reaper", "passenger", "prop", "window"}) crowd.add_class_names(name);
  const Fresh free = PlanFresh(shot, {});
  ASSERT_NE(free.plan, nullptr);
  // A share that a plan without visible loss meets, and a tight one does not by itself.
  const CrowdFigures& figures = free.plan->plan.totals.crowds[0];
  crowd.set_keep_share(0.999 * static_cast<double>(figures.kept) / static_cast<double>(figures.seen));
  const double hours = free.plan->plan.totals.unseen_plan.anim_hours.mean;

  v1::ShotEdit all;
  *all.mutable_objects() = shot.objects();
  LiveShot live(ShippedPolicy(), kMapBytes);
  Take(shot, all, live);
  const Stop never;
  PlanFaults faults;
  ASSERT_TRUE(live.Measure(2, never, {}).ok());
  PlanRequest tight;
  tight.budgets.anim_hours = hours * 0.15;
  for (const bool alike : {true, false}) {
    SCOPED_TRACE(alike);
    ASSERT_TRUE(live.Finish(tight, never, faults).ok());
    const std::vector<Resource>& resources = live.shot().choice.resources;
    ASSERT_TRUE(std::any_of(resources.begin(), resources.end(), [](const Resource& one) { return one.crowd != kNone; }))
        << "the share must bind, or nothing is tested";
    PlanRequest wide;
    wide.budgets.anim_hours = hours * 1.2;
    wide.alike = alike;
    if (!alike) wide.earlier = {{shot.objects(0).id(), Tier::kFullRig}};
    const absl::StatusOr<bool> settled = live.Settle(wide, never, faults);
    ASSERT_TRUE(settled.ok()) << settled.status();
    EXPECT_TRUE(*settled);
    const Fresh fresh = PlanFresh(shot, wide);
    ASSERT_NE(fresh.plan, nullptr);
    EXPECT_EQ(Bytes(live.shot()), Bytes(*fresh.plan)) << Difference(live.shot(), *fresh.plan);
  }
}

// The twins told last are told again only where no plan since knew better, a final one among them.
TEST(LiveShot, AFinalPlanLeavesNoOldTwinsBehind) {
  v1::Shot shot = Pool(200, 3, 5);
  v1::ShotEdit all;
  *all.mutable_objects() = shot.objects();
  LiveShot live(ShippedPolicy(), kMapBytes);
  Take(shot, all, live);
  const Stop never;
  PlanFaults faults;
  ASSERT_TRUE(live.Measure(1, never, {}).ok());
  ASSERT_TRUE(live.Settle({}, never, faults).ok());
  const Twins before = live.shot().plan.totals.crowds[0].twins;
  ASSERT_NE(before.a, kNone);

  // A step of 5 cm to the side: nobody else is nearer, nobody is seen more or less.
  const std::string moves(live.scene().objects.id[before.a]);
  v1::ShotEdit step;
  for (v1::SceneObject& object : *shot.mutable_objects()) {
    if (object.id() != moves) continue;
    for (int i = 12; i < object.transform().matrices_size(); i += 16) {
      object.mutable_transform()->set_matrices(i, object.transform().matrices(i) + 0.05);
    }
    *step.add_objects() = object;
  }
  ASSERT_EQ(step.objects_size(), 1);
  Take(shot, step, live);
  ASSERT_TRUE(live.Measure(1, never, {}).ok());
  ASSERT_TRUE(live.Finish({}, never, faults).ok());
  const Twins after = live.shot().plan.totals.crowds[0].twins;
  ASSERT_NE(after.px, before.px);

  ASSERT_TRUE(live.Settle({}, never, faults).ok());
  EXPECT_EQ(live.shot().plan.totals.crowds[0].twins.px, after.px);
  const Fresh fresh = PlanFresh(shot, {});
  ASSERT_NE(fresh.plan, nullptr);
  EXPECT_EQ(Bytes(live.shot()), Bytes(*fresh.plan)) << Difference(live.shot(), *fresh.plan);
}

TEST(LiveShot, ACopyMayGoItsOwnWay) {
  RandomEdits edits(Pool(80, 5, 3), 3);
  LiveShot live(ShippedPolicy(), kMapBytes);
  Take(edits.shot(), edits.First(), live);
  const Stop never;
  PlanFaults faults;
  ASSERT_TRUE(live.Measure(1, never, {}).ok());
  ASSERT_TRUE(live.Settle({}, never, faults).ok());
  const std::string before = Bytes(live.shot());
  const auto copy = live.Copy();
  for (int i = 0; i < 5; ++i) Take(edits.shot(), edits.Next(), *copy);
  ASSERT_TRUE(copy->Measure(1, never, {}).ok());
  ASSERT_TRUE(copy->Settle({}, never, faults).ok());
  const Fresh fresh = PlanFresh(edits.shot(), {});
  ASSERT_NE(fresh.plan, nullptr);
  EXPECT_EQ(Bytes(copy->shot()), Bytes(*fresh.plan));
  EXPECT_EQ(Bytes(live.shot()), before);
}

}  // namespace
}  // namespace scantling
