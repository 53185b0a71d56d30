// Cancels and deadlines end the compute, not only the call.
//
// How soon is measured from the daemon's own log (the line of the call, which says when its handler ended) and printed.
// The bound tested is one second, far above the 50 ms that are wanted, so that a busy machine fails nothing; a plan
// that ran on to its end would take several times as long, which each test makes sure of.

#include <gtest/gtest.h>

#include <chrono>
#include <cstdio>
#include <thread>

#include "tests/contract/daemon_process.h"
#include "tests/contract/shots.h"
#include "tests/contract/wait_until.h"

namespace scantling::testing {
namespace {

using std::chrono::duration;
using std::chrono::milliseconds;
using std::chrono::seconds;
using std::chrono::steady_clock;

constexpr double kBound = 1;  // s

double SecondsSince(steady_clock::time_point begin) { return duration<double>(steady_clock::now() - begin).count(); }

int CallsLogged(const DaemonProcess& daemon) {
  const std::string log = daemon.Log();
  int calls = 0;
  for (size_t at = log.find(" call "); at != std::string::npos; at = log.find(" call ", at + 1)) ++calls;
  return calls;
}

using PlanStream = grpc::ClientReaderWriter<v1::PlanLargeShotRequest, v1::PlanLargeShotResponse>;

// Sends a crowd as often as it takes for its plan to last many seconds: copies with other ids.
void SendLargeShot(PlanStream& stream) {
  CrowdInBlocks crowd = BlocksOf(Crowd(4000, 1), 4000);
  crowd.shot.mutable_frames()->set_last(1000 + 2400);  // all stay: one pose each, measured at 2,400 frames
  v1::ObjectBlock block = crowd.blocks[0];
  block.clear_poses();
  block.clear_linear();
  block.clear_translation_m();
  for (int i = 0; i < 4000; ++i) {
    for (const float value : {1, 0, 0, 0, 1, 0, 0, 0, 1}) block.add_linear(value);
    for (const double value : {-20 + 0.01 * i, 0.0, -30.0 - i % 100}) block.add_translation_m(value);
  }
  stream.Write(PartsOf({crowd.shot, {}}, {})[0]);
  for (int copy = 0; copy < 25; ++copy) {
    v1::PlanLargeShotRequest part;
    *part.mutable_block() = block;
    std::string& ids = *part.mutable_block()->mutable_id_blob();
    ids.clear();
    for (int i = 0; i < 4000; ++i) {
      const std::string id = std::to_string(100'000'000 + 4000 * copy + i);
      ids += id;
      part.mutable_block()->set_id_lengths(i, static_cast<uint32_t>(id.size()));
    }
    ASSERT_TRUE(stream.Write(part));
  }
  stream.WritesDone();
}

// Reads until measuring is under way and the first progress of it says how long it would take.
bool ReadUntilMeasuring(PlanStream& stream) {
  v1::PlanLargeShotResponse answer;
  while (stream.Read(&answer)) {
    if (answer.progress().stage() == "measuring") return true;
  }
  return false;
}

class Stopping : public ::testing::Test {
 protected:
  // One thread, so that the plan is long.
  DaemonProcess daemon_{{"--listen", "127.0.0.1:0", "--threads", "1"}};

  void ExpectLogged(const char* status) {
    EXPECT_NE(daemon_.Log().find(std::string("status=") + status), std::string::npos) << daemon_.Log();
  }
};

TEST_F(Stopping, CancelWhileComputingEndsTheCompute) {
  const auto planner = daemon_.Planner();
  grpc::ClientContext context;
  const auto stream = planner->PlanLargeShot(&context);
  SendLargeShot(*stream);
  ASSERT_TRUE(ReadUntilMeasuring(*stream));
  ASSERT_EQ(CallsLogged(daemon_), 0) << "the plan must still be computing";
  const auto cancelled = steady_clock::now();
  context.TryCancel();
  ASSERT_TRUE(WaitUntil(seconds(60), [&] { return CallsLogged(daemon_) == 1; }));
  const double took = SecondsSince(cancelled);
  std::printf("cancel to the end of the compute: %.1f ms\n", 1000 * took);
  RecordProperty("cancel_ms", std::to_string(1000 * took));
  EXPECT_LT(took, kBound);
  EXPECT_EQ(stream->Finish().error_code(), grpc::StatusCode::CANCELLED);
  ExpectLogged("CANCELLED");
}

TEST_F(Stopping, DeadlineEndsTheComputeBeforeItPasses) {
  const auto planner = daemon_.Planner();
  grpc::ClientContext context;
  const auto begin = steady_clock::now();
  context.set_deadline(std::chrono::system_clock::now() + milliseconds(1500));
  const auto stream = planner->PlanLargeShot(&context);
  SendLargeShot(*stream);
  const grpc::Status status = [&] {
    ReadUntilMeasuring(*stream);
    v1::PlanLargeShotResponse answer;
    while (stream->Read(&answer)) continue;
    return stream->Finish();
  }();
  EXPECT_EQ(status.error_code(), grpc::StatusCode::DEADLINE_EXCEEDED);
  ASSERT_TRUE(WaitUntil(seconds(60), [&] { return CallsLogged(daemon_) == 1; }));
  const double over = SecondsSince(begin) - 1.5;
  std::printf("compute ended %.1f ms after the deadline (below 0: before it)\n", 1000 * over);
  RecordProperty("after_deadline_ms", std::to_string(1000 * over));
  EXPECT_LT(over, kBound);
  ExpectLogged("DEADLINE_EXCEEDED");
}

TEST_F(Stopping, CancelOfAUnaryPlanEndsTheCompute) {
  v1::PlanShotRequest request;
  *request.mutable_shot() = Crowd(20'000, 1);
  request.mutable_shot()->mutable_frames()->set_last(1000 + 4000);
  for (auto& object : *request.mutable_shot()->mutable_objects()) {
    if (object.transform().matrices_size() == 0) *object.mutable_transform() = request.shot().objects(0).transform();
  }
  const auto planner = daemon_.Planner();
  grpc::ClientContext context;
  v1::PlanShotResponse response;
  grpc::Status status;
  std::thread caller([&] { status = planner->PlanShot(&context, request, &response); });
  std::this_thread::sleep_for(milliseconds(700));  // sent and computing; if not yet, the cancel only comes early
  EXPECT_EQ(CallsLogged(daemon_), 0) << "the plan must still be computing";
  const auto cancelled = steady_clock::now();
  context.TryCancel();
  caller.join();
  EXPECT_EQ(status.error_code(), grpc::StatusCode::CANCELLED);
  ASSERT_TRUE(WaitUntil(seconds(60), [&] { return CallsLogged(daemon_) == 1; }));
  const double took = SecondsSince(cancelled);
  std::printf("cancel to the end of the compute: %.1f ms\n", 1000 * took);
  RecordProperty("cancel_ms", std::to_string(1000 * took));
  EXPECT_LT(took, kBound);
  ExpectLogged("CANCELLED");
}

TEST_F(Stopping, OtherCallsAreAnsweredWhileALargePlanComputes) {
  const auto planner = daemon_.Planner();
  grpc::ClientContext large;
  const auto stream = planner->PlanLargeShot(&large);
  SendLargeShot(*stream);
  ASSERT_TRUE(ReadUntilMeasuring(*stream));
  grpc::ClientContext context;
  v1::PlanShotRequest request;
  *request.mutable_shot() = TinyShot();
  v1::PlanShotResponse response;
  EXPECT_TRUE(planner->PlanShot(&context, request, &response).ok());
  EXPECT_EQ(CallsLogged(daemon_), 1) << "the large plan must still be computing";
  large.TryCancel();
  EXPECT_EQ(stream->Finish().error_code(), grpc::StatusCode::CANCELLED);
}

TEST_F(Stopping, SlowReaderGetsItAllAndTheCallWaitsForHim) {
  const auto planner = v1::ShotPlanner::NewStub(daemon_.NarrowChannel());
  grpc::ClientContext context;
  const auto stream = planner->PlanLargeShot(&context);
  for (const auto& part : PartsOf(BlocksOf(Crowd(20'000, 1), 4000), {})) ASSERT_TRUE(stream->Write(part));
  stream->WritesDone();
  v1::PlanLargeShotResponse answer;
  while (stream->Read(&answer) && !answer.has_decisions()) continue;
  // The plan is made, 18,000 decisions are to come: some megabytes, more than the 64 KiB taken unread.
  std::this_thread::sleep_for(milliseconds(300));
  EXPECT_EQ(CallsLogged(daemon_), 0) << "the daemon ended the call before its answer was taken";
  int decisions = answer.decisions().decisions_size();
  while (stream->Read(&answer)) decisions += answer.decisions().decisions_size();
  EXPECT_TRUE(stream->Finish().ok());
  EXPECT_EQ(decisions, 20'000);
}

TEST_F(Stopping, CancelWhileSendingEndsTheCall) {
  const auto planner = daemon_.Planner();
  grpc::ClientContext context;
  const auto stream = planner->PlanLargeShot(&context);
  for (const auto& part : PartsOf(BlocksOf(Crowd(20'000, 1), 4000), {})) ASSERT_TRUE(stream->Write(part));
  stream->WritesDone();
  v1::PlanLargeShotResponse answer;
  while (stream->Read(&answer) && !answer.has_decisions()) continue;
  context.TryCancel();
  EXPECT_EQ(stream->Finish().error_code(), grpc::StatusCode::CANCELLED);
  EXPECT_TRUE(WaitUntil(seconds(30), [&] { return CallsLogged(daemon_) == 1; }));
  ExpectLogged("CANCELLED");
}

}  // namespace
}  // namespace scantling::testing
