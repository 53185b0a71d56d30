// The reader notes the time before it looks at anything else, so that counting bytes does not count. What it keeps of
// an update is a few figures: decisions are parsed, as any client must, and dropped.

#include "tests/bench/live/session.h"

#include <cstdio>
#include <cstdlib>
#include <utility>

namespace scantling::bench {
namespace {

constexpr std::chrono::minutes kPatience{2};

}  // namespace

void End(const std::string& why) {
  std::fprintf(stderr, "bench_live: %s\n", why.c_str());
  std::fflush(nullptr);
  // Other threads are in the middle of streams: nothing is torn down under them. Daemon and echo go with their parent.
  std::_Exit(1);
}

LiveSession::LiveSession(const std::shared_ptr<grpc::Channel>& channel, const v1::Begin& begin)
    : planner_(v1::ShotPlanner::NewStub(channel)) {
  const auto start = Clock::now();
  stream_ = planner_->AssembleShot(&context_);
  v1::AssembleShotRequest request;
  *request.mutable_begin() = begin;
  reader_ = std::thread([this] { Read(); });
  if (!stream_->Write(request)) End("the session's stream did not open");
  std::unique_lock lock(mutex_);
  if (!came_.wait_for(lock, kPatience, [this] { return started_; })) End("no session was started");
  began_ms_ = MilliBetween(start, Clock::now());
}

LiveSession::~LiveSession() {
  {
    const std::lock_guard lock(mutex_);
    closing_ = true;
  }
  v1::AssembleShotRequest request;
  request.mutable_close();
  stream_->Write(request);
  stream_->WritesDone();
  reader_.join();
}

Sent LiveSession::Send(std::vector<v1::ShotEdit> parts) {
  std::vector<v1::AssembleShotRequest> requests(parts.size());
  Sent sent;
  sent.revision = ++revision_;
  for (size_t k = 0; k < parts.size(); ++k) {
    parts[k].set_revision(sent.revision);
    parts[k].set_continues(k + 1 < parts.size());
    *requests[k].mutable_edit() = std::move(parts[k]);
    sent.bytes += static_cast<int64_t>(requests[k].ByteSizeLong());
  }
  {
    const std::lock_guard lock(mutex_);
    sent.seen = answers_.size();
  }
  sent.at = Clock::now();
  for (const v1::AssembleShotRequest& request : requests) {
    if (!stream_->Write(request)) End("the session's stream takes no more edits");
  }
  return sent;
}

void LiveSession::Read() {
  v1::AssembleShotResponse message;
  while (stream_->Read(&message)) {
    const auto at = Clock::now();
    const std::lock_guard lock(mutex_);
    TakeIn(message, at);
    came_.notify_all();
  }
  const grpc::Status status = stream_->Finish();
  const std::lock_guard lock(mutex_);
  if (!closing_ || !status.ok()) {
    End("the session ended with code " + std::to_string(status.error_code()) + ": " + status.error_message());
  }
}

void LiveSession::TakeIn(const v1::AssembleShotResponse& message, Clock::time_point at) {
  if (message.has_started()) started_ = true;
  if (message.has_refusal()) {
    End("edit " + std::to_string(message.refusal().revision()) +
        " was refused: " + message.refusal().status().message());
  }
  if (!message.has_update()) return;
  const v1::Update& update = message.update();
  if (update.has_problem()) {
    End("no plan of revision " + std::to_string(update.revision()) + ": " + update.problem().message());
  }
  partial_.bytes += static_cast<int64_t>(message.ByteSizeLong());
  partial_.decisions += update.decisions_size() + update.quick_size();
  if (update.continues()) return;
  partial_.at = at;
  partial_.revision = update.revision();
  partial_.state = update.state();
  partial_.stages.assign(update.stage_times().begin(), update.stage_times().end());
  if (update.has_summary()) {
    totals_ = update.summary().totals();
    partial_.gap = totals_.gap();
  }
  answers_.push_back(std::exchange(partial_, {}));
}

Answer LiveSession::Await(const Sent& sent, const std::function<bool(const Answer&)>& wanted) {
  std::unique_lock lock(mutex_);
  size_t next = sent.seen;
  const auto come = [&] {
    while (next < answers_.size() && (answers_[next].revision < sent.revision || !wanted(answers_[next]))) ++next;
    return next < answers_.size();
  };
  if (!came_.wait_for(lock, kPatience, come))
    End("nothing came that answers revision " + std::to_string(sent.revision));
  return answers_[next];
}

Answer LiveSession::AwaitFirst(const Sent& sent) {
  return Await(sent, [](const Answer&) { return true; });
}

Answer LiveSession::AwaitSettled(const Sent& sent) {
  return Await(sent, [](const Answer& answer) { return answer.state == v1::SETTLED || answer.state == v1::FINAL; });
}

Answer LiveSession::AwaitFinal(const Sent& sent) {
  return Await(sent, [](const Answer& answer) { return answer.state == v1::FINAL; });
}

std::vector<Answer> LiveSession::AnswersSince(const Sent& sent) {
  const std::lock_guard lock(mutex_);
  return {answers_.begin() + static_cast<std::ptrdiff_t>(sent.seen), answers_.end()};
}

v1::Totals LiveSession::Totals() {
  const std::lock_guard lock(mutex_);
  return totals_;
}

}  // namespace scantling::bench
