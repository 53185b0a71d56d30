// One PlanLargeShot: a shot comes in parts, is planned, and its plan goes out in parts.
//
//   receiving --half-close--> computing --plan--> sending --last message--> done
//       \____________________________\_______________\_____ fault, cancel, deadline --> done
//
// Each part becomes columns of the scene and is freed before the next is read, so a slow daemon slows its caller down
// instead of filling up. One message is on its way out at a time: progress that finds the way taken is dropped,
// decisions are made only when the last ones have left. A reader who never reads costs one message and the plan.

#ifndef SCANTLING_SERVER_RPC_LARGE_SHOT_H_
#define SCANTLING_SERVER_RPC_LARGE_SHOT_H_

#include <chrono>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string_view>

#include "grpcpp/support/server_callback.h"
#include "scantling/v1/shot_planner.pb.h"
#include "server/rpc/asked.h"
#include "server/rpc/call.h"
#include "server/rpc/planner_service.h"

namespace scantling {

// Most decisions in one message.
inline constexpr size_t kDecisionsPerMessage = 2000;

// Owns itself: create it with new and hand it to gRPC, which ends its life.
class LargeShot final : public grpc::ServerBidiReactor<v1::PlanLargeShotRequest, v1::PlanLargeShotResponse> {
 public:
  LargeShot(const PlannerParts& parts, grpc::CallbackServerContext& context);
  ~LargeShot() override;

 private:
  void OnReadDone(bool ok) override;
  void OnWriteDone(bool ok) override;
  void OnCancel() override { call_.Cancel(); }
  void OnDone() override { delete this; }

  // Receiving; on a thread of the lane of parts.
  void TakePart();
  grpc::Status Take(const v1::PlanLargeShotRequest& part);
  grpc::Status TakeStart(const v1::PlanLargeShotRequest::Start& start);
  grpc::Status TakeObjects(const v1::PlanLargeShotRequest& part);
  grpc::Status Refused() const;

  // Computing; on a thread of the lane of large plans.
  void Compute();
  grpc::Status Plan();

  // Sending.
  void ReportProgress(std::string_view stage, double fraction);
  void SendNext();
  bool FillNext();                                // makes the next message; true: it was the last
  bool WaitForWrite(std::function<void()> next);  // false: the way is free, and `next` was not kept
  void End(const grpc::Status& status);

  const PlannerParts parts_;
  Call call_;

  // Touched by one step after another, never by two at once.
  std::unique_ptr<v1::PlanLargeShotRequest> incoming_;
  Violations violations_;
  v1::PlanOptions options_;
  Asked asked_;
  struct Intake;
  std::unique_ptr<Intake> intake_;
  std::unique_ptr<PlannedShot> planned_;
  size_t next_decision_ = 0;

  std::mutex mutex_;  // guards what follows
  v1::PlanLargeShotResponse outgoing_;
  bool writing_ = false;
  std::function<void()> after_write_;  // what waits for the message under way
  std::chrono::steady_clock::time_point last_progress_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_LARGE_SHOT_H_
