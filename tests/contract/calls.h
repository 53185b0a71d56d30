// Calls the contract tests make, and what came of them.

#ifndef SCANTLING_TESTS_CONTRACT_CALLS_H_
#define SCANTLING_TESTS_CONTRACT_CALLS_H_

#include <map>
#include <string>
#include <vector>

#include "google/rpc/error_details.pb.h"
#include "scantling/v1/shot_planner.grpc.pb.h"
#include "tests/contract/daemon_process.h"

namespace scantling::testing {

struct Answer {
  grpc::Status status;
  v1::PlanShotResponse response;
  const v1::Plan& plan() const { return response.plan(); }
};
Answer PlanOver(DaemonProcess& daemon, const v1::Shot& shot, const v1::PlanOptions& options = {});

// A budget that makes the plan give something up: by default halfway between the least that a plan takes, which the
// refusal of a budget of nothing tells, and what a plan without visible loss takes.
v1::PlanOptions Binding(DaemonProcess& daemon, const v1::Shot& shot, double share = 0.5);

// A frontier's whole stream.
struct Traced {
  grpc::Status status;
  std::vector<v1::FrontierPoint> points;
  std::vector<v1::Progress> progress;
  v1::FrontierSummary summary;
  int summaries = 0, messages_after_summary = 0, progress_after_points = 0;
};
Traced TraceOver(DaemonProcess& daemon, const v1::TraceFrontierRequest& request);
void ReadOn(grpc::ClientReader<v1::TraceFrontierResponse>& stream, Traced& traced);

// A refusal with the details of its trailer.
struct Refused {
  grpc::StatusCode code = grpc::StatusCode::OK;
  std::string message;
  std::string reason, domain;
  std::map<std::string, std::string> metadata;
  std::map<std::string, std::string> faults;  // field -> description
  google::rpc::PreconditionFailure failure;
};
Refused RefusalOf(const grpc::Status& status);

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_CONTRACT_CALLS_H_
