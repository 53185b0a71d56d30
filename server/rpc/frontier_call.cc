// Who runs when: a lane's thread traces and enqueues, gRPC's threads call OnWriteDone; whichever of them finds the way
// free sends what comes next. Making a message out of a point is a copy of some twenty numbers, so gRPC's threads may.
//
// The traps are large_shot.cc's: one write at a time, and after Finish (or StartWriteAndFinish) this object may be
// gone. Therefore exactly one caller of SendNext takes end_ out, and it holds no lock when it finishes.

#include "server/rpc/frontier_call.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "server/rpc/asked.h"
#include "server/rpc/convert.h"
#include "server/rpc/refusal.h"
#include "server/units/violations.h"

namespace scantling {

FrontierCall::FrontierCall(const PlannerParts& parts, grpc::CallbackServerContext& context,
                           const v1::TraceFrontierRequest& request)
    : parts_(parts), call_("TraceFrontier", context, parts.running), request_(request) {
  if (!parts_.lanes.large.TrySubmit([this] { Run(); }, Lanes::kMostWaiting)) End(Lanes::Busy());
}

// ---- Tracing

void FrontierCall::Run() {
  call_.Begun();
  End(Guarded([this] { return Trace(); }));
}

grpc::Status FrontierCall::Trace() {
  Violations violations;
  Scene scene = SceneFromProto(request_.shot(), parts_.policy.catalogue, parts_.limits, violations);
  call_.IsAbout(scene);
  AskedFrontier wanted = ReadFrontier(request_, parts_.policy, violations);
  if (!violations.empty()) return InvalidArgument(violations, ReasonFor(violations, wanted.asked));

  const ThreadShare share(parts_.lanes);
  wanted.sweep.plan.threads = share.threads();
  PlanFaults faults;
  const auto frontier = TraceShotFrontier(
      std::move(scene),
      {parts_.policy, *wanted.asked.style, call_.stop(),
       [this](std::string_view stage, double fraction) { ReportProgress(stage, fraction); }},
      wanted.sweep, [this](const FrontierPoint& point) { Enqueue(point); }, faults);
  if (absl::IsOutOfRange(frontier.status())) {
    violations.Add(wanted.sweep.most_hours ? "most_hours" : "least_hours",
                   absl::StrCat(absl::string_view(frontier.status().message()), "; an end that is not given is where ",
                                "nothing visible is lost, or the least any plan uses"));
    return InvalidArgument(violations, "OPTIONS_INVALID");
  }
  if (!frontier.ok()) return PlanRefused(frontier.status(), faults, wanted.sweep.plan.budgets);
  call_.record.stages = frontier->clocks;
  v1::FrontierSummary summary = SummaryToProto(*frontier, wanted.sweep, parts_.policy);
  const std::scoped_lock lock(mutex_);
  summary_ = std::move(summary);
  return grpc::Status::OK;
}

// ---- Sending

void FrontierCall::ReportProgress(std::string_view stage, double fraction) {
  const std::scoped_lock lock(mutex_);
  const auto now = std::chrono::steady_clock::now();
  if (writing_ || now - last_progress_ < kProgressEvery) return;
  last_progress_ = now;
  writing_ = true;
  *outgoing_.mutable_progress() = ProgressToProto(stage, fraction, call_.record.objects);
  StartWrite(&outgoing_);
}

void FrontierCall::Enqueue(const FrontierPoint& point) {
  {
    const std::scoped_lock lock(mutex_);
    found_.push_back(point);
  }
  SendNext();
}

void FrontierCall::OnWriteDone(bool ok) {
  if (!ok) call_.Cancel();
  {
    const std::scoped_lock lock(mutex_);
    writing_ = false;
  }
  SendNext();
}

void FrontierCall::End(grpc::Status status) {
  {
    const std::scoped_lock lock(mutex_);
    end_ = std::move(status);
  }
  SendNext();
}

void FrontierCall::SendNext() {
  grpc::Status end;
  {
    const std::scoped_lock lock(mutex_);
    if (writing_) return;
    const bool cancelled = call_.stop().Cancelled();
    if (cancelled) found_.clear();  // nobody takes them any more
    if (!found_.empty()) {
      *outgoing_.mutable_point() = ToProto(found_.front());
      found_.pop_front();
      writing_ = true;
      return StartWrite(&outgoing_);
    }
    if (!end_) return;
    end = *std::exchange(end_, std::nullopt);
    writing_ = true;  // for good
    if (cancelled && end.ok()) end = {grpc::StatusCode::CANCELLED, "the caller cancelled"};
    if (end.ok()) *outgoing_.mutable_summary() = std::move(summary_);
  }
  end = call_.Report(end);
  if (!end.ok()) return Finish(end);
  StartWriteAndFinish(&outgoing_, grpc::WriteOptions(), end);
}

}  // namespace scantling
