// Who runs when: gRPC calls OnReadDone and OnWriteDone on its own threads; they only hand the next step to a lane.
// Steps follow one another (a read is started when the part before it has been taken in; computing starts when reading
// has ended), so only what the outgoing side shares with the compute's progress needs the mutex.
//
// Trap: a write started before the one before it was reported done aborts the process. Every write therefore goes
// through writing_, and what has to wait for it waits in after_write_.
//
// Trap: after Finish (or StartWriteAndFinish) this object may be gone at any moment.

#include "server/rpc/large_shot.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/planning/plan_shot.h"
#include "server/rpc/convert.h"
#include "server/rpc/refusal.h"

namespace scantling {

// What is known of a shot that is still coming in.
struct LargeShot::Intake {
  Intake(const PlannerParts& parts, ShotHeader header, Violations& violations)
      : builder(parts.policy.catalogue, parts.limits, std::move(header), violations) {}

  SceneBuilder builder;
  int64_t rows = 0;  // sent so far, for field paths
  int64_t blocks = 0;
};

LargeShot::LargeShot(const PlannerParts& parts, grpc::CallbackServerContext& context)
    : parts_(parts),
      call_("PlanLargeShot", context, parts.running),
      incoming_(std::make_unique<v1::PlanLargeShotRequest>()) {
  call_.Begun();
  StartRead(incoming_.get());
}

LargeShot::~LargeShot() = default;

// ---- Receiving

void LargeShot::OnReadDone(bool ok) {
  if (ok) return parts_.lanes.parts.Submit([this] { TakePart(); });
  if (call_.stop().Cancelled()) return End({grpc::StatusCode::CANCELLED, "the caller cancelled"});
  if (intake_ == nullptr) return End(StreamOrder("got no part, want a start first"));
  if (!parts_.lanes.large.TrySubmit([this] { Compute(); }, Lanes::kMostWaiting)) End(Lanes::Busy());
}

void LargeShot::TakePart() {
  const grpc::Status taken = Guarded([this] { return Take(*incoming_); });
  if (!taken.ok()) return End(taken);
  incoming_ = std::make_unique<v1::PlanLargeShotRequest>();
  ReportProgress("receiving", 0);
  StartRead(incoming_.get());
}

grpc::Status LargeShot::Take(const v1::PlanLargeShotRequest& part) {
  switch (part.part_case()) {
    case v1::PlanLargeShotRequest::kStart:
      return intake_ == nullptr ? TakeStart(part.start()) : StreamOrder("got a second start, want one only");
    case v1::PlanLargeShotRequest::kBlock:
    case v1::PlanLargeShotRequest::kRows:
      return intake_ != nullptr ? TakeObjects(part) : StreamOrder("got objects first, want a start first");
    case v1::PlanLargeShotRequest::PART_NOT_SET:
      break;
  }
  return StreamOrder("got an empty part, want a start, a block or rows");
}

grpc::Status LargeShot::TakeStart(const v1::PlanLargeShotRequest::Start& start) {
  const v1::Shot& shot = start.shot();
  options_ = start.options();
  call_.record.shot_id = shot.shot_id();
  intake_ = std::make_unique<Intake>(parts_, HeaderFromProto(shot, violations_), violations_);
  asked_ = ReadAsked(options_, shot.style(), parts_.policy, violations_);
  AddInterests(shot, intake_->builder, violations_);
  AddObjects(shot, intake_->builder, violations_);
  intake_->rows = shot.objects_size();
  intake_->blocks = shot.blocks_size();
  call_.record.objects = intake_->builder.object_count();
  call_.record.frames = intake_->builder.frame_count();
  return grpc::Status::OK;
}

// Field paths count rows and blocks over the whole stream, as if the shot had come in one message.
grpc::Status LargeShot::TakeObjects(const v1::PlanLargeShotRequest& part) {
  RowReader reader(intake_->builder, violations_);
  for (const v1::SceneObject& row : part.rows().objects()) {
    reader.Add(row, absl::StrCat("objects[", intake_->rows++, "]"));
  }
  if (part.has_block()) {
    AddBlock(part.block(), absl::StrCat("blocks[", intake_->blocks++, "]"), intake_->builder, violations_);
  }
  call_.record.objects = intake_->builder.object_count();
  if (call_.record.objects <= parts_.limits.objects) return grpc::Status::OK;
  // Too many already: whoever goes on sending is not listened to.
  intake_->builder.Finish();
  return Refused();
}

// ---- Computing

void LargeShot::Compute() {
  const grpc::Status planned = Guarded([this] { return Plan(); });
  if (!planned.ok()) return End(planned);
  SendNext();
}

grpc::Status LargeShot::Plan() {
  Scene scene = intake_->builder.Finish();
  intake_.reset();
  if (!violations_.empty()) return Refused();
  const ThreadShare share(parts_.lanes);
  PlanFaults faults;
  auto planned = PlanShot(std::move(scene),
                          {parts_.policy, *asked_.style, call_.stop(),
                           [this](std::string_view stage, double fraction) { ReportProgress(stage, fraction); }},
                          asked_.RequestOn(share.threads()), faults);
  if (!planned.ok()) return PlanRefused(planned.status(), faults, asked_.plan.budgets);
  planned_ = *std::move(planned);
  call_.record.stages = planned_->clocks;
  return grpc::Status::OK;
}

grpc::Status LargeShot::Refused() const { return InvalidArgument(violations_, ReasonFor(violations_, asked_)); }

// ---- Sending

void LargeShot::ReportProgress(std::string_view stage, double fraction) {
  const std::scoped_lock lock(mutex_);
  const auto now = std::chrono::steady_clock::now();
  if (writing_ || now - last_progress_ < kProgressEvery) return;
  last_progress_ = now;
  writing_ = true;
  *outgoing_.mutable_progress() = ProgressToProto(stage, fraction, call_.record.objects);
  StartWrite(&outgoing_);
}

void LargeShot::OnWriteDone(bool ok) {
  if (!ok) call_.Cancel();
  std::function<void()> next;
  {
    const std::scoped_lock lock(mutex_);
    writing_ = false;
    next = std::exchange(after_write_, nullptr);
  }
  if (next) next();
}

bool LargeShot::WaitForWrite(std::function<void()> next) {
  const std::scoped_lock lock(mutex_);
  if (!writing_) return false;
  after_write_ = std::move(next);
  return true;
}

void LargeShot::SendNext() {
  const auto again = [this] { parts_.lanes.parts.Submit([this] { SendNext(); }); };
  if (WaitForWrite(again)) return;
  // From here on nothing else writes: progress has ended with the compute.
  if (call_.stop().Cancelled()) return End({grpc::StatusCode::CANCELLED, "the caller cancelled"});
  bool last = false;
  const grpc::Status filled = Guarded([&] {
    last = FillNext();
    return grpc::Status::OK;
  });
  if (!filled.ok()) return End(filled);
  if (last) return StartWriteAndFinish(&outgoing_, grpc::WriteOptions(), call_.Report(grpc::Status::OK));
  {
    const std::scoped_lock lock(mutex_);
    writing_ = true;
    after_write_ = again;
  }
  StartWrite(&outgoing_);
}

bool LargeShot::FillNext() {
  const size_t count = planned_->plan.decisions.size();
  if (next_decision_ == count) {
    v1::PlanShotResponse& summary = *outgoing_.mutable_summary();
    PlanWithoutDecisions(*planned_, options_, *summary.mutable_plan());
    AddStageTimes(planned_->clocks, *summary.mutable_stage_times());
    return true;
  }
  auto& decisions = *outgoing_.mutable_decisions()->mutable_decisions();
  decisions.Clear();
  const size_t end = std::min(count, next_decision_ + kDecisionsPerMessage);
  for (; next_decision_ < end; ++next_decision_) *decisions.Add() = DecisionToProto(*planned_, next_decision_);
  return false;
}

void LargeShot::End(const grpc::Status& status) {
  if (WaitForWrite([this, status] { Finish(call_.Report(status)); })) return;
  Finish(call_.Report(status));
}

}  // namespace scantling
