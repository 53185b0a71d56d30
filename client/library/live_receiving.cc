// What a live session reads, on the thread of its stream: into the log goes what was taken in and refused, into the
// inbox whatever concerns the caller.
//
// A refusal that is told again after a resumption is passed over: the log knows the edit no more.

#include <algorithm>
#include <utility>

#include "client/library/live_worker.h"

namespace scantling::client {

void LiveWorker::ReadAll(Stream& stream) {
  v1::AssembleShotResponse response;
  while (stream.Read(&response)) Take(response);
  const std::lock_guard lock(mutex_);
  stream_ended_ = true;
  changed_.notify_all();
}

void LiveWorker::Take(v1::AssembleShotResponse& response) {
  switch (response.part_case()) {
    case v1::AssembleShotResponse::kStarted: {
      {
        const std::lock_guard lock(mutex_);
        started_ = response.started();
        changed_.notify_all();
      }
      // Told by this thread, so that no update comes before it.
      inbox_.Put(LiveConnectionChange(LiveConnection::kLive, absl::OkStatus(), response.started().resumed()));
      break;
    }
    case v1::AssembleShotResponse::kUpdate:
      TakeUpdate(std::move(*response.mutable_update()));
      break;
    case v1::AssembleShotResponse::kProgress:
      inbox_.Put(std::move(*response.mutable_progress()));
      break;
    case v1::AssembleShotResponse::kRefusal:
      TakeRefusal(response.refusal());
      break;
    case v1::AssembleShotResponse::kWhatIf: {
      const std::string id = response.what_if().what_if_id();
      TakeAnswer(id, std::move(*response.mutable_what_if()));
      break;
    }
    case v1::AssembleShotResponse::PART_NOT_SET:
      break;  // of a later daemon
  }
}

void LiveWorker::TakeUpdate(v1::Update update) {
  LiveInbox::Took took;
  {
    const std::lock_guard lock(log_mutex_);
    if (!update.continues()) log_.Acknowledge(update.revision());
    in_flight_ = log_.in_flight();
    if (const auto noted = log_.NotedAt(update.revision())) took = std::chrono::steady_clock::now() - *noted;
  }
  inbox_.TakeUpdate(std::move(update), took);
  const std::lock_guard lock(mutex_);
  heard_ = true;
  changed_.notify_all();
}

void LiveWorker::TakeRefusal(const v1::Refusal& refusal) {
  absl::Status status = StatusFromRpc(refusal.status());
  if (!refusal.what_if_id().empty()) return TakeAnswer(refusal.what_if_id(), std::move(status));
  if (refusal.baseline()) {
    {
      const std::lock_guard lock(mutex_);
      if (!baseline_ || baseline_due_) return;  // told already
      baseline_.reset();
    }
    return inbox_.Put(LiveRefusal{LiveRefusal::What::kBaseline, 0, std::move(status), nullptr});
  }
  std::shared_ptr<const ShotChange> change;
  {
    const std::lock_guard lock(log_mutex_);
    change = log_.Refuse(refusal.revision());
    in_flight_ = log_.in_flight();
  }
  if (change == nullptr) return;
  inbox_.Put(LiveRefusal{LiveRefusal::What::kEdit, refusal.revision(), std::move(status), std::move(change)});
  const std::lock_guard lock(mutex_);
  changed_.notify_all();
}

void LiveWorker::TakeAnswer(const std::string& what_if_id, absl::StatusOr<v1::WhatIfAnswer> answer) {
  WhatIfCall call;
  {
    const std::lock_guard lock(mutex_);
    const auto asked = std::find_if(questions_.begin(), questions_.end(),
                                    [&](const Question& question) { return question.id == what_if_id; });
    if (asked == questions_.end()) return;
    call = std::move(asked->call);
    questions_.erase(asked);
  }
  inbox_.Answer(std::move(call), std::move(answer));
}

}  // namespace scantling::client
