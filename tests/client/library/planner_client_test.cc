// The client's half of the conversation, against a service of our own that keeps what it was sent. The real daemon is
// asked end to end.

#include "client/library/planner_client.h"

#include <gmock/gmock.h>
#include <google/protobuf/util/message_differencer.h>
#include <grpcpp/security/server_credentials.h>
#include <grpcpp/server.h>
#include <grpcpp/server_builder.h>
#include <gtest/gtest.h>

#include <thread>

#include "absl/strings/str_cat.h"

namespace scantling::client {
namespace {

using google::protobuf::util::MessageDifferencer;

using LargeStream = grpc::ServerReaderWriter<v1::PlanLargeShotResponse, v1::PlanLargeShotRequest>;

class KeepingService : public v1::ShotPlanner::Service {
 public:
  grpc::Status PlanShot(grpc::ServerContext*, const v1::PlanShotRequest* request,
                        v1::PlanShotResponse* response) override {
    received = request->shot();
    ++unary_calls;
    response->mutable_plan()->set_shot_id(request->shot().shot_id());
    return grpc::Status::OK;
  }

  grpc::Status PlanLargeShot(grpc::ServerContext*, LargeStream* stream) override {
    v1::PlanLargeShotRequest part;
    for (int parts = 0; stream->Read(&part); ++parts) {
      largest_part = std::max(largest_part, static_cast<int64_t>(part.ByteSizeLong()));
      starts_first = starts_first && part.has_start() == (parts == 0);
      if (part.has_start()) received = part.start().shot();
      for (const auto& object : part.rows().objects()) *received.add_objects() = object;
      if (part.has_block()) *received.add_blocks() = part.block();
      if (refuse_after >= 0 && parts >= refuse_after) return {grpc::StatusCode::INVALID_ARGUMENT, "enough"};
      // Tells progress while it receives, so that a client that only writes would hang.
      v1::PlanLargeShotResponse progress;
      progress.mutable_progress()->set_stage(std::string(100'000, 'x'));
      stream->Write(progress);
    }
    for (int i = 0; i < 3; ++i) {
      v1::PlanLargeShotResponse decisions;
      decisions.mutable_decisions()->add_decisions()->set_object_id(absl::StrCat(i));
      stream->Write(decisions);
    }
    if (leave_out_totals) return grpc::Status::OK;
    v1::PlanLargeShotResponse last;
    last.mutable_summary()->mutable_plan()->mutable_totals()->set_objects(3);
    stream->Write(last);
    return grpc::Status::OK;
  }

  grpc::Status TraceFrontier(grpc::ServerContext* context, const v1::TraceFrontierRequest* request,
                             grpc::ServerWriter<v1::TraceFrontierResponse>* writer) override {
    received = request->shot();
    v1::TraceFrontierResponse part;
    for (int i = 0; i < request->points() && !context->IsCancelled(); ++i) {
      part.mutable_progress()->set_fraction(0.5);
      writer->Write(part);
      part.mutable_point()->set_index(i);
      writer->Write(part);
    }
    if (!refusal.ok()) return refusal;
    part.mutable_summary()->set_points(request->points());
    if (!leave_out_totals) writer->Write(part);
    return grpc::Status::OK;
  }

  v1::Shot received;
  grpc::Status refusal;
  int unary_calls = 0;
  int64_t largest_part = 0;
  bool starts_first = true;
  int refuse_after = -1;
  bool leave_out_totals = false;
};

class PlannerClientTest : public testing::Test {
 protected:
  void SetUp() override {
    int port = 0;
    grpc::ServerBuilder builder;
    builder.AddListeningPort("127.0.0.1:0", grpc::InsecureServerCredentials(), &port);
    builder.RegisterService(&service_);
    server_ = builder.BuildAndStart();
    ASSERT_NE(server_, nullptr);
    ASSERT_TRUE(client_.Connect({.address = absl::StrCat("127.0.0.1:", port), .time_limit = std::nullopt}).ok());
  }
  void TearDown() override { server_->Shutdown(); }

  KeepingService service_;
  std::unique_ptr<grpc::Server> server_;
  PlannerClient client_;
};

// Rows with 24 poses each: 24 * 16 * 8 = 3 KiB an object.
v1::Shot ShotOf(int objects) {
  v1::Shot shot;
  shot.set_shot_id("qy_0100");
  shot.mutable_frames()->set_first(1);
  shot.mutable_frames()->set_last(24);
  shot.add_directives()->set_object_id("o1");
  shot.add_crowds()->set_name("quay");
  for (int i = 0; i < objects; ++i) {
    v1::SceneObject* object = shot.add_objects();
    object->set_id(absl::StrCat("o", i));
    for (int j = 0; j < 24 * 16; ++j) object->mutable_transform()->add_matrices(i + j);
  }
  return shot;
}

TEST_F(PlannerClientTest, SmallShotGoesInOneMessage) {
  const auto answer = client_.Plan(ShotOf(10), {}, nullptr);
  ASSERT_TRUE(answer.ok()) << answer.status();
  EXPECT_EQ(answer->plan().shot_id(), "qy_0100");
  EXPECT_EQ(service_.unary_calls, 1);
  EXPECT_TRUE(MessageDifferencer::Equals(service_.received, ShotOf(10)));
}

TEST_F(PlannerClientTest, LargeShotGoesInPartsAndArrivesWhole) {
  int told = 0;
  const auto answer = client_.Plan(ShotOf(2000), {}, [&told](const v1::Progress&) { ++told; });  // some 6 MB
  ASSERT_TRUE(answer.ok()) << answer.status();
  EXPECT_EQ(service_.unary_calls, 0);
  EXPECT_TRUE(service_.starts_first);
  EXPECT_TRUE(MessageDifferencer::Equals(service_.received, ShotOf(2000)));
  // Every message stays under the usual limit of 4 MiB: parts of one MiB and the object that filled them.
  EXPECT_LT(service_.largest_part, (1 << 20) + 4096);
  EXPECT_GE(told, 6);
}

TEST_F(PlannerClientTest, DecisionsOfAllPartsAreInThePlan) {
  const auto answer = client_.Plan(ShotOf(1000), {}, nullptr);
  ASSERT_TRUE(answer.ok()) << answer.status();
  ASSERT_EQ(answer->plan().decisions_size(), 3);
  EXPECT_EQ(answer->plan().decisions(2).object_id(), "2");
  EXPECT_EQ(answer->plan().totals().objects(), 3);
}

TEST_F(PlannerClientTest, LargeBlocksArriveInPieces) {
  v1::Shot shot = ShotOf(0);
  v1::ObjectBlock* block = shot.add_blocks();
  block->add_class_names("person");
  for (int i = 0; i < 40'000; ++i) {  // 100 bytes and more each
    block->mutable_id_blob()->append("abcd");
    block->add_id_lengths(4);
    block->add_class_of(0);
    for (int j = 0; j < 6; ++j) block->add_boxes_m(1);
    for (int j = 0; j < 9; ++j) block->add_linear(1);
    for (int j = 0; j < 3; ++j) block->add_translation_m(1);
  }
  ASSERT_TRUE(client_.Plan(shot, {}, nullptr).ok());
  int objects = 0;
  for (const auto& piece : service_.received.blocks()) objects += piece.id_lengths_size();
  EXPECT_EQ(objects, 40'000);
  EXPECT_GT(service_.received.blocks_size(), 3);
}

TEST_F(PlannerClientTest, RefusalInTheMiddleOfSendingIsTheAnswer) {
  service_.refuse_after = 1;
  const auto answer = client_.Plan(ShotOf(4000), {}, nullptr);
  EXPECT_EQ(answer.status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(answer.status().message(), "enough");
}

TEST_F(PlannerClientTest, AnswerWithoutTotalsIsAFault) {
  service_.leave_out_totals = true;
  EXPECT_EQ(client_.Plan(ShotOf(1000), {}, nullptr).status().code(), absl::StatusCode::kInternal);
}

v1::TraceFrontierRequest FrontierOf(int points, int objects) {
  v1::TraceFrontierRequest request;
  *request.mutable_shot() = ShotOf(objects);
  request.set_points(points);
  return request;
}

TEST_F(PlannerClientTest, FrontierTellsProgressAndPointsInOrderAndEndsWithItsSummary) {
  std::vector<int> points;
  int told = 0;
  const auto summary = client_.TraceFrontier(
      FrontierOf(3, 2), [&told](const v1::Progress&) { ++told; },
      [&points](const v1::FrontierPoint& point) {
        points.push_back(point.index());
        return true;
      });
  ASSERT_TRUE(summary.ok()) << summary.status();
  EXPECT_EQ(summary->points(), 3);
  EXPECT_THAT(points, testing::ElementsAre(0, 1, 2));
  EXPECT_EQ(told, 3);
  EXPECT_TRUE(MessageDifferencer::Equals(service_.received, ShotOf(2)));
  EXPECT_TRUE(client_.TraceFrontier(FrontierOf(3, 2), nullptr, nullptr).ok());
}

TEST_F(PlannerClientTest, FrontierEndsWhereTheCallerHasEnough) {
  int points = 0;
  const auto summary = client_.TraceFrontier(FrontierOf(100'000, 1), nullptr,
                                             [&points](const v1::FrontierPoint&) { return ++points < 5; });
  EXPECT_EQ(summary.status().code(), absl::StatusCode::kCancelled);
  EXPECT_EQ(points, 5);
}

TEST_F(PlannerClientTest, FrontierRefusedAfterSomePointsIsRefused) {
  service_.refusal = {grpc::StatusCode::INVALID_ARGUMENT, "enough"};
  const auto summary = client_.TraceFrontier(FrontierOf(2, 1), nullptr, nullptr);
  EXPECT_EQ(summary.status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(summary.status().message(), "enough");
}

TEST_F(PlannerClientTest, FrontierWithoutItsSummaryIsAFault) {
  service_.leave_out_totals = true;
  EXPECT_EQ(client_.TraceFrontier(FrontierOf(2, 1), nullptr, nullptr).status().code(), absl::StatusCode::kInternal);
}

TEST_F(PlannerClientTest, ShotAboveTheMessageLimitIsRefusedInWords) {
  // The service takes 4 MiB, as gRPC does unless told otherwise; 2,000 objects of 3 KiB are some 6 MB.
  const auto summary = client_.TraceFrontier(FrontierOf(2, 2000), nullptr, nullptr);
  EXPECT_EQ(summary.status().code(), absl::StatusCode::kResourceExhausted);
  EXPECT_THAT(std::string(summary.status().message()),
              testing::HasSubstr("the shot is larger than a message the daemon takes: got 6"));
  EXPECT_THAT(std::string(summary.status().message()), testing::HasSubstr("max_message_bytes"));
}

TEST_F(PlannerClientTest, EarlierDecisionsCountForWhatFitsInOneMessage) {
  v1::PlanOptions options;
  for (int i = 0; i < 100'000; ++i) options.add_earlier()->set_object_id("an id of some length");  // over 2 MiB
  ASSERT_TRUE(client_.Plan(ShotOf(2), options, nullptr).ok());
  EXPECT_EQ(service_.unary_calls, 0);
}

TEST_F(PlannerClientTest, CallTheServiceDoesNotKnowIsUnimplemented) {
  EXPECT_EQ(client_.Check({}).status().code(), absl::StatusCode::kUnimplemented);
  EXPECT_EQ(client_.Explain({}).status().code(), absl::StatusCode::kUnimplemented);
}

TEST(PlannerClientConnect, RefusedConnectionIsToldAtOnce) {
  PlannerClient client;
  const auto begin = std::chrono::steady_clock::now();
  const absl::Status status = client.Connect({.address = "unix:/no/such.sock", .time_limit = std::nullopt});
  EXPECT_EQ(status.code(), absl::StatusCode::kUnavailable);
  EXPECT_EQ(status.message(), "no daemon answers at unix:/no/such.sock");
  // The patience is five seconds; a busy machine may take a part of one.
  EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(2));
}

}  // namespace
}  // namespace scantling::client
