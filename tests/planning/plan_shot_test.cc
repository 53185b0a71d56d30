// The stages together: the same bytes whatever the threads and the order of sending, and what must not change when the
// set is moved or cheated.

#include "server/planning/plan_shot.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <random>
#include <string>

#include "client/sample/sample.h"
#include "server/rpc/convert.h"
#include "tests/planning/demo_shot.h"

namespace scantling {
namespace {

using testing::DemoScene;
using testing::PlanCall;
using testing::PlanOrFail;
using testing::Sample;
using testing::SceneOf;
using testing::ShippedPolicy;
using testing::TryPlan;

// 70 % of what the unseen plan costs, in both resources.
Budgets TightBudgets(const v1::Shot& shot) {
  const auto unseen = PlanOrFail(SceneOf(shot), {});
  if (unseen == nullptr) return {};
  const Totals& totals = unseen->plan.totals;
  const double base = BaseCoreHours(unseen->scene, ShippedPolicy().rates);
  Budgets budgets;
  budgets.anim_hours = totals.unseen_plan.anim_hours.mean * 0.7;
  budgets.core_hours = (totals.unseen_plan.core_hours.mean - base) * 0.7;
  return budgets;
}

// The plan as the bytes that go over the wire.
std::string Bytes(const v1::Shot& shot, const PlanCall& call) {
  const auto planned = PlanOrFail(SceneOf(shot), call);
  if (planned == nullptr) return "";
  v1::PlanShotResponse response;
  ToProto(*planned, {}, response);
  return response.plan().SerializeAsString();
}

TEST(PlanShot, BytesAreTheSameOnAnyNumberOfThreads) {
  const v1::Shot shot = Sample(1500);
  const Budgets budgets = TightBudgets(shot);
  const std::string one = Bytes(shot, {.budgets = budgets, .threads = 1});
  ASSERT_FALSE(one.empty());
  EXPECT_EQ(one, Bytes(shot, {.budgets = budgets, .threads = 2}));
  EXPECT_EQ(one, Bytes(shot, {.budgets = budgets, .threads = 5}));
}

TEST(PlanShot, BytesAreTheSameInAnyOrderOfObjects) {
  v1::Shot shot = Sample(700);
  const Budgets budgets = TightBudgets(shot);
  const std::string sent = Bytes(shot, {.budgets = budgets});
  ASSERT_FALSE(sent.empty());
  std::mt19937 random(7);
  std::shuffle(shot.mutable_objects()->pointer_begin(), shot.mutable_objects()->pointer_end(), random);
  EXPECT_EQ(sent, Bytes(shot, {.budgets = budgets}));
}

TEST(PlanShot, RowsAndBlocksOfTheSameShotGiveTheSameDecisions) {
  SampleOptions options;
  options.objects = 700;
  const v1::Shot rows = MakeSample(options);
  options.blocks = true;
  const v1::Shot blocks = MakeSample(options);
  EXPECT_EQ(Bytes(rows, {}), Bytes(blocks, {}));
}

// Moves the whole set, cameras and all, by 10,000 km along x.
v1::Shot Moved(v1::Shot shot) {
  const auto move = [](v1::TransformTrack& track) {
    for (int i = 12; i < track.matrices_size(); i += 16) track.set_matrices(i, track.matrices(i) + 1e7);
  };
  for (v1::ShotCamera& camera : *shot.mutable_cameras()) move(*camera.mutable_transform());
  for (v1::SceneObject& object : *shot.mutable_objects()) move(*object.mutable_transform());
  return shot;
}

TEST(PlanShot, MovingTheWholeSetFarAwayChangesNoDecision) {
  const v1::Shot shot = Sample(700);
  const auto here = PlanOrFail(SceneOf(shot), {});
  const auto there = PlanOrFail(SceneOf(Moved(shot)), {});
  ASSERT_TRUE(here != nullptr && there != nullptr);
  for (size_t i = 0; i < here->plan.decisions.size(); ++i) {
    const uint32_t object = here->plan.decisions[i].object;
    EXPECT_EQ(here->plan.decisions[i].tier, there->plan.decisions[i].tier);
    // 2-model section 1: 0.001 px; heights here reach some hundred px, so 1e-5 of them at the most.
    EXPECT_NEAR(here->legibility.largest_height_px[object], there->legibility.largest_height_px[object], 1e-3);
  }
}

// The cheated set: every object, its path and its distance about the camera scaled by `factor`. A still camera, so that
// "about each frame's camera" is one centre.
v1::Shot Cheated(v1::Shot shot, double factor) {
  v1::ShotCamera& camera = *shot.mutable_cameras(0);
  const auto& matrices = camera.transform().matrices();
  const double centre[3] = {matrices[12], matrices[13], matrices[14]};
  for (v1::SceneObject& object : *shot.mutable_objects()) {
    auto& track = *object.mutable_transform()->mutable_matrices();
    for (int at = 0; at < track.size(); at += 16) {
      for (int column = 0; column < 4; ++column) {
        for (int row = 0; row < 3; ++row) {
          double& value = track[at + column * 4 + row];
          value = column < 3 ? value * factor : centre[row] + (value - centre[row]) * factor;
        }
      }
    }
  }
  camera.set_near_m(camera.near_m() * factor);
  return shot;
}

v1::Shot WithStillCamera(v1::Shot shot) {
  auto& matrices = *shot.mutable_cameras(0)->mutable_transform()->mutable_matrices();
  matrices.Truncate(16);
  return shot;
}

TEST(PlanShot, ScalingTheSetAboutTheCameraChangesNoDecision) {
  const v1::Shot honest = WithStillCamera(Sample(700));
  const auto plan = PlanOrFail(SceneOf(honest), {});
  ASSERT_NE(plan, nullptr);
  for (const double factor : {1.0 / 7, 3.0}) {
    const auto cheated = PlanOrFail(SceneOf(Cheated(honest, factor)), {});
    ASSERT_NE(cheated, nullptr);
    int differing = 0;
    for (size_t i = 0; i < plan->plan.decisions.size(); ++i) {
      const uint32_t object = plan->plan.decisions[i].object;
      // The lead class has no real height, so its floor reads stage depth (2-model section 1 exempts such terms).
      if (ShippedPolicy().catalogue.classes[plan->scene.objects.class_index[object]].name == "lead") continue;
      if (!ShippedPolicy().catalogue.classes[plan->scene.objects.class_index[object]].real_height_m) continue;
      differing += plan->plan.decisions[i].tier != cheated->plan.decisions[i].tier;
      EXPECT_NEAR(plan->legibility.height_over_floor[object], cheated->legibility.height_over_floor[object],
                  1e-4 * plan->legibility.height_over_floor[object]);  // two float roundings of size and place
    }
    EXPECT_EQ(differing, 0) << factor;
  }
}

TEST(PlanShot, ABudgetThatCannotBeMetNamesTheSmallestThatCan) {
  PlanFaults faults;
  const auto planned = TryPlan(DemoScene(700, 1), {.budgets = {1, std::nullopt}}, faults);
  EXPECT_TRUE(absl::IsFailedPrecondition(planned.status())) << planned.status();
  ASSERT_TRUE(faults.no_plan.has_value());
  ASSERT_TRUE(faults.no_plan->fitting_anim_hours.has_value());
  EXPECT_GT(faults.no_plan->least_anim_hours, 1);
  PlanFaults none;
  EXPECT_TRUE(TryPlan(DemoScene(700, 1), {.budgets = {*faults.no_plan->fitting_anim_hours, std::nullopt}}, none).ok());
  PlanFaults again;
  const double just_under = faults.no_plan->least_anim_hours * (1 - 1e-6);
  EXPECT_FALSE(TryPlan(DemoScene(700, 1), {.budgets = {just_under, std::nullopt}}, again).ok());
}

TEST(PlanShot, SlackBudgetsDecideAsTheUnseenModeDoes) {
  const auto unseen = PlanOrFail(DemoScene(700, 1), {});
  const auto slack = PlanOrFail(DemoScene(700, 1), {.budgets = {1e6, 1e6}});
  ASSERT_TRUE(unseen != nullptr && slack != nullptr);
  for (size_t i = 0; i < unseen->plan.decisions.size(); ++i) {
    EXPECT_EQ(unseen->plan.decisions[i].tier, slack->plan.decisions[i].tier);
  }
  EXPECT_EQ(slack->plan.totals.price_anim_hour, 0);
  EXPECT_EQ(slack->plan.totals.price_core_hour, 0);
}

TEST(PlanShot, CancelledPlanSaysSo) {
  Stop stop;
  stop.Cancel();
  PlanFaults faults;
  const auto planned =
      PlanShot(DemoScene(100, 1), {ShippedPolicy(), *ShippedPolicy().FindStyle("ink"), stop, {}}, {}, faults);
  EXPECT_TRUE(absl::IsCancelled(planned.status())) << planned.status();
}

TEST(PlanShot, PassedDeadlineSaysSo) {
  const Stop stop(Stop::Clock::now() - std::chrono::seconds(1));
  PlanFaults faults;
  const auto planned =
      PlanShot(DemoScene(100, 1), {ShippedPolicy(), *ShippedPolicy().FindStyle("ink"), stop, {}}, {}, faults);
  EXPECT_TRUE(absl::IsDeadlineExceeded(planned.status())) << planned.status();
}

TEST(PlanShot, ContradictoryDirectivesAreNamed) {
  v1::Shot shot = Sample(50);
  v1::Directive* up = shot.add_directives();
  up->set_object_id(shot.objects(0).id());
  up->set_bound(v1::Directive::AT_LEAST);
  up->set_tier(v1::FULL_RIG);
  v1::Directive* down = shot.add_directives();
  *down = *up;
  down->set_bound(v1::Directive::AT_MOST);
  down->set_tier(v1::PROXY);
  PlanFaults faults;
  const auto planned = TryPlan(SceneOf(shot), {}, faults);
  EXPECT_TRUE(absl::IsInvalidArgument(planned.status())) << planned.status();
  EXPECT_EQ(faults.violations.count(), 1u);
}

TEST(PlanShot, LossNeverFallsAsImportanceGrows) {
  v1::Shot shot = Sample(50);
  const auto before = PlanOrFail(SceneOf(shot), {});
  ASSERT_NE(before, nullptr);
  for (v1::SceneObject& object : *shot.mutable_objects()) object.set_importance(20);
  const auto after = PlanOrFail(SceneOf(shot), {});
  ASSERT_NE(after, nullptr);
  for (size_t object = 0; object < before->scene.objects.size(); ++object) {
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      EXPECT_GE(after->legibility.loss[object][kPhiAsGiven][tier], before->legibility.loss[object][kPhiAsGiven][tier]);
    }
  }
}

}  // namespace
}  // namespace scantling
