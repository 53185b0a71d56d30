// What a live session writes: the first message, edits sent again, then whatever is noted, asked or compared with, each
// when it is due. Notes that come faster than edits may go are merged into the next edit, and so are those that come
// while as many edits are under way as the daemon may be behind.
//
// A failed write means that the stream ended; the reader finds out why.

#include <algorithm>
#include <utility>

#include "client/library/live_parts.h"
#include "client/library/live_worker.h"

namespace scantling::client {
namespace {

// Edits of which nothing was heard yet. Beyond so many, a daemon that is behind is not sent more to merge itself.
constexpr size_t kMostInFlight = 32;

template <typename StreamType>
bool WriteEdit(const SentEdit& edit, StreamType& stream) {
  v1::AssembleShotRequest request;
  return EditParts(*edit.change, edit.revision, kEditPartBytes, [&](v1::ShotEdit& part) {
    request.mutable_edit()->Swap(&part);
    return stream.Write(request);
  });
}

}  // namespace

// What was noted goes into the log, which knows what of it is news.
std::optional<SentEdit> LiveWorker::TakeNoted() {
  ShotChange change;
  std::optional<LiveShot> whole;
  TimePoint since;
  {
    const std::lock_guard lock(mutex_);
    if (!noted_since_) return std::nullopt;
    since = *std::exchange(noted_since_, std::nullopt);
    std::swap(change, noted_);
    std::swap(whole, whole_);
    taking_ = true;
  }
  std::optional<SentEdit> edit;
  {
    const std::lock_guard lock(log_mutex_);
    if (whole) Apply(change, *whole);
    edit = whole ? log_.Become(*whole, since) : log_.Take(std::move(change), since);
    in_flight_ = log_.in_flight();
  }
  const std::lock_guard lock(mutex_);
  taking_ = false;
  if (edit) last_sent_ = std::chrono::steady_clock::now();
  return edit;
}

// What the session could not begin with is noted again, under what was noted since.
void LiveWorker::TakeBack() {
  ShotChange back;
  {
    const std::lock_guard lock(log_mutex_);
    back = log_.TakeBack();
  }
  const std::lock_guard lock(mutex_);
  if (whole_) return;  // which says it all
  Merge(std::exchange(noted_, {}), back);
  noted_ = std::move(back);
  if (!noted_since_) noted_since_ = std::chrono::steady_clock::now();
}

bool LiveWorker::Open(Stream& stream, std::vector<SentEdit>& to_send) {
  v1::AssembleShotRequest request;
  bool take_back = false;
  {
    const std::lock_guard lock(mutex_);
    request.mutable_resume()->set_session_id(session_id_);
    take_back = std::exchange(take_back_, false);
  }
  if (!request.resume().session_id().empty()) {
    request.mutable_resume()->set_update(inbox_.update_number());
    return stream.Write(request);
  }
  if (take_back) TakeBack();
  TakeNoted();
  {
    const std::lock_guard lock(log_mutex_);
    to_send = log_.BeginAnew();
    in_flight_ = log_.in_flight();
  }
  inbox_.SessionBeginsAnew();
  *request.mutable_begin() = BeginOf(to_send.empty() ? ShotChange() : *to_send.front().change);
  {
    const std::lock_guard lock(mutex_);
    if (baseline_ && !baseline_due_ && baseline_->present()) *baseline_->mutable_totals() = baseline_totals_;
    baseline_due_ = baseline_.has_value();
  }
  return stream.Write(request);
}

bool LiveWorker::SendAgain(Stream& stream, const std::vector<SentEdit>& begun) {
  v1::Started started;
  {
    const std::lock_guard lock(mutex_);
    started = *started_;
    session_id_ = started.session_id();
  }
  std::optional<std::vector<SentEdit>> to_send = begun;
  {
    const std::lock_guard lock(log_mutex_);
    if (started.resumed()) {
      to_send = log_.Resume(started.revision());
    } else {
      log_.Begun();
    }
  }
  if (!to_send) {
    const std::lock_guard lock(mutex_);
    session_id_.clear();
    return false;
  }
  return std::all_of(to_send->begin(), to_send->end(), [&](const SentEdit& edit) { return WriteEdit(edit, stream); });
}

bool LiveWorker::IsDue(TimePoint now, TimePoint& when) const {
  if (!noted_since_ || in_flight_ >= kMostInFlight) return false;
  when = std::max(*noted_since_ + options_.gather, last_sent_ + options_.least_between);
  return now >= when;
}

LiveWorker::Task LiveWorker::NextTask() {
  std::unique_lock lock(mutex_);
  while (!closing_ && !stream_ended_) {
    TimePoint when = TimePoint::max();
    if (IsDue(std::chrono::steady_clock::now(), when)) return Task::kEdit;
    // Both are meant on top of what was noted before them.
    if (!noted_since_ && baseline_due_) return Task::kBaseline;
    const bool has_question =
        std::any_of(questions_.begin(), questions_.end(), [](const Question& question) { return !question.sent; });
    if (!noted_since_ && has_question) return Task::kAsk;
    if (when == TimePoint::max()) {
      changed_.wait(lock);
    } else {
      changed_.wait_until(lock, when);
    }
  }
  return Task::kEnd;
}

void LiveWorker::WriteAll(Stream& stream) {
  bool is_open = true;
  while (is_open) {
    switch (NextTask()) {
      case Task::kEdit:
        is_open = SendNoted(stream);
        break;
      case Task::kBaseline:
        is_open = SendBaseline(stream);
        break;
      case Task::kAsk:
        is_open = SendQuestions(stream);
        break;
      case Task::kEnd:
        return;
    }
  }
}

bool LiveWorker::SendNoted(Stream& stream) {
  const std::optional<SentEdit> edit = TakeNoted();
  return !edit || WriteEdit(*edit, stream);
}

bool LiveWorker::SendQuestions(Stream& stream) {
  std::vector<v1::AssembleShotRequest> requests;
  {
    const std::lock_guard lock(mutex_);
    for (Question& question : questions_) {
      if (std::exchange(question.sent, true)) continue;
      v1::WhatIf& what_if = *requests.emplace_back().mutable_what_if();
      what_if.set_what_if_id(question.id);
      *what_if.mutable_edit() = question.edit;
    }
  }
  return std::all_of(requests.begin(), requests.end(),
                     [&stream](const v1::AssembleShotRequest& request) { return stream.Write(request); });
}

bool LiveWorker::SendBaseline(Stream& stream) {
  v1::AssembleShotRequest request;
  v1::Totals totals = inbox_.totals();
  {
    const std::lock_guard lock(mutex_);
    baseline_due_ = false;
    baseline_totals_ = std::move(totals);
    *request.mutable_baseline() = *baseline_;
    if (baseline_->none()) baseline_.reset();
  }
  return stream.Write(request);
}

}  // namespace scantling::client
