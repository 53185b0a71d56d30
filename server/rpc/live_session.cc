// The strand and its messages. What is done with the shot stands in live_work.cc.
//
// Locks: mutex_ is held for moments and never while a line is called, nor while work is done. The outbox and what was
// published have locks of their own, taken last.

#include "server/rpc/live_session.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "server/rpc/call.h"
#include "server/rpc/convert.h"
#include "server/rpc/live_status.h"
#include "server/rpc/refusal.h"
#include "server/scene/merge.h"

namespace scantling {

LiveSession::LiveSession(const LiveParts& parts, std::string id, LiveHeader header)
    : parts_(parts),
      id_(std::move(id)),
      reader_(parts.policy, parts.limits),
      header_(std::move(header)),
      live_(parts.policy, parts.settings.map_bytes) {}

// ---- Streams

void LiveSession::Attach(std::shared_ptr<StreamLine> line, int64_t known, bool resumed) {
  v1::Started started;
  started.set_session_id(id_);
  started.set_resumed(resumed);
  started.set_keep_s(parts_.store.limits().keep.count());
  std::shared_ptr<StreamLine> before;
  {
    const std::scoped_lock lock(mutex_);
    if (!shut_) {
      before = std::exchange(line_, line);
      fresh_line_ = true;
      waiting_.clear();  // they will be sent again, where they had not been taken in
      reading_paused_ = false;
      started.set_revision(revision_);
      started.set_update(published_.number());
      outbox_.Start(line.get(), std::move(started), known > published_.number() ? 0 : known);
      parts_.store.Attached(id_);
      Schedule();
      line = nullptr;
    }
  }
  if (line != nullptr) return line->EndWith(SessionUnknown());  // it ended while it was being looked for
  if (before != nullptr) {
    before->EndWith(
        Refusal(grpc::StatusCode::ABORTED, "another stream resumed this session", "SESSION_TAKEN_OVER", {}));
  }
  Wake();
}

void LiveSession::Detach(const StreamLine* line) {
  std::shared_ptr<StreamLine> gone;  // goes when the lock is open
  const std::scoped_lock lock(mutex_);
  if (line_.get() != line) return;
  gone = std::exchange(line_, nullptr);
  if (revision_ == 0 && waiting_.empty() && !running_) {
    parts_.store.Remove(id_);  // there is nothing in it to come back to
  } else {
    parts_.store.Detached(id_);
  }
}

bool LiveSession::Deliver(Request message, const StreamLine* line) {
  const std::scoped_lock lock(mutex_);
  if (line_.get() != line || closed_) return true;
  waiting_.push_back(std::move(message));
  if (stop_ != nullptr) stop_->Cancel();
  Schedule();
  reading_paused_ = waiting_.size() >= kMostWaiting || outbox_.crowded();
  return !reading_paused_;
}

// A stream whose reading was paused reads on when both there is room for its messages and it reads its answers.
void LiveSession::ReadOnIfRoom() {
  std::shared_ptr<StreamLine> line;
  {
    const std::scoped_lock lock(mutex_);
    if (!reading_paused_ || waiting_.size() >= kMostWaiting || outbox_.crowded()) return;
    reading_paused_ = false;
    line = line_;
  }
  if (line != nullptr) line->ReadOn();
}

bool LiveSession::NextMessage(const StreamLine* line, v1::AssembleShotResponse& out) {
  const bool found = outbox_.Next(line, published_, out);
  if (found) ReadOnIfRoom();
  return found;
}

std::shared_ptr<StreamLine> LiveSession::line() const {
  const std::scoped_lock lock(mutex_);
  return line_;
}

void LiveSession::Wake() const {
  if (const std::shared_ptr<StreamLine> line = this->line()) line->Wake();
}

bool LiveSession::idle() const {
  const std::scoped_lock lock(mutex_);
  return at_rest_ && !running_ && waiting_.empty() && outbox_.empty(published_);
}

void LiveSession::Tick(Clock::time_point now) {
  const std::scoped_lock lock(mutex_);
  if (final_due_ && now >= *final_due_) Schedule();
}

void LiveSession::Shut() {
  std::shared_ptr<StreamLine> line;
  {
    const std::scoped_lock lock(mutex_);
    shut_ = true;
    waiting_.clear();
    if (stop_ != nullptr) stop_->Cancel();
    line = line_;
  }
  if (line != nullptr) line->EndWith(SessionUnknown());
}

// ---- The strand

void LiveSession::Schedule() {
  at_rest_ = false;
  if (running_ || shut_) return;
  running_ = true;
  parts_.lanes.live.Submit([self = shared_from_this()] { self->Run(); });
}

std::optional<LiveSession::Request> LiveSession::TakeMessage() {
  const std::scoped_lock lock(mutex_);
  if (std::exchange(fresh_line_, false)) reader_.Drop();
  if (waiting_.empty()) {
    stop_ = std::make_shared<Stop>();  // of the next piece of work
    if (shut_) stop_->Cancel();
    return std::nullopt;
  }
  Request message = std::move(waiting_.front());
  waiting_.pop_front();
  return message;
}

void LiveSession::Run() {
  for (;;) {
    while (std::optional<Request> message = TakeMessage()) {
      TakeIn(**message);
      ReadOnIfRoom();
      Wake();
    }
    bool did_something = false;
    const grpc::Status done = Guarded([&] {
      did_something = Step();
      return grpc::Status::OK;
    });
    if (!done.ok()) PublishProblem(done);
    Wake();
    std::shared_ptr<StreamLine> closing;
    {
      const std::scoped_lock lock(mutex_);
      stop_.reset();
      if (closed_) closing = line_;
      if (did_something && !shut_ && !closed_) continue;
      if (!waiting_.empty() && !shut_ && !closed_) continue;
      running_ = false;
      at_rest_ = final_ && settled_ == revision_ && what_ifs_.empty() && !reader_.begun();
    }
    if (closing != nullptr) closing->EndWith(grpc::Status::OK);
    Wake();
    return;
  }
}

void LiveSession::TakeIn(v1::AssembleShotRequest& message) {
  const grpc::Status taken = Guarded([&] {
    switch (message.part_case()) {
      case v1::AssembleShotRequest::kEdit:
        TakeEdit(message.edit());
        return grpc::Status::OK;
      case v1::AssembleShotRequest::kWhatIf:
        QueueWhatIf(std::move(*message.mutable_what_if()));
        return grpc::Status::OK;
      case v1::AssembleShotRequest::kBaseline:
        TakeBaseline(message.baseline());
        return grpc::Status::OK;
      case v1::AssembleShotRequest::kClose: {
        parts_.store.Remove(id_);
        const std::scoped_lock lock(mutex_);
        closed_ = true;
        return grpc::Status::OK;
      }
      case v1::AssembleShotRequest::kBegin:
      case v1::AssembleShotRequest::kResume:
        return StreamOrder("got a second beginning, want one at the start of the stream only");
      case v1::AssembleShotRequest::PART_NOT_SET:
        break;
    }
    return StreamOrder("got an empty message, want an edit, a what-if, a baseline or a close");
  });
  if (taken.ok()) return;
  if (const std::shared_ptr<StreamLine> line = this->line()) line->EndWith(taken);
}

void LiveSession::TakeEdit(const v1::ShotEdit& part) {
  const int64_t next = revision_ + 1;
  if (part.revision() > 0 && part.revision() < next) return;  // taken in already
  if (part.revision() != next) {
    reader_.Drop();
    if (const std::shared_ptr<StreamLine> line = this->line()) {
      line->EndWith(StreamOrder(absl::StrCat("got revision ", part.revision(), ", want ", next)));
    }
    return;
  }
  const grpc::Status added = Guarded([&] {
    reader_.Add(part, header_);
    return grpc::Status::OK;
  });
  if (!added.ok()) {
    reader_.Drop();
    return RefuseRevision(next, added);
  }
  if (!part.continues()) FinishEdit(next);
}

void LiveSession::FinishEdit(int64_t revision) {
  TakenEdit taken;
  grpc::Status status = Guarded([&] { return reader_.Finish(live_.scene(), taken); });
  if (status.ok() && taken.scene_changed) {
    const size_t bytes = LiveShot::BytesFor(taken.merged.scene, parts_.settings.map_bytes) + published_.bytes();
    const absl::Status charged =
        parts_.store.Charge(id_, static_cast<int64_t>(taken.merged.scene.objects.size()), static_cast<int64_t>(bytes));
    if (!charged.ok()) {
      status = Refusal(grpc::StatusCode::RESOURCE_EXHAUSTED, std::string(charged.message()), "LIMIT_EXCEEDED", {});
    }
  }
  if (!status.ok()) return RefuseRevision(revision, status);
  if (!taken.scene_changed && !taken.options_changed) {
    header_ = std::move(taken.header);
    return TakeFrame(revision);
  }
  if (taken.scene_changed) {
    MoveTold(taken.merged, taken.removed_ids);
    live_.TakeScene(std::move(taken.merged), *taken.header.asked.style);
  }
  header_ = std::move(taken.header);
  revision_ = revision;
  final_ = false;
  const std::scoped_lock lock(mutex_);
  final_due_.reset();
}

// Rows of the plan published last, by those of the scene that is taken in.
void LiveSession::MoveTold(const MergedScene& merged, const std::vector<std::string>& removed_ids) {
  told_row_ = MovedColumn(merged.was, told_row_, kNone);
  gone_.insert(gone_.end(), removed_ids.begin(), removed_ids.end());
}

SharedBytes LiveSession::ToldOf(uint32_t row) const {
  return told_row_[row] == kNone ? nullptr : published_.Find(told_row_[row]);
}

// Nothing that is planned by changed: what was settled is so of this revision too, and is told again as such.
void LiveSession::TakeFrame(int64_t revision) {
  const bool settled = settled_ == revision_;
  if (looked_ == revision_) looked_ = revision;
  revision_ = revision;
  if (!settled) return;
  settled_ = revision;
  PublishAgain();
}

void LiveSession::RefuseRevision(int64_t revision, const grpc::Status& status) {
  if (settled_ == revision_) settled_ = revision;
  if (looked_ == revision_) looked_ = revision;
  revision_ = revision;
  v1::Refusal refusal;
  refusal.set_revision(revision);
  *refusal.mutable_status() = ToRpcStatus(status);
  outbox_.Refuse(std::move(refusal));
}

void LiveSession::QueueWhatIf(v1::WhatIf what_if) {
  grpc::Status status;
  if (what_if.what_if_id().empty() || what_if.what_if_id().size() > 256) {
    status = {grpc::StatusCode::INVALID_ARGUMENT,
              absl::StrCat("what_if.what_if_id: got ", what_if.what_if_id().size(), " bytes, want 1 to 256")};
  } else if (what_if.edit().continues() || what_if.edit().revision() != 0) {
    status = {grpc::StatusCode::INVALID_ARGUMENT, "what_if.edit: got a revision or one of several parts, want neither"};
  } else if (what_ifs_.size() >= kMostWhatIfs) {
    status = Refusal(grpc::StatusCode::RESOURCE_EXHAUSTED,
                     absl::StrCat("got one what-if more than the ", kMostWhatIfs, " that may wait in a session"),
                     "LIMIT_EXCEEDED", {});
  }
  if (status.ok()) return what_ifs_.push_back(std::move(what_if));
  v1::Refusal refusal;
  refusal.set_what_if_id(what_if.what_if_id().substr(0, 256));
  *refusal.mutable_status() = ToRpcStatus(status);
  outbox_.Refuse(std::move(refusal));
}

void LiveSession::TakeBaseline(const v1::Baseline& baseline) {
  std::string fault;
  if (baseline.label().size() > 1024) {
    fault = absl::StrCat("baseline.label: got ", baseline.label().size(), " bytes, want at most 1024");
  } else if (baseline.has_totals()) {
    baseline_ = baseline.totals();
  } else if (baseline.present() && last_totals_) {
    baseline_ = last_totals_;
  } else if (baseline.present()) {
    fault = "baseline.present: got no plan yet, want one that has settled";
  } else if (baseline.none()) {
    baseline_.reset();
  } else {
    fault = "baseline: got nothing, want present, totals or none";
  }
  if (fault.empty()) {
    baseline_label_ = baseline.label();
    // The plan is told again against it.
    if (settled_ == revision_ && settled_ > 0) PublishAgain();
    return;
  }
  v1::Refusal refusal;
  refusal.set_baseline(true);
  *refusal.mutable_status() = ToRpcStatus({grpc::StatusCode::INVALID_ARGUMENT, fault});
  outbox_.Refuse(std::move(refusal));
}

// ---- All sessions

LiveSessions::LiveSessions(const Policy& policy, const SceneLimits& limits, Lanes& lanes, const LiveSettings& settings)
    : store_(settings.sessions), parts_{policy, limits, lanes, settings, store_} {
  ticker_.emplace(std::chrono::milliseconds(25), [this] {
    const auto now = std::chrono::steady_clock::now();
    for (const std::shared_ptr<LiveSession>& session : store_.Expire(now)) session->Shut();
    for (const std::shared_ptr<LiveSession>& session : store_.All()) session->Tick(now);
  });
}

LiveSessions::~LiveSessions() {
  ticker_.reset();
  for (const std::shared_ptr<LiveSession>& session : store_.All()) session->Shut();
}

}  // namespace scantling
