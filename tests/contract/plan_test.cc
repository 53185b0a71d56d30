// A plan over the wire: the right objects, the same bytes by any way.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "tests/contract/calls.h"
#include "tests/contract/daemon_process.h"
#include "tests/contract/shots.h"

namespace scantling::testing {
namespace {

std::string BytesOf(const v1::Plan& plan) { return plan.SerializeAsString(); }

class Planning : public ::testing::Test {
 protected:
  DaemonProcess daemon_{{"--listen", "127.0.0.1:0", "--threads", "2"}};
};

TEST_F(Planning, EveryObjectGetsADecisionInOrderOfId) {
  const Answer answer = PlanOver(daemon_, TinyShot());
  ASSERT_TRUE(answer.status.ok()) << answer.status.error_message();
  std::vector<std::string> ids;
  for (const v1::Decision& decision : answer.response.plan().decisions()) ids.push_back(decision.object_id());
  EXPECT_THAT(ids, ::testing::ElementsAre("ferry", "lamplighter", "passenger_1", "porter", "unseen"));
  EXPECT_EQ(answer.response.plan().shot_id(), "qy_010");
  EXPECT_EQ(answer.response.plan().style(), "ink");
  EXPECT_EQ(answer.response.plan().mode(), "unseen");
  EXPECT_EQ(answer.response.plan().totals().objects(), 5);
}

TEST_F(Planning, WhatNoCameraSeesIsOmittedAndTheLeadIsMade) {
  const Answer answer = PlanOver(daemon_, TinyShot());
  ASSERT_TRUE(answer.status.ok()) << answer.status.error_message();
  for (const v1::Decision& decision : answer.response.plan().decisions()) {
    if (decision.object_id() == "unseen") {
      EXPECT_EQ(decision.tier(), v1::OMITTED);
      EXPECT_EQ(decision.reason(), v1::OFF_SCREEN);
    }
    if (decision.object_id() == "lamplighter") {
      EXPECT_EQ(decision.tier(), v1::FULL_RIG);
    }
  }
}

TEST_F(Planning, StageTimesComeWithThePlan) {
  const Answer answer = PlanOver(daemon_, TinyShot());
  ASSERT_TRUE(answer.status.ok()) << answer.status.error_message();
  std::vector<std::string> stages;
  for (const v1::StageTime& time : answer.response.stage_times()) stages.push_back(time.stage());
  EXPECT_THAT(stages, ::testing::ElementsAre("measuring", "holding", "pricing", "choosing", "solving", "answering"));
}

TEST_F(Planning, StreamedPlanEqualsUnaryPlanByteForByte) {
  // 4,500 objects: three messages of decisions, the last not full.
  const v1::Shot crowd = Crowd(4500, 8);
  const v1::PlanOptions options = Binding(daemon_, crowd);
  const Answer unary = PlanOver(daemon_, crowd, options);
  ASSERT_TRUE(unary.status.ok()) << unary.status.error_message();
  const StreamedPlan streamed = PlanByStream(*daemon_.Planner(), PartsOf(BlocksOf(crowd, 700), options));
  ASSERT_TRUE(streamed.status.ok()) << streamed.status.error_message();
  EXPECT_EQ(BytesOf(streamed.plan), BytesOf(unary.response.plan()));
  EXPECT_THAT(streamed.decisions_per_message, ::testing::ElementsAre(2000, 2000, 500));
  EXPECT_EQ(streamed.messages_after_summary, 0);
}

TEST_F(Planning, RowsInPartsEqualTheWholeShot) {
  const v1::Shot crowd = Crowd(300, 4);
  v1::Shot header = crowd;
  header.clear_objects();
  *header.add_objects() = crowd.objects(0);  // rows may come with the start too
  std::vector<v1::PlanLargeShotRequest> parts = PartsOf({header, {}}, {});
  for (int begin = 1; begin < 300; begin += 100) {
    auto& rows = *parts.emplace_back().mutable_rows();
    for (int i = begin; i < std::min(begin + 100, 300); ++i) *rows.add_objects() = crowd.objects(i);
  }
  const StreamedPlan streamed = PlanByStream(*daemon_.Planner(), parts);
  ASSERT_TRUE(streamed.status.ok()) << streamed.status.error_message();
  EXPECT_EQ(BytesOf(streamed.plan), BytesOf(PlanOver(daemon_, crowd).response.plan()));
}

TEST_F(Planning, OrderOfSendingChangesNoByte) {
  const v1::Shot crowd = Crowd(600, 4);
  v1::Shot shuffled = crowd;
  std::mt19937 random(7);
  std::shuffle(shuffled.mutable_objects()->pointer_begin(), shuffled.mutable_objects()->pointer_end(), random);
  ASSERT_NE(shuffled.objects(0).id(), crowd.objects(0).id());
  const v1::PlanOptions options = Binding(daemon_, crowd);
  const Answer straight = PlanOver(daemon_, crowd, options);
  ASSERT_TRUE(straight.status.ok()) << straight.status.error_message();
  EXPECT_GT(straight.response.plan().totals().loss(), 0) << "the budget must bind";
  EXPECT_EQ(BytesOf(PlanOver(daemon_, shuffled, options).response.plan()), BytesOf(straight.response.plan()));
}

TEST_F(Planning, ThreadCountAndRestartChangeNoByte) {
  const v1::Shot crowd = Crowd(1200, 8);
  const v1::PlanOptions options = Binding(daemon_, crowd);
  const Answer two = PlanOver(daemon_, crowd, options);
  ASSERT_TRUE(two.status.ok()) << two.status.error_message();
  EXPECT_GT(two.response.plan().totals().loss(), 0) << "the budget must bind";
  DaemonProcess single({"--listen", "127.0.0.1:0", "--threads", "1"});
  EXPECT_EQ(BytesOf(PlanOver(single, crowd, options).response.plan()), BytesOf(two.response.plan()));
}

TEST_F(Planning, ProgressComesInOrderAndNotTooOften) {
  const auto begin = std::chrono::steady_clock::now();
  const StreamedPlan streamed = PlanByStream(*daemon_.Planner(), PartsOf(BlocksOf(Crowd(3000, 96), 300), {}));
  const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  ASSERT_TRUE(streamed.status.ok()) << streamed.status.error_message();
  ASSERT_FALSE(streamed.progress.empty());
  const std::vector<std::string> order = {"receiving", "measuring", "choosing", "answering"};
  auto at = order.begin();
  for (const v1::Progress& progress : streamed.progress) {
    at = std::find(at, order.end(), progress.stage());
    ASSERT_NE(at, order.end()) << progress.stage() << " out of order or unknown";
    EXPECT_GE(progress.fraction(), 0);
    EXPECT_LE(progress.fraction(), 1);
  }
  // One at once, then at most one every 50 ms.
  EXPECT_LE(static_cast<double>(streamed.progress.size()), seconds * 20 + 1);
}

TEST_F(Planning, EmptyShotHasAnEmptyPlan) {
  const StreamedPlan streamed = PlanByStream(*daemon_.Planner(), PartsOf({EmptyStage(), {}}, {}));
  ASSERT_TRUE(streamed.status.ok()) << streamed.status.error_message();
  EXPECT_EQ(streamed.plan.totals().objects(), 0);
  EXPECT_TRUE(streamed.decisions_per_message.empty());
}

TEST_F(Planning, ExplanationAgreesWithThePlan) {
  const auto planner = daemon_.Planner();
  grpc::ClientContext context;
  v1::ExplainDecisionRequest request;
  *request.mutable_shot() = TinyShot();
  request.set_object_id("porter");
  v1::ExplainDecisionResponse response;
  const grpc::Status status = planner->ExplainDecision(&context, request, &response);
  ASSERT_TRUE(status.ok()) << status.error_message();
  const Answer plan = PlanOver(daemon_, TinyShot());
  const v1::Decision& planned = plan.response.plan().decisions(3);
  EXPECT_EQ(response.decision().object_id(), "porter");
  EXPECT_EQ(response.decision().tier(), planned.tier());
  EXPECT_EQ(response.decision().reason(), planned.reason());
  EXPECT_EQ(response.decision().anim_hours(), planned.anim_hours());
  ASSERT_EQ(response.decision().tiers_size(), 4);
  EXPECT_EQ(response.decision().tiers(0).tier(), v1::FULL_RIG);
  ASSERT_EQ(response.frames_size(), 24);  // one camera, 24 frames
  EXPECT_EQ(response.frames(0).frame(), 1001);
  EXPECT_EQ(response.frames(0).camera_id(), "main");
  EXPECT_TRUE(response.frames(0).seen());
  EXPECT_EQ(response.totals().SerializeAsString(), plan.response.plan().totals().SerializeAsString());
}

TEST_F(Planning, CheckListsNoFaultOfAGoodShot) {
  const auto planner = daemon_.Planner();
  grpc::ClientContext context;
  v1::CheckShotRequest request;
  *request.mutable_shot() = TinyShot();
  v1::CheckShotResponse response;
  ASSERT_TRUE(planner->CheckShot(&context, request, &response).ok());
  EXPECT_EQ(response.fault_count(), 0);
  EXPECT_EQ(response.objects(), 5);
  EXPECT_EQ(response.frames(), 24);
  EXPECT_EQ(response.cameras(), 1);
}

}  // namespace
}  // namespace scantling::testing
