// Clients as any caller would write them: nothing of the server's own is used to read its answers.

#include "tests/contract/calls.h"

#include <gtest/gtest.h>

#include "google/rpc/status.pb.h"

namespace scantling::testing {

Answer PlanOver(DaemonProcess& daemon, const v1::Shot& shot, const v1::PlanOptions& options) {
  const auto planner = daemon.Planner();
  grpc::ClientContext context;
  v1::PlanShotRequest request;
  *request.mutable_shot() = shot;
  *request.mutable_options() = options;
  Answer answer;
  answer.status = planner->PlanShot(&context, request, &answer.response);
  return answer;
}

v1::PlanOptions Binding(DaemonProcess& daemon, const v1::Shot& shot, double share) {
  v1::PlanOptions options;
  const Answer unseen = PlanOver(daemon, shot, options);
  EXPECT_TRUE(unseen.status.ok()) << unseen.status.error_message();
  options.set_anim_hours(0);
  const Refused refused = RefusalOf(PlanOver(daemon, shot, options).status);
  EXPECT_EQ(refused.reason, "NO_PLAN_FITS") << refused.message;
  const double least = std::stod(refused.metadata.at("least_anim_hours"));
  options.set_anim_hours(least + share * (unseen.plan().totals().plan().anim_hours().mean() - least));
  return options;
}

void ReadOn(grpc::ClientReader<v1::TraceFrontierResponse>& stream, Traced& traced) {
  v1::TraceFrontierResponse answer;
  while (stream.Read(&answer)) {
    traced.messages_after_summary += traced.summaries;
    if (answer.has_progress()) {
      traced.progress.push_back(answer.progress());
      traced.progress_after_points += traced.points.empty() ? 0 : 1;
    }
    if (answer.has_point()) traced.points.push_back(answer.point());
    if (answer.has_summary()) {
      traced.summary = answer.summary();
      ++traced.summaries;
    }
  }
  traced.status = stream.Finish();
}

Traced TraceOver(DaemonProcess& daemon, const v1::TraceFrontierRequest& request) {
  const auto planner = daemon.Planner();
  grpc::ClientContext context;
  Traced traced;
  ReadOn(*planner->TraceFrontier(&context, request), traced);
  return traced;
}

Refused RefusalOf(const grpc::Status& status) {
  Refused refused{status.error_code(), status.error_message(), "", "", {}, {}, {}};
  google::rpc::Status details;
  EXPECT_TRUE(details.ParseFromString(status.error_details()));
  EXPECT_EQ(details.code(), status.ok() ? 0 : static_cast<int>(status.error_code()));
  for (const auto& detail : details.details()) {
    google::rpc::ErrorInfo info;
    google::rpc::BadRequest faults;
    if (detail.UnpackTo(&info)) {
      refused.reason = info.reason();
      refused.domain = info.domain();
      refused.metadata = {info.metadata().begin(), info.metadata().end()};
    } else if (detail.UnpackTo(&faults)) {
      for (const auto& fault : faults.field_violations()) refused.faults[fault.field()] = fault.description();
    } else {
      EXPECT_TRUE(detail.UnpackTo(&refused.failure)) << detail.type_url();
    }
  }
  return refused;
}

}  // namespace scantling::testing
