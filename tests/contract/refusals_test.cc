// Every refusal in detail: code, reason, field paths, figures.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "tests/contract/calls.h"
#include "tests/contract/daemon_process.h"
#include "tests/contract/shots.h"

namespace scantling::testing {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Key;
using ::testing::SizeIs;

class Refusals : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    daemon_ = new DaemonProcess({"--listen", "127.0.0.1:0", "--max-objects", "50", "--max-message-bytes", "1000000"});
  }
  static void TearDownTestSuite() {
    delete daemon_;
    daemon_ = nullptr;
  }

  Refused Plan(const v1::Shot& shot, const v1::PlanOptions& options = {}) {
    const auto planner = daemon_->Planner();
    grpc::ClientContext context;
    v1::PlanShotRequest request;
    *request.mutable_shot() = shot;
    *request.mutable_options() = options;
    v1::PlanShotResponse response;
    return RefusalOf(planner->PlanShot(&context, request, &response));
  }

  Refused Stream(const std::vector<v1::PlanLargeShotRequest>& parts) {
    return RefusalOf(PlanByStream(*daemon_->Planner(), parts).status);
  }

  static DaemonProcess* daemon_;
};
DaemonProcess* Refusals::daemon_ = nullptr;

TEST_F(Refusals, AllFaultsOfAShotComeAtOnceWithTheirFields) {
  v1::Shot shot = TinyShot();
  shot.mutable_objects(0)->set_class_name("no_such_class");
  shot.mutable_objects(1)->mutable_box()->mutable_max_m()->set_y(std::nan(""));
  shot.mutable_objects(3)->set_container_id("nowhere");
  const Refused refused = Plan(shot);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "SHOT_INVALID");
  EXPECT_EQ(refused.domain, "scantling.v1");
  ASSERT_THAT(refused.faults, SizeIs(3));
  EXPECT_THAT(refused.faults, Contains(Key(HasSubstr("objects[0].class_name"))));
  EXPECT_THAT(refused.faults, Contains(Key(HasSubstr("objects[1].box.max_m"))));
  EXPECT_THAT(refused.faults, Contains(Key(HasSubstr("objects[3].container_id"))));
  for (const auto& [field, description] : refused.faults) {
    EXPECT_THAT(description, HasSubstr("got")) << field;
    EXPECT_THAT(description, HasSubstr("want")) << field;
  }
}

TEST_F(Refusals, OptionsOutOfRange) {
  v1::PlanOptions options;
  options.set_anim_hours(-1);
  options.set_core_hours(std::numeric_limits<double>::infinity());
  options.set_target_gap(std::nan(""));
  const Refused refused = Plan(TinyShot(), options);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "OPTIONS_INVALID");
  EXPECT_EQ(refused.faults,
            (std::map<std::string, std::string>{{"options.anim_hours", "got -1, want a number from 0 to 1e+09"},
                                                {"options.core_hours", "got inf, want a number from 0 to 1e+09"},
                                                {"options.target_gap", "got nan, want a number from 0 to 1"}}));
}

TEST_F(Refusals, UnknownStyleNamesTheKnownOnes) {
  v1::PlanOptions options;
  options.set_style("woodcut");
  Refused refused = Plan(TinyShot(), options);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "STYLE_UNKNOWN");
  EXPECT_EQ(
      refused.faults,
      (std::map<std::string, std::string>{{"options.style", "got \"woodcut\", want one of ink, lensed, painted"}}));
  v1::Shot shot = TinyShot();
  shot.set_style("etching");
  refused = Plan(shot);
  EXPECT_EQ(refused.reason, "STYLE_UNKNOWN");
  EXPECT_THAT(refused.faults, Contains(Key("shot.style")));
}

TEST_F(Refusals, FaultsOfShotAndOptionsComeTogether) {
  v1::Shot shot = TinyShot();
  shot.mutable_objects(0)->set_class_name("no_such_class");
  v1::PlanOptions options;
  options.set_style("woodcut");
  options.set_anim_hours(-1);
  const Refused refused = Plan(shot, options);
  EXPECT_EQ(refused.reason, "SHOT_INVALID");
  EXPECT_THAT(refused.faults, SizeIs(3));
}

TEST_F(Refusals, ContradictoryDirectivesNameBoth) {
  v1::Shot shot = TinyShot();
  for (const v1::Tier tier : {v1::FULL_RIG, v1::OMITTED}) {
    v1::Directive& directive = *shot.add_directives();
    directive.set_object_id("porter");
    directive.set_bound(v1::Directive::EXACTLY);
    directive.set_tier(tier);
    directive.set_who("supervisor");
  }
  const Refused refused = Plan(shot);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "DIRECTIVES_CONTRADICT");
  ASSERT_THAT(refused.faults, SizeIs(::testing::Ge(1u)));
  EXPECT_THAT(refused.faults.begin()->second, HasSubstr("FULL_RIG"));
  EXPECT_THAT(refused.faults.begin()->second, HasSubstr("OMITTED"));
}

TEST_F(Refusals, NoPlanFitsSaysWhatWouldAndThatBudgetDoes) {
  v1::Shot shot = TinyShot();
  v1::Directive& directive = *shot.add_directives();
  directive.set_object_id("lamplighter");
  directive.set_bound(v1::Directive::EXACTLY);
  directive.set_tier(v1::FULL_RIG);
  v1::PlanOptions options;
  options.set_anim_hours(0.01);
  options.set_core_hours(1000);
  const Refused refused = Plan(shot, options);
  EXPECT_EQ(refused.code, grpc::StatusCode::FAILED_PRECONDITION);
  EXPECT_EQ(refused.reason, "NO_PLAN_FITS");
  EXPECT_THAT(refused.message, HasSubstr("no plan fits 0.01 animator-hours and 1000 core-hours"));
  for (const char* key :
       {"least_anim_hours", "least_core_hours", "fitting_anim_hours", "fitting_core_hours", "factor_at_least"}) {
    ASSERT_THAT(refused.metadata, Contains(Key(key)));
  }
  EXPECT_GT(std::stod(refused.metadata.at("least_anim_hours")), 0.01);
  EXPECT_GE(std::stod(refused.metadata.at("factor_at_least")), 1);
  options.set_anim_hours(std::stod(refused.metadata.at("fitting_anim_hours")));
  options.set_core_hours(std::stod(refused.metadata.at("fitting_core_hours")));
  EXPECT_EQ(Plan(shot, options).code, grpc::StatusCode::OK);
}

TEST_F(Refusals, UnknownObjectOfAnExplanation) {
  const auto planner = daemon_->Planner();
  grpc::ClientContext context;
  v1::ExplainDecisionRequest request;
  *request.mutable_shot() = TinyShot();
  request.set_object_id("nobody");
  v1::ExplainDecisionResponse response;
  const Refused refused = RefusalOf(planner->ExplainDecision(&context, request, &response));
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "OBJECT_UNKNOWN");
  EXPECT_EQ(refused.faults, (std::map<std::string, std::string>{
                                {"object_id", "got \"nobody\", want the id of one of the shot's 5 objects"}}));
}

TEST_F(Refusals, MissingShotIsRefusedNotCrashedOn) {
  const Refused refused = Plan(v1::Shot());
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "SHOT_INVALID");
  EXPECT_FALSE(refused.faults.empty());
}

TEST_F(Refusals, MoreObjectsThanTheDaemonTakes) {
  EXPECT_EQ(Plan(Crowd(50, 1)).code, grpc::StatusCode::OK);
  const Refused refused = Plan(Crowd(51, 1));
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_FALSE(refused.faults.empty());
  EXPECT_EQ(Stream(PartsOf(BlocksOf(Crowd(60, 1), 20), {})).code, grpc::StatusCode::INVALID_ARGUMENT);
}

TEST_F(Refusals, StreamOfTooManyObjectsIsNotHeardToItsEnd) {
  const auto planner = daemon_->Planner();
  grpc::ClientContext context;
  const auto stream = planner->PlanLargeShot(&context);
  for (const auto& part : PartsOf(BlocksOf(Crowd(60, 1), 30), {})) stream->Write(part);
  v1::PlanLargeShotResponse answer;
  while (stream->Read(&answer)) EXPECT_TRUE(answer.has_progress());  // no WritesDone
  const Refused refused = RefusalOf(stream->Finish());
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_FALSE(refused.faults.empty());
}

TEST_F(Refusals, MessageLargerThanTheDaemonTakes) {
  v1::Shot shot = TinyShot();
  shot.set_sequence_id(std::string(1'000'000, 'x'));
  const auto planner = daemon_->Planner();
  grpc::ClientContext context;
  v1::PlanShotRequest request;
  *request.mutable_shot() = shot;
  v1::PlanShotResponse response;
  EXPECT_EQ(planner->PlanShot(&context, request, &response).error_code(), grpc::StatusCode::RESOURCE_EXHAUSTED);
}

TEST_F(Refusals, ManyFaultsStillReachTheCaller) {
  v1::Shot shot = EmptyStage();
  for (int i = 0; i < 40; ++i) *shot.add_objects() = TinyShot().objects(0);  // one id forty times
  for (auto& object : *shot.mutable_objects()) object.set_class_name("no_such_class_" + std::string(100, 'x'));
  const Refused refused = Plan(shot);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "SHOT_INVALID");
  EXPECT_FALSE(refused.faults.empty());

  const auto planner = daemon_->Planner();
  grpc::ClientContext context;
  v1::CheckShotRequest request;
  *request.mutable_shot() = shot;
  v1::CheckShotResponse response;
  ASSERT_TRUE(planner->CheckShot(&context, request, &response).ok());
  EXPECT_EQ(response.faults_size(), response.fault_count());
  EXPECT_GE(response.fault_count(), 40 + 39);  // forty unknown classes, thirty-nine ids taken
}

TEST_F(Refusals, StreamWithoutAStart) {
  std::vector<v1::PlanLargeShotRequest> parts = PartsOf(BlocksOf(Crowd(10, 1), 10), {});
  parts.erase(parts.begin());
  const Refused refused = Stream(parts);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "STREAM_ORDER");
  EXPECT_EQ(refused.message, "got objects first, want a start first");
}

TEST_F(Refusals, StreamWithTwoStarts) {
  std::vector<v1::PlanLargeShotRequest> parts = PartsOf({EmptyStage(), {}}, {});
  parts.push_back(parts[0]);
  const Refused refused = Stream(parts);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "STREAM_ORDER");
  EXPECT_EQ(refused.message, "got a second start, want one only");
}

TEST_F(Refusals, StreamWithNothingInIt) {
  const Refused refused = Stream({});
  EXPECT_EQ(refused.reason, "STREAM_ORDER");
  EXPECT_EQ(refused.message, "got no part, want a start first");
}

TEST_F(Refusals, StreamWithAnEmptyPart) {
  std::vector<v1::PlanLargeShotRequest> parts = PartsOf({EmptyStage(), {}}, {});
  parts.emplace_back();
  const Refused refused = Stream(parts);
  EXPECT_EQ(refused.reason, "STREAM_ORDER");
  EXPECT_EQ(refused.message, "got an empty part, want a start, a block or rows");
}

TEST_F(Refusals, StreamFaultsOfAllPartsComeAtOnce) {
  CrowdInBlocks crowd = BlocksOf(Crowd(30, 1), 10);
  crowd.shot.mutable_rate()->set_denominator(0);
  crowd.blocks[0].set_class_of(3, 9);
  crowd.blocks[2].set_class_names(0, "no_such_class");
  v1::PlanOptions options;
  options.set_anim_hours(-1);
  const Refused refused = Stream(PartsOf(crowd, options));
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "SHOT_INVALID");
  EXPECT_THAT(refused.faults, Contains(Key(HasSubstr("rate"))));
  EXPECT_THAT(refused.faults, Contains(Key("options.anim_hours")));
  EXPECT_THAT(refused.faults, Contains(Key(HasSubstr("blocks[0].class_of[3]"))));
  EXPECT_THAT(refused.faults, Contains(Key(HasSubstr("blocks[2].class_"))));
}

}  // namespace
}  // namespace scantling::testing
