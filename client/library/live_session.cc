// Idea: a face for three parts. The worker has the threads, the connection and the log of edits; the inbox has what
// came and was not told yet; live_shot.h has what notes are made of.
//
//   caller ──note──▶ LiveWorker ──AssembleShot──▶ daemon
//   caller ◀──Pump── LiveInbox ◀──────────────────┘

#include "client/library/live_session.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "client/library/live_parts.h"

namespace scantling::client {
namespace {

// A what-if goes in one message. Half the usual limit of one.
constexpr int64_t kMostWhatIfBytes = int64_t{2} << 20;

}  // namespace

LiveSession::LiveSession(LiveOptions options, LiveListener listener)
    : listener_(std::move(listener)), inbox_(options.wake), worker_(std::move(options), inbox_) {}

LiveSession::~LiveSession() { Close(); }

absl::Status LiveSession::SetShot(v1::Shot shot, v1::PlanOptions options) {
  absl::StatusOr<LiveShot> whole = LiveShotOf(std::move(shot), std::move(options));
  if (!whole.ok()) return whole.status();
  worker_.NoteWhole(*std::move(whole));
  return absl::OkStatus();
}

void LiveSession::SetShot(LiveShot shot) { worker_.NoteWhole(std::move(shot)); }

void LiveSession::SetHeader(v1::Shot header) {
  header.clear_objects();
  header.clear_blocks();
  ShotChange change;
  change.header = std::move(header);
  Note(std::move(change));
}

void LiveSession::Put(const v1::SceneObject& object) {
  ShotChange change;
  change.objects[object.id()] = LiveObjectOf(object);
  Note(std::move(change));
}

absl::Status LiveSession::PutBlock(const v1::ObjectBlock& block, int64_t frames) {
  ShotChange change;
  if (absl::Status status = AddBlock(block, frames, change.objects); !status.ok()) return status;
  Note(std::move(change));
  return absl::OkStatus();
}

void LiveSession::Remove(const std::string& object_id) {
  ShotChange change;
  change.objects[object_id] = nullptr;
  Note(std::move(change));
}

void LiveSession::SetCamera(const v1::ShotCamera& camera) {
  ShotChange change;
  change.cameras[camera.id()] = camera;
  Note(std::move(change));
}

void LiveSession::SetDirectives(std::vector<v1::Directive> directives) {
  ShotChange change;
  change.directives.emplace();
  for (v1::Directive& directive : directives) change.directives->add_directives()->Swap(&directive);
  Note(std::move(change));
}

void LiveSession::SetOptions(v1::PlanOptions options) {
  ShotChange change;
  change.options = std::move(options);
  Note(std::move(change));
}

void LiveSession::SetCurrentFrame(int32_t frame) {
  ShotChange change;
  change.current_frame = frame;
  Note(std::move(change));
}

absl::Status LiveSession::WhatIf(const ShotChange& change, WhatIfCall call) {
  v1::ShotEdit edit = WhatIfEdit(change);
  if (const auto bytes = static_cast<int64_t>(edit.ByteSizeLong()); bytes > kMostWhatIfBytes) {
    return absl::ResourceExhaustedError(absl::StrCat("got a what-if of ", bytes, " bytes, want at most ",
                                                     kMostWhatIfBytes, ": it goes in one message"));
  }
  worker_.Ask(std::move(edit), std::move(call));
  return absl::OkStatus();
}

void LiveSession::SetBaselineToPresent(const std::string& label) {
  v1::Baseline baseline;
  baseline.set_label(label);
  baseline.set_present(true);
  worker_.SetBaseline(std::move(baseline));
}

void LiveSession::SetBaseline(const std::string& label, const v1::Totals& totals) {
  v1::Baseline baseline;
  baseline.set_label(label);
  *baseline.mutable_totals() = totals;
  worker_.SetBaseline(std::move(baseline));
}

void LiveSession::ClearBaseline() {
  v1::Baseline baseline;
  baseline.set_none(true);
  worker_.SetBaseline(std::move(baseline));
}

int LiveSession::Pump() { return inbox_.Pump(listener_); }

bool LiveSession::Wait(std::chrono::milliseconds patience) { return inbox_.Wait(patience); }

v1::Plan LiveSession::Plan() const { return inbox_.plan(); }

bool LiveSession::publishable() const {
  const auto taken_in = worker_.AllTakenIn();
  const auto final_revision = inbox_.final_revision();
  return taken_in && *taken_in > 0 && final_revision && *final_revision >= *taken_in;
}

ShotChange LiveSession::held() const { return worker_.held(); }

v1::Shot LiveSession::ShotAsSent() const { return ShotOf(worker_.expected()); }

void LiveSession::Retry() { worker_.Retry(); }

void LiveSession::Close() { worker_.Close(); }

}  // namespace scantling::client
