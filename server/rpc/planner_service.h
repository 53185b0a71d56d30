// scantling.v1.ShotPlanner over the domain: handlers that validate, convert, plan and answer, and do nothing else.

#ifndef SCANTLING_SERVER_RPC_PLANNER_SERVICE_H_
#define SCANTLING_SERVER_RPC_PLANNER_SERVICE_H_

#include "grpcpp/support/status.h"
#include "scantling/v1/shot_planner.grpc.pb.h"
#include "server/policy/types.h"
#include "server/rpc/call.h"
#include "server/rpc/lanes.h"
#include "server/rpc/live_parts.h"
#include "server/scene/builder.h"

namespace scantling {

// What handlers work with. Shared by all calls; all must outlive the service.
struct PlannerParts {
  const Policy& policy;
  SceneLimits limits;
  Lanes& lanes;
  RunningCalls& running;
};

// Register with a server; thread-safe. Must outlive the server.
class PlannerService final : public v1::ShotPlanner::CallbackService {
 public:
  PlannerService(const PlannerParts& parts, const LiveParts& live) : parts_(parts), live_(live) {}

  grpc::ServerUnaryReactor* PlanShot(grpc::CallbackServerContext* context, const v1::PlanShotRequest* request,
                                     v1::PlanShotResponse* response) override;
  grpc::ServerBidiReactor<v1::PlanLargeShotRequest, v1::PlanLargeShotResponse>* PlanLargeShot(
      grpc::CallbackServerContext* context) override;
  grpc::ServerUnaryReactor* ExplainDecision(grpc::CallbackServerContext* context,
                                            const v1::ExplainDecisionRequest* request,
                                            v1::ExplainDecisionResponse* response) override;
  grpc::ServerWriteReactor<v1::TraceFrontierResponse>* TraceFrontier(grpc::CallbackServerContext* context,
                                                                     const v1::TraceFrontierRequest* request) override;
  grpc::ServerBidiReactor<v1::AssembleShotRequest, v1::AssembleShotResponse>* AssembleShot(
      grpc::CallbackServerContext* context) override;
  grpc::ServerUnaryReactor* CheckShot(grpc::CallbackServerContext* context, const v1::CheckShotRequest* request,
                                      v1::CheckShotResponse* response) override;

 private:
  PlannerParts parts_;
  LiveParts live_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_PLANNER_SERVICE_H_
