// One TraceFrontier: a shot comes in, its frontier goes out point by point.
//
//   waiting --lane--> tracing --last point--> summing up --last message--> done
//       \________________\_________ fault, cancel, deadline --> done
//
// Tracing does not wait for the reader: what he has not taken yet waits in a queue, which the request bounds at
// kMostFrontierPoints points of some 200 bytes. One message is on its way out at a time; progress that finds the way
// taken is dropped.

#ifndef SCANTLING_SERVER_RPC_FRONTIER_CALL_H_
#define SCANTLING_SERVER_RPC_FRONTIER_CALL_H_

#include <chrono>
#include <deque>
#include <mutex>
#include <optional>
#include <string_view>

#include "grpcpp/support/server_callback.h"
#include "scantling/v1/shot_planner.pb.h"
#include "server/planning/trace_frontier.h"
#include "server/rpc/call.h"
#include "server/rpc/planner_service.h"

namespace scantling {

// Owns itself: create it with new and hand it to gRPC, which ends its life. The request lives until OnDone.
class FrontierCall final : public grpc::ServerWriteReactor<v1::TraceFrontierResponse> {
 public:
  FrontierCall(const PlannerParts& parts, grpc::CallbackServerContext& context,
               const v1::TraceFrontierRequest& request);

 private:
  void OnWriteDone(bool ok) override;
  void OnCancel() override { call_.Cancel(); }
  void OnDone() override { delete this; }

  // On a thread of the lane of large plans.
  void Run();
  grpc::Status Trace();

  // Sending.
  void ReportProgress(std::string_view stage, double fraction);
  void Enqueue(const FrontierPoint& point);
  void End(grpc::Status status);
  void SendNext();  // starts the next message, or ends the call where nothing is left; after it this may be gone

  const PlannerParts parts_;
  Call call_;
  const v1::TraceFrontierRequest& request_;

  std::mutex mutex_;  // guards what follows
  v1::TraceFrontierResponse outgoing_;
  bool writing_ = false;
  std::chrono::steady_clock::time_point last_progress_;
  std::deque<FrontierPoint> found_;  // not sent yet
  v1::FrontierSummary summary_;      // set before end_, where that is OK
  std::optional<grpc::Status> end_;  // tracing has ended so; empty: it has not, or Finish was called
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_FRONTIER_CALL_H_
