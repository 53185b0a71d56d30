// A connection to a planning daemon.
//
//   PlannerClient client;
//   if (auto status = client.Connect({.address = "unix:/run/scantling/scantlingd.sock"}); !status.ok()) ...
//   auto answer = client.Plan(shot, options, {});
//
// Every call answers the daemon's refusal as a status with its faults attached (faults.h). UNAVAILABLE: nobody answers
// there. DEADLINE_EXCEEDED: the time limit passed before there was a plan. RESOURCE_EXHAUSTED: a request that goes in
// one message is larger than the daemon takes, or than a message can be (2 GiB).

#ifndef SCANTLING_CLIENT_LIBRARY_PLANNER_CLIENT_H_
#define SCANTLING_CLIENT_LIBRARY_PLANNER_CLIENT_H_

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "grpcpp/channel.h"
#include "scantling/v1/shot_planner.grpc.pb.h"

namespace scantling::client {

struct ConnectOptions {
  std::string address;                                  // "unix:PATH" or "HOST:PORT"
  std::chrono::milliseconds patience{5000};             // to wait for an answer; a refused connection ends it at once
  std::optional<std::chrono::milliseconds> time_limit;  // for each call; none: as long as it takes
};

// Requests up to this size go in one message; larger ones go in blocks. Half the usual limit of a gRPC message.
inline constexpr int64_t kMostUnaryBytes = int64_t{2} << 20;

// Called one call at a time; while a large shot is planned, from another thread than the caller's.
using ProgressCall = std::function<void(const v1::Progress&)>;

// Called on the caller's own thread for every point of a frontier as it arrives, the loosest first. False: enough.
using PointCall = std::function<bool(const v1::FrontierPoint&)>;

// Thread-safe once connected. Not copyable.
class PlannerClient {
 public:
  absl::Status Connect(const ConnectOptions& options);

  // Plans a shot: small ones by PlanShot, those above kMostUnaryBytes by PlanLargeShot with `progress` (may be empty)
  // called along the way. The answer is the same either way: a plan with its decisions. `shot` is consumed.
  absl::StatusOr<v1::PlanShotResponse> Plan(v1::Shot shot, const v1::PlanOptions& options,
                                            const ProgressCall& progress);

  // Why one object of a shot is what it is.
  absl::StatusOr<v1::ExplainDecisionResponse> Explain(const v1::ExplainDecisionRequest& request);

  // Plans over a range of budgets, in one message: there is no way in parts. `progress` and `point` may be empty. The
  // summary comes last; INTERNAL where it is missing, CANCELLED where `point` had enough.
  absl::StatusOr<v1::FrontierSummary> TraceFrontier(const v1::TraceFrontierRequest& request,
                                                    const ProgressCall& progress, const PointCall& point);

  // Every fault of a shot. Faults are the answer, not an error.
  absl::StatusOr<v1::CheckShotResponse> Check(const v1::CheckShotRequest& request);

 private:
  absl::StatusOr<v1::PlanShotResponse> PlanInBlocks(v1::Shot shot, const v1::PlanOptions& options,
                                                    const ProgressCall& progress);
  void LimitTime(grpc::ClientContext& context) const;

  std::shared_ptr<grpc::Channel> channel_;
  std::unique_ptr<v1::ShotPlanner::Stub> stub_;
  std::optional<std::chrono::milliseconds> time_limit_;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_PLANNER_CLIENT_H_
