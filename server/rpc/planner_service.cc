// Handlers read from top to bottom as validate, convert, plan, answer. They run on our own threads (unary_call.h); what
// every call needs whatever it does stands in call.h.

#include "server/rpc/planner_service.h"

#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/planning/plan_shot.h"
#include "server/rpc/asked.h"
#include "server/rpc/assemble_call.h"
#include "server/rpc/convert.h"
#include "server/rpc/frontier_call.h"
#include "server/rpc/large_shot.h"
#include "server/rpc/refusal.h"
#include "server/rpc/unary_call.h"
#include "server/scene/merge.h"
#include "server/units/violations.h"

namespace scantling {
namespace {

using Planned = std::unique_ptr<PlannedShot>;

// What PlanShot and ExplainDecision have in common. `object_id`, where given, must be one of the shot's; *row is its
// row.
struct ToPlan {
  const v1::Shot& shot;
  const v1::PlanOptions& options;
  const std::string* object_id = nullptr;
  uint32_t row = kNone;
};

grpc::Status FindObject(const Scene& scene, ToPlan& wanted) {
  if (wanted.object_id == nullptr) return grpc::Status::OK;
  if (const std::optional<uint32_t> row = RowOfId(scene.objects, *wanted.object_id)) {
    wanted.row = *row;
    return grpc::Status::OK;
  }
  Violations violations;
  violations.Add("object_id", absl::StrCat("got \"", *wanted.object_id, "\", want the id of one of the shot's ",
                                           scene.objects.size(), " objects"));
  return InvalidArgument(violations, "OBJECT_UNKNOWN");
}

grpc::Status Plan(const PlannerParts& parts, ToPlan& wanted, Call& call, Planned& planned) {
  Violations violations;
  Scene scene = SceneFromProto(wanted.shot, parts.policy.catalogue, parts.limits, violations);
  call.IsAbout(scene);
  const Asked asked = ReadAsked(wanted.options, wanted.shot.style(), parts.policy, violations);
  if (!violations.empty()) return InvalidArgument(violations, ReasonFor(violations, asked));
  if (grpc::Status found = FindObject(scene, wanted); !found.ok()) return found;

  const ThreadShare share(parts.lanes);
  PlanFaults faults;
  auto plan = PlanShot(std::move(scene), {parts.policy, *asked.style, call.stop(), nullptr},
                       asked.RequestOn(share.threads()), faults);
  if (!plan.ok()) return PlanRefused(plan.status(), faults, asked.plan.budgets);
  planned = *std::move(plan);
  call.record.stages = planned->clocks;
  return grpc::Status::OK;
}

grpc::Status AnswerPlan(const PlannerParts& parts, const v1::PlanShotRequest& request, Call& call,
                        v1::PlanShotResponse& response) {
  ToPlan wanted{request.shot(), request.options()};
  Planned planned;
  if (grpc::Status status = Plan(parts, wanted, call, planned); !status.ok()) return status;
  ToProto(*planned, request.options(), response);
  return grpc::Status::OK;
}

grpc::Status AnswerExplanation(const PlannerParts& parts, const v1::ExplainDecisionRequest& request, Call& call,
                               v1::ExplainDecisionResponse& response) {
  ToPlan wanted{request.shot(), request.options(), &request.object_id()};
  Planned planned;
  if (grpc::Status status = Plan(parts, wanted, call, planned); !status.ok()) return status;
  ExplanationToProto(*planned, wanted.row, call.stop(), response);
  return grpc::Status::OK;
}

grpc::Status AnswerCheck(const PlannerParts& parts, const v1::CheckShotRequest& request, Call& call,
                         v1::CheckShotResponse& response) {
  Violations violations;
  const Scene scene = SceneFromProto(request.shot(), parts.policy.catalogue, parts.limits, violations);
  call.IsAbout(scene);
  ReadAsked({}, request.shot().style(), parts.policy, violations);
  for (const Violation& violation : violations.listed()) {
    v1::FieldFault& fault = *response.add_faults();
    fault.set_field(violation.field);
    fault.set_description(violation.description);
  }
  response.set_fault_count(static_cast<int64_t>(violations.count()));
  response.set_objects(call.record.objects);
  response.set_frames(scene.frames.count());
  response.set_cameras(static_cast<int32_t>(scene.cameras.size()));
  return grpc::Status::OK;
}

}  // namespace

grpc::ServerUnaryReactor* PlannerService::PlanShot(grpc::CallbackServerContext* context,
                                                   const v1::PlanShotRequest* request, v1::PlanShotResponse* response) {
  return new UnaryCall("PlanShot", *context, parts_.running, parts_.lanes,
                       [this, request, response](Call& call) { return AnswerPlan(parts_, *request, call, *response); });
}

grpc::ServerBidiReactor<v1::PlanLargeShotRequest, v1::PlanLargeShotResponse>* PlannerService::PlanLargeShot(
    grpc::CallbackServerContext* context) {
  return new LargeShot(parts_, *context);
}

grpc::ServerUnaryReactor* PlannerService::ExplainDecision(grpc::CallbackServerContext* context,
                                                          const v1::ExplainDecisionRequest* request,
                                                          v1::ExplainDecisionResponse* response) {
  return new UnaryCall(
      "ExplainDecision", *context, parts_.running, parts_.lanes,
      [this, request, response](Call& call) { return AnswerExplanation(parts_, *request, call, *response); });
}

grpc::ServerWriteReactor<v1::TraceFrontierResponse>* PlannerService::TraceFrontier(
    grpc::CallbackServerContext* context, const v1::TraceFrontierRequest* request) {
  return new FrontierCall(parts_, *context, *request);
}

grpc::ServerBidiReactor<v1::AssembleShotRequest, v1::AssembleShotResponse>* PlannerService::AssembleShot(
    grpc::CallbackServerContext* context) {
  return new AssembleCall(live_, parts_.running, *context);
}

grpc::ServerUnaryReactor* PlannerService::CheckShot(grpc::CallbackServerContext* context,
                                                    const v1::CheckShotRequest* request,
                                                    v1::CheckShotResponse* response) {
  return new UnaryCall("CheckShot", *context, parts_.running, parts_.lanes, [this, request, response](Call& call) {
    return AnswerCheck(parts_, *request, call, *response);
  });
}

}  // namespace scantling
