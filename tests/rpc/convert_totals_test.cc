// Totals of a real plan with parts put in by hand, written.

#include <gtest/gtest.h>

#include <memory>
#include <string>
#include <vector>

#include "server/policy/load.h"
#include "tests/rpc/shot_maker.h"

namespace scantling {
namespace {

const Policy& ShippedPolicy() {
  static const absl::StatusOr<Policy> policy = LoadPolicy(SCANTLING_SOURCE_DIR "/config", "ink");
  EXPECT_TRUE(policy.ok()) << policy.status();
  return *policy;
}

std::unique_ptr<PlannedShot> PlanSmall() {
  Violations violations;
  Scene scene = SceneFromProto(MakeShot(), ShippedPolicy().catalogue, SceneLimits(), violations);
  EXPECT_TRUE(violations.empty());
  const Stop stop;
  PlanFaults faults;
  auto planned = PlanShot(std::move(scene), {ShippedPolicy(), *ShippedPolicy().FindStyle("ink"), stop, nullptr},
                          PlanRequest(), faults);
  EXPECT_TRUE(planned.ok()) << planned.status();
  return *std::move(planned);
}

// A grid of four columns and two rows that ada and ben stand in.
void AddCrowd(PlannedShot& planned) {
  Crowd crowd;
  crowd.name = "quay_crowd";
  crowd.members = {0, 1};
  crowd.keep_share = 0.5;
  crowd.columns = 4;
  crowd.rows = 2;
  crowd.least_covered_share = 0.25;
  planned.scene.crowds.push_back(crowd);
}

Resource OfKind(LimitKind kind) {
  Resource resource;
  resource.kind = kind;
  resource.crowd = 0;
  resource.cell = 5;  // second row, second column of four
  resource.frame = 1044;
  return resource;
}

TEST(TotalsToProto, LimitsAreSaidInWords) {
  const auto planned = PlanSmall();
  AddCrowd(*planned);
  std::vector<LimitFigures>& limits = planned->plan.totals.limits;
  limits.clear();
  for (const LimitKind kind : {LimitKind::kAnimHours, LimitKind::kCoreHours, LimitKind::kOtherHours,
                               LimitKind::kFrameMemory, LimitKind::kCrowdShare, LimitKind::kCellCover}) {
    limits.push_back({OfKind(kind), 10, 9.5, 0.75});
  }
  const v1::Totals totals = TotalsToProto(*planned);
  // The words that v1.Limit.what promises; the third department is the shipped card's.
  ASSERT_EQ(ShippedPolicy().rates.other_department, "effects");
  const char* words[] = {"animator-hours",
                         "core-hours",
                         "effects",
                         "memory in frame 1044, MB",
                         "omitted of quay_crowd",
                         "uncovered of quay_crowd in column 2, row 2, %"};
  ASSERT_EQ(totals.limits_size(), 6);
  for (int i = 0; i < 6; ++i) {
    EXPECT_EQ(totals.limits(i).what(), words[i]);
    EXPECT_EQ(totals.limits(i).most(), 10);
    EXPECT_EQ(totals.limits(i).used(), 9.5);
    EXPECT_EQ(totals.limits(i).price(), 0.75);
  }
}

TEST(TotalsToProto, CrowdsHaveTheirNamesCellsAndTwins) {
  const auto planned = PlanSmall();
  AddCrowd(*planned);
  CrowdFigures figures;
  figures.members = 2;
  figures.seen = 2;
  figures.kept = 1;
  figures.emptiest_cell = 3;  // first row, fourth column
  figures.emptiest_share = 0.125;
  figures.twins = {1, 0, 12.5, 1003};
  planned->plan.totals.crowds = {figures};
  const v1::Totals totals = TotalsToProto(*planned);
  ASSERT_EQ(totals.crowds_size(), 1);
  const v1::CrowdFigures& crowd = totals.crowds(0);
  EXPECT_EQ(crowd.name(), "quay_crowd");
  EXPECT_EQ(crowd.members(), 2);
  EXPECT_EQ(crowd.seen(), 2);
  EXPECT_EQ(crowd.kept(), 1);
  EXPECT_EQ(crowd.keep_share(), 0.5);
  EXPECT_EQ(crowd.least_covered_share(), 0.25);
  EXPECT_EQ(crowd.emptiest_column(), 4);
  EXPECT_EQ(crowd.emptiest_row(), 1);
  EXPECT_EQ(crowd.emptiest_share(), 0.125);
  EXPECT_EQ(crowd.twin_a(), "ben");
  EXPECT_EQ(crowd.twin_b(), "ada");
  EXPECT_EQ(crowd.twins_px(), 12.5);
  EXPECT_EQ(crowd.twins_frame(), 1003);
}

TEST(TotalsToProto, CrowdWithoutCellsOrTwinsTellsOfNone) {
  const auto planned = PlanSmall();
  AddCrowd(*planned);
  planned->scene.crowds[0].columns = planned->scene.crowds[0].rows = 0;
  planned->plan.totals.crowds = {CrowdFigures()};
  const v1::CrowdFigures crowd = TotalsToProto(*planned).crowds(0);
  EXPECT_EQ(crowd.emptiest_column(), 0);
  EXPECT_EQ(crowd.emptiest_row(), 0);
  EXPECT_EQ(crowd.twin_a(), "");
  EXPECT_EQ(crowd.twin_b(), "");
}

TEST(TotalsToProto, MemorySharedHoursAndTheThirdDepartment) {
  const auto planned = PlanSmall();
  Totals& in = planned->plan.totals;
  in.peak_memory_mb = 3000;
  in.peak_memory_frame = 1002;
  in.over_memory = {{1001, 1002}, {1004, 1004}};
  in.shared_anim_hours = 6.5;
  in.price_other_hour = 0.25;
  in.plan.other_hours = {4, 3, 3.9, 5};
  const v1::Totals totals = TotalsToProto(*planned);
  EXPECT_EQ(totals.peak_memory_mb(), 3000);
  EXPECT_EQ(totals.peak_memory_frame(), 1002);
  ASSERT_EQ(totals.over_memory_size(), 2);
  EXPECT_EQ(totals.over_memory(0).first(), 1001);
  EXPECT_EQ(totals.over_memory(0).last(), 1002);
  EXPECT_EQ(totals.over_memory(1).first(), 1004);
  EXPECT_EQ(totals.shared_anim_hours(), 6.5);
  EXPECT_EQ(totals.price_other_hour(), 0.25);
  EXPECT_EQ(totals.other_department(), "effects");
  EXPECT_EQ(totals.plan().other_hours().mean(), 4);
  EXPECT_EQ(totals.plan().other_hours().p10(), 3);
  EXPECT_EQ(totals.plan().other_hours().p50(), 3.9);
  EXPECT_EQ(totals.plan().other_hours().p90(), 5);
}

TEST(TotalsToProto, WithoutAThirdDepartmentItHasNoHours) {
  const auto planned = PlanSmall();
  EXPECT_TRUE(TotalsToProto(*planned).everything_full().has_other_hours());
  Policy policy = ShippedPolicy();
  policy.rates.other_department.clear();
  planned->policy = &policy;
  const v1::Totals totals = TotalsToProto(*planned);
  EXPECT_FALSE(totals.everything_full().has_other_hours());
  EXPECT_FALSE(totals.unseen_saving(0).saving().has_other_hours());
  EXPECT_EQ(totals.other_department(), "");
}

TEST(TotalsToProto, SteadinessOnlyWhereAnEarlierPlanWasGiven) {
  const auto planned = PlanSmall();
  EXPECT_FALSE(TotalsToProto(*planned).has_steadiness());
  planned->plan.totals.steadiness = {10, 2, 3, 7, 0.5};
  const v1::Totals totals = TotalsToProto(*planned);
  EXPECT_EQ(totals.steadiness().earlier(), 10);
  EXPECT_EQ(totals.steadiness().unknown(), 2);
  EXPECT_EQ(totals.steadiness().changed(), 3);
  EXPECT_EQ(totals.steadiness().changed_freely(), 7);
  EXPECT_EQ(totals.steadiness().loss(), 0.5);
}

TEST(PlanToProto, OptionsAreEchoedWithoutTheEarlierPlan) {
  const auto planned = PlanSmall();
  planned->plan.totals.memory_mb = {100, 200.5, 300, 50};
  v1::PlanOptions options;
  options.set_alike(true);
  options.set_memory_mb(512);
  options.set_change_margin(0.1);
  v1::PlanOptions echoed = options;
  options.add_earlier()->set_object_id("ada");
  v1::Plan plan;
  PlanWithoutDecisions(*planned, options, plan);
  EXPECT_EQ(plan.options().SerializeAsString(), echoed.SerializeAsString());
  EXPECT_EQ(std::vector<float>(plan.memory_mb().begin(), plan.memory_mb().end()),
            (std::vector<float>{100, 200.5, 300, 50}));
}

TEST(DecisionToProto, HoursOfTheThirdDepartmentAndTheEarlierTier) {
  const auto planned = PlanSmall();
  EXPECT_EQ(DecisionToProto(*planned, 0).earlier(), v1::TIER_UNSPECIFIED);
  planned->plan.decisions[0].other_hours = 2.5;
  planned->plan.decisions[0].earlier = Tier::kOmitted;
  EXPECT_EQ(DecisionToProto(*planned, 0).other_hours(), 2.5);
  EXPECT_EQ(DecisionToProto(*planned, 0).earlier(), v1::OMITTED);
}

}  // namespace
}  // namespace scantling
