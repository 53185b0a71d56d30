// Plans within further limits: memory, crowds, alike groups, earlier decisions; by any way, the same bytes.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <set>
#include <string>

#include "tests/contract/calls.h"
#include "tests/contract/daemon_process.h"
#include "tests/contract/shots.h"

namespace scantling::testing {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::StartsWith;

class Limits : public ::testing::Test {
 protected:
  static void SetUpTestSuite() { daemon_ = new DaemonProcess({"--listen", "127.0.0.1:0", "--threads", "2"}); }
  static void TearDownTestSuite() {
    delete daemon_;
    daemon_ = nullptr;
  }

  static v1::Plan PlanOf(const v1::Shot& shot, const v1::PlanOptions& options = {}) {
    const Answer answer = PlanOver(*daemon_, shot, options);
    EXPECT_TRUE(answer.status.ok()) << answer.status.error_message();
    return answer.plan();
  }

  static DaemonProcess* daemon_;
};
DaemonProcess* Limits::daemon_ = nullptr;

std::vector<std::string> WhatLimits(const v1::Plan& plan) {
  std::vector<std::string> what;
  for (const v1::Limit& limit : plan.totals().limits()) what.push_back(limit.what());
  return what;
}

int CountOf(const v1::Plan& plan, v1::Reason reason) {
  return static_cast<int>(std::count_if(plan.decisions().begin(), plan.decisions().end(),
                                        [&](const v1::Decision& decision) { return decision.reason() == reason; }));
}

void RuleObject(v1::Shot& shot, const std::string& id, v1::Tier tier) {
  v1::Directive& directive = *shot.add_directives();
  directive.set_object_id(id);
  directive.set_bound(v1::Directive::EXACTLY);
  directive.set_tier(tier);
}

// ---- Memory

TEST_F(Limits, EveryPlanTellsTheMemoryOfEveryFrame) {
  const v1::Plan plan = PlanOf(TinyShot());
  ASSERT_EQ(plan.memory_mb_size(), 24);
  const float peak = *std::max_element(plan.memory_mb().begin(), plan.memory_mb().end());
  // The frames' figures are floats, the peak is not.
  EXPECT_NEAR(plan.totals().peak_memory_mb(), peak, 1e-6 * peak);
  EXPECT_EQ(plan.memory_mb(plan.totals().peak_memory_frame() - 1001), peak);
  EXPECT_EQ(plan.totals().over_memory_size(), 0);
}

TEST_F(Limits, MemoryStaysUnderItsCapInEveryFrame) {
  const v1::Shot crowd = Crowd(120, 6);
  const double peak = PlanOf(crowd).totals().peak_memory_mb();
  v1::PlanOptions options;
  options.set_memory_mb(0.75 * peak);
  const v1::Plan plan = PlanOf(crowd, options);
  EXPECT_EQ(plan.mode(), "budget");
  EXPECT_EQ(plan.options().memory_mb(), 0.75 * peak);
  EXPECT_LE(plan.totals().peak_memory_mb(), 0.75 * peak);
  // A float is at most a part in 2^24 off.
  for (const float mb : plan.memory_mb()) EXPECT_LE(mb, 0.75 * peak * (1 + 1e-7));
  EXPECT_GT(plan.totals().loss(), 0) << "a cap under what a plan without visible loss needs must cost something";
  EXPECT_LE(plan.totals().loss_bound(), plan.totals().loss());
  EXPECT_THAT(WhatLimits(plan), Contains(::testing::MatchesRegex("memory in frame 100[1-6], MB")));
}

TEST_F(Limits, MemoryThatCannotBeMetSaysWhatWouldDo) {
  v1::Shot shot = TinyShot();
  RuleObject(shot, "lamplighter", v1::FULL_RIG);
  v1::PlanOptions options;
  options.set_memory_mb(1);
  const Refused refused = RefusalOf(PlanOver(*daemon_, shot, options).status);
  EXPECT_EQ(refused.code, grpc::StatusCode::FAILED_PRECONDITION);
  EXPECT_EQ(refused.reason, "NO_PLAN_FITS");
  EXPECT_THAT(refused.message, StartsWith("no plan fits 1 MB a frame; what must be made takes at least "));
  ASSERT_THAT(refused.metadata, Contains(::testing::Key("fitting_memory_mb")));
  options.set_memory_mb(std::stod(refused.metadata.at("fitting_memory_mb")));
  EXPECT_LE(PlanOf(shot, options).totals().peak_memory_mb(), options.memory_mb());
}

// ---- What stands in the way

TEST_F(Limits, RulingThatStandsInTheWayIsNamed) {
  v1::Shot shot = Crowd(20, 4);
  RuleObject(shot, "p3", v1::FULL_RIG);
  RuleObject(shot, "p4", v1::COLOUR_PATCH);
  shot.mutable_directives(0)->set_who("supervisor");
  // Less than the ruled object takes alone, which its explanation tells.
  v1::PlanOptions options;
  options.set_anim_hours(0.5 * PlanOf(shot).totals().plan().anim_hours().mean() / 20);
  const Refused refused = RefusalOf(PlanOver(*daemon_, shot, options).status);
  EXPECT_EQ(refused.reason, "NO_PLAN_FITS");
  ASSERT_GE(refused.failure.violations_size(), 1) << refused.message;
  EXPECT_EQ(refused.metadata.at("in_the_way"), std::to_string(refused.failure.violations_size()));
  EXPECT_THAT(refused.metadata.at("in_the_way_is_irreducible"), ::testing::AnyOf("true", "false"));
  std::set<std::string> subjects;
  for (const auto& violation : refused.failure.violations()) {
    subjects.insert(violation.type() + " " + violation.subject());
    EXPECT_THAT(refused.message, HasSubstr("in the way stand"));
  }
  EXPECT_THAT(subjects, Contains("DIRECTIVE directives[0]"));
}

// ---- Crowds

// Everybody of Crowd() in one crowd over four by two cells.
v1::Shot NamedCrowd(int count) {
  v1::Shot shot = Crowd(count, 4);
  v1::Crowd& crowd = *shot.add_crowds();
  crowd.set_name("quay_crowd");
  crowd.add_class_names("person");
  crowd.set_cell_columns(4);
  crowd.set_cell_rows(2);
  return shot;
}

// Rows go back 3 m a row from 8 m on: of 2,000 people some hundred are a few pixels high and the first to go.
constexpr int kFarCrowd = 2000;
constexpr double kTight = 0.1;  // of what binding budgets lie between

TEST_F(Limits, CrowdKeepsTheShareThatWasAskedFor) {
  v1::Shot shot = NamedCrowd(kFarCrowd);
  const v1::PlanOptions options = Binding(*daemon_, shot, kTight);
  const v1::Plan plain = PlanOf(shot, options);
  ASSERT_EQ(plain.totals().crowds_size(), 1);
  const v1::CrowdFigures& left = plain.totals().crowds(0);
  EXPECT_EQ(left.name(), "quay_crowd");
  EXPECT_EQ(left.members(), kFarCrowd);
  ASSERT_GT(left.seen(), 0);
  const double share = static_cast<double>(left.kept()) / static_cast<double>(left.seen());
  ASSERT_LT(share, 0.95) << "the budget must thin the crowd";

  const double asked = (1 + share) / 2;
  shot.mutable_crowds(0)->set_keep_share(asked);
  const v1::Plan kept = PlanOf(shot, options);
  const v1::CrowdFigures& crowd = kept.totals().crowds(0);
  EXPECT_EQ(crowd.keep_share(), asked);
  // The share is a fraction rounded to a double: its product may lie a part in 2^53 above a whole number.
  EXPECT_GE(static_cast<double>(crowd.kept()), asked * static_cast<double>(crowd.seen()) - 1e-9);
  EXPECT_THAT(WhatLimits(kept), Contains("omitted of quay_crowd"));
  EXPECT_GT(CountOf(kept, v1::CROWD_SHARE), 0);
  EXPECT_GE(kept.totals().loss(), plain.totals().loss_bound());
}

TEST_F(Limits, EmptiestCellKeepsItsCover) {
  v1::Shot shot = NamedCrowd(kFarCrowd);
  const v1::PlanOptions options = Binding(*daemon_, shot, kTight);
  const v1::CrowdFigures plain = PlanOf(shot, options).totals().crowds(0);
  ASSERT_GE(plain.emptiest_column(), 1);
  EXPECT_LE(plain.emptiest_column(), 4);
  ASSERT_GE(plain.emptiest_row(), 1);
  EXPECT_LE(plain.emptiest_row(), 2);
  ASSERT_LT(plain.emptiest_share(), 1) << "the budget must thin the crowd";

  const double asked = (1 + plain.emptiest_share()) / 2;
  shot.mutable_crowds(0)->set_least_covered_share(asked);
  const v1::Plan plan = PlanOf(shot, options);
  const v1::CrowdFigures& crowd = plan.totals().crowds(0);
  EXPECT_EQ(crowd.least_covered_share(), asked);
  // Cover counts in thousandths of a pixel a member and cell, far less than a part in a million of any cell here.
  EXPECT_GE(crowd.emptiest_share(), asked - 1e-6);
  EXPECT_THAT(WhatLimits(plan), Contains(StartsWith("uncovered of quay_crowd in column ")));
}

TEST_F(Limits, NearestTwinsAreNamed) {
  v1::Shot shot = NamedCrowd(6);
  for (const int i : {1, 4}) shot.mutable_objects(i)->set_asset_id("porter_rig");
  const v1::CrowdFigures crowd = PlanOf(shot).totals().crowds(0);
  EXPECT_EQ(crowd.twin_a(), "p1");
  EXPECT_EQ(crowd.twin_b(), "p4");
  // Both 8 m off; p1 walks from 0.16 m a place * 3 places to the left, by 0.0625 m a frame: nearest in the last frame.
  // 2048 / 36 px a mm of the window, 35 mm, 8 m: (0.48 - 3 * 0.0625) * 35 / 8 * 2048 / 36 = 72.8 px. Float poses: 0.1
  // px.
  EXPECT_NEAR(crowd.twins_px(), (0.48 - 3 * 0.0625) * 35 / 8 * 2048 / 36, 0.1);
  EXPECT_EQ(crowd.twins_frame(), 1004);
}

TEST_F(Limits, CrowdAgainstARulingNamesBoth) {
  v1::Shot shot = TinyShot();
  RuleObject(shot, "porter", v1::OMITTED);
  v1::Crowd& crowd = *shot.add_crowds();
  crowd.set_name("quay_crowd");
  crowd.add_object_ids("porter");
  crowd.set_keep_share(1);
  const Refused refused = RefusalOf(PlanOver(*daemon_, shot).status);
  EXPECT_EQ(refused.code, grpc::StatusCode::FAILED_PRECONDITION);
  EXPECT_EQ(refused.reason, "NO_PLAN_FITS");
  std::set<std::string> subjects;
  for (const auto& violation : refused.failure.violations()) {
    subjects.insert(violation.type() + " " + violation.subject());
  }
  EXPECT_EQ(subjects, (std::set<std::string>{"DIRECTIVE directives[0]", "KEEP_SHARE quay_crowd"})) << refused.message;
  EXPECT_EQ(refused.metadata.at("in_the_way"), "2");
  EXPECT_EQ(refused.metadata.at("in_the_way_is_irreducible"), "true");
}

// ---- Alike

// Tiers of every asset, container and band.
std::map<std::string, std::set<v1::Tier>> TiersByGroup(const v1::Plan& plan) {
  std::map<std::string, std::set<v1::Tier>> tiers;
  for (const v1::Decision& decision : plan.decisions()) {
    tiers[decision.asset_id() + "/" + decision.container_id() + "/" + decision.band()].insert(decision.tier());
  }
  return tiers;
}

TEST_F(Limits, AlikeGivesOneTierToWhatIsAlike) {
  v1::Shot shot = Crowd(240, 4);
  for (int i = 0; i < shot.objects_size(); ++i) shot.mutable_objects(i)->set_asset_id("rig" + std::to_string(i % 3));
  v1::PlanOptions options = Binding(*daemon_, shot);
  const auto mixed = TiersByGroup(PlanOf(shot, options));
  EXPECT_TRUE(std::any_of(mixed.begin(), mixed.end(), [](const auto& group) { return group.second.size() > 1; }))
      << "the budget must split some group";
  options.set_alike(true);
  const v1::Plan plan = PlanOf(shot, options);
  EXPECT_TRUE(plan.options().alike());
  const auto groups = TiersByGroup(plan);
  EXPECT_GE(groups.size(), 6u);  // three assets in at least two bands
  for (const auto& [group, tiers] : groups) EXPECT_EQ(tiers.size(), 1u) << group;
}

// ---- Earlier decisions

void KeepTo(const v1::Plan& plan, v1::PlanOptions& options) {
  for (const v1::Decision& decision : plan.decisions()) {
    v1::EarlierDecision& earlier = *options.add_earlier();
    earlier.set_object_id(decision.object_id());
    earlier.set_tier(decision.tier());
  }
}

int Changed(const v1::Plan& before, const v1::Plan& after) {
  int changed = 0;
  for (int i = 0; i < after.decisions_size(); ++i) changed += before.decisions(i).tier() != after.decisions(i).tier();
  return changed;
}

TEST_F(Limits, SamePlanAgainChangesNothing) {
  const v1::Shot crowd = Crowd(200, 4);
  v1::PlanOptions options = Binding(*daemon_, crowd);
  const v1::Plan before = PlanOf(crowd, options);
  KeepTo(before, options);
  const v1::Plan after = PlanOf(crowd, options);
  EXPECT_EQ(Changed(before, after), 0);
  const v1::Steadiness& steadiness = after.totals().steadiness();
  EXPECT_EQ(steadiness.earlier(), 200);
  EXPECT_EQ(steadiness.unknown(), 0);
  EXPECT_EQ(steadiness.changed(), 0);
  EXPECT_EQ(steadiness.loss(), 0);
  EXPECT_EQ(after.options().earlier_size(), 0);
  EXPECT_FALSE(before.totals().has_steadiness());
}

TEST_F(Limits, EarlierDecisionsAreKeptToAndAccountedFor) {
  const v1::Shot crowd = Crowd(200, 4);
  v1::PlanOptions options = Binding(*daemon_, crowd);
  const v1::Plan before = PlanOf(crowd, options);
  options.set_anim_hours(options.anim_hours() * 0.9);
  const v1::Plan freely = PlanOf(crowd, options);
  KeepTo(before, options);
  options.set_change_margin(0.2);
  v1::EarlierDecision& gone = *options.add_earlier();
  gone.set_object_id("no_longer_there");
  gone.set_tier(v1::PROXY);
  const v1::Plan after = PlanOf(crowd, options);
  const v1::Steadiness& steadiness = after.totals().steadiness();
  EXPECT_EQ(steadiness.earlier(), 200);
  EXPECT_EQ(steadiness.unknown(), 1);
  EXPECT_EQ(steadiness.changed(), Changed(before, after));
  EXPECT_EQ(steadiness.changed_freely(), Changed(before, freely));
  EXPECT_GT(steadiness.changed(), 0) << "a tenth less must change something";
  EXPECT_LE(steadiness.changed(), steadiness.changed_freely());
  // Two sums of integers of 1e-10, as doubles.
  EXPECT_NEAR(steadiness.loss(), after.totals().loss() - freely.totals().loss(), 1e-9);
  for (int i = 0; i < after.decisions_size(); ++i) {
    EXPECT_EQ(after.decisions(i).earlier(), before.decisions(i).tier());
    if (after.decisions(i).reason() == v1::KEPT_AS_BEFORE) {
      EXPECT_EQ(after.decisions(i).tier(), before.decisions(i).tier());
    }
  }
}

TEST_F(Limits, UnknownEarlierDecisionsAloneKeepNothing) {
  const v1::Shot crowd = Crowd(40, 4);
  v1::PlanOptions options = Binding(*daemon_, crowd);
  const v1::Plan freely = PlanOf(crowd, options);
  v1::EarlierDecision& gone = *options.add_earlier();
  gone.set_object_id("no_longer_there");
  gone.set_tier(v1::PROXY);
  const v1::Plan after = PlanOf(crowd, options);
  EXPECT_EQ(after.totals().steadiness().earlier(), 0);
  EXPECT_EQ(after.totals().steadiness().unknown(), 1);
  EXPECT_EQ(Changed(freely, after), 0);
}

TEST_F(Limits, FaultsOfEarlierDecisionsHaveTheirPlaces) {
  v1::PlanOptions options;
  options.add_earlier()->set_tier(v1::PROXY);
  for (int i = 0; i < 2; ++i) options.add_earlier()->set_object_id("porter");
  options.mutable_earlier(1)->set_tier(v1::PROXY);
  const Refused refused = RefusalOf(PlanOver(*daemon_, TinyShot(), options).status);
  EXPECT_EQ(refused.reason, "OPTIONS_INVALID");
  EXPECT_EQ(refused.faults, (std::map<std::string, std::string>{
                                {"options.earlier[0].object_id", "got nothing, want an object's id"},
                                {"options.earlier[2].object_id",
                                 "got \"porter\", want an object that options.earlier[1] does not name already"},
                                {"options.earlier[2].tier", "got 0, want OMITTED, COLOUR_PATCH, PROXY or FULL_RIG"}}));
}

// ---- All together

TEST_F(Limits, EverythingAtOnceByAnyWayIsTheSameToTheByte) {
  v1::Shot shot = NamedCrowd(160);
  for (int i = 0; i < shot.objects_size(); i += 2) shot.mutable_objects(i)->set_asset_id("villager");
  shot.mutable_crowds(0)->set_keep_share(0.5);
  shot.mutable_crowds(0)->set_least_covered_share(0.5);
  v1::PlanOptions options = Binding(*daemon_, shot);
  options.set_memory_mb(0.9 * PlanOf(shot).totals().peak_memory_mb());
  options.set_core_hours(1000);
  options.set_other_hours(1000);
  options.set_alike(true);
  KeepTo(PlanOf(shot, options), options);
  options.set_anim_hours(options.anim_hours() * 0.95);
  const v1::Plan once = PlanOf(shot, options);
  EXPECT_GT(once.totals().loss(), 0);
  EXPECT_EQ(PlanOf(shot, options).SerializeAsString(), once.SerializeAsString());
  const StreamedPlan streamed = PlanByStream(*daemon_->Planner(), PartsOf({shot, {}}, options));
  ASSERT_TRUE(streamed.status.ok()) << streamed.status.error_message();
  EXPECT_EQ(streamed.plan.SerializeAsString(), once.SerializeAsString());
  DaemonProcess single({"--listen", "127.0.0.1:0", "--threads", "1"});
  EXPECT_EQ(PlanOver(single, shot, options).plan().SerializeAsString(), once.SerializeAsString());
}

TEST_F(Limits, ExplanationTellsWhatBudgetWouldChangeATradedTier) {
  const v1::Shot crowd = Crowd(60, 4);
  v1::ExplainDecisionRequest request;
  *request.mutable_shot() = crowd;
  *request.mutable_options() = Binding(*daemon_, crowd);
  const v1::Plan plan = PlanOf(crowd, request.options());
  ASSERT_GT(CountOf(plan, v1::TRADED), 0);
  for (const v1::Decision& decision : plan.decisions()) {
    if (decision.reason() == v1::TRADED) request.set_object_id(decision.object_id());
  }
  grpc::ClientContext context;
  v1::ExplainDecisionResponse response;
  ASSERT_TRUE(daemon_->Planner()->ExplainDecision(&context, request, &response).ok());
  int budgets = 0;
  for (const v1::Flip& flip : response.decision().flips()) {
    budgets += flip.has_anim_hours();
    EXPECT_FALSE(flip.has_core_hours()) << "that budget was not given";
    EXPECT_NE(flip.tier(), response.decision().tier());
  }
  EXPECT_GT(budgets, 0);
}

}  // namespace
}  // namespace scantling::testing
