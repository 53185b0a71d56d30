// Idea: one loop, each turn of which is the life of one stream: wait for the turn (a header to begin with, the end of a
// pause, a stop lifted), reach the daemon, begin or resume, write what is noted until the stream ends, judge its end.
//
//   lost, and UNAVAILABLE       a growing pause, then resume
//   NOT_FOUND                   begin anew at once, with everything
//   RESOURCE_EXHAUSTED          a long pause
//   INVALID_ARGUMENT and kin    stop until something is noted: it was the shot that was wrong
//   ABORTED                     stop until Retry(): another client has the session, and would only be driven out again
//
// What the caller notes is kept under one lock that is held for moments; the log, whose work may be linear in the shot,
// has a lock of its own that no caller's note waits for.

#include "client/library/live_worker.h"

#include <random>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/library/faults.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/security/credentials.h"
#include "grpcpp/support/channel_arguments.h"

namespace scantling::client {
namespace {

// How often a wait for the network looks whether the session is being closed.
constexpr std::chrono::milliseconds kLookEvery{20};
// For a stream to end by itself once it was closed.
constexpr std::chrono::milliseconds kClosePatience{1000};

std::shared_ptr<grpc::Channel> ChannelTo(const std::string& address) {
  grpc::ChannelArguments arguments;
  arguments.SetMaxReceiveMessageSize(-1);
  arguments.SetMaxSendMessageSize(-1);
  arguments.SetInt(GRPC_ARG_ENABLE_HTTP_PROXY, 0);
  arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);  // the pauses are ours: no failure of before is remembered
  return grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), arguments);
}

bool IsFaultOfShot(absl::StatusCode code) {
  switch (code) {
    case absl::StatusCode::kInvalidArgument:
    case absl::StatusCode::kFailedPrecondition:
    case absl::StatusCode::kOutOfRange:
    case absl::StatusCode::kUnimplemented:
    case absl::StatusCode::kPermissionDenied:
    case absl::StatusCode::kUnauthenticated:
      return true;
    default:
      return false;
  }
}

}  // namespace

LiveWorker::LiveWorker(LiveOptions options, LiveInbox& inbox)
    : options_(std::move(options)),
      inbox_(inbox),
      pauses_(options_.first_pause, options_.longest_pause, std::random_device()()),
      thread_([this] { Run(); }) {}

LiveWorker::~LiveWorker() { Close(); }

void LiveWorker::Note(ShotChange change) {
  const std::lock_guard lock(mutex_);
  has_header_ = has_header_ || change.header.has_value();
  Merge(std::move(change), noted_);
  if (!noted_since_) noted_since_ = std::chrono::steady_clock::now();
  if (stop_ == Stop::kUntilNote) stop_ = Stop::kNone;
  changed_.notify_all();
}

void LiveWorker::NoteWhole(LiveShot shot) {
  const std::lock_guard lock(mutex_);
  has_header_ = true;
  whole_ = std::move(shot);
  noted_ = {};
  if (!noted_since_) noted_since_ = std::chrono::steady_clock::now();
  if (stop_ == Stop::kUntilNote) stop_ = Stop::kNone;
  changed_.notify_all();
}

void LiveWorker::Ask(v1::ShotEdit edit, WhatIfCall call) {
  const std::lock_guard lock(mutex_);
  if (closing_) return inbox_.Answer(std::move(call), absl::CancelledError("the session is closed"));
  questions_.push_back({absl::StrCat("what-if ", next_question_++), std::move(edit), std::move(call)});
  changed_.notify_all();
}

void LiveWorker::SetBaseline(v1::Baseline baseline) {
  const std::lock_guard lock(mutex_);
  baseline_ = std::move(baseline);
  baseline_due_ = true;
  changed_.notify_all();
}

void LiveWorker::Retry() {
  const std::lock_guard lock(mutex_);
  stop_ = Stop::kNone;
  not_before_ = {};
  changed_.notify_all();
}

void LiveWorker::Close() {
  {
    std::unique_lock lock(mutex_);
    closing_ = true;
    changed_.notify_all();
    changed_.wait_for(lock, 2 * kClosePatience, [this] { return ended_; });
    if (context_ != nullptr) context_->TryCancel();
  }
  if (thread_.joinable()) thread_.join();
}

std::optional<int64_t> LiveWorker::AllTakenIn() const {
  {
    const std::lock_guard lock(mutex_);
    if (noted_since_ || taking_ || stop_ != Stop::kNone) return std::nullopt;
  }
  const std::lock_guard lock(log_mutex_);
  if (log_.in_flight() > 0 || !log_.held().empty()) return std::nullopt;
  return log_.acknowledged();
}

ShotChange LiveWorker::held() const {
  const std::lock_guard lock(log_mutex_);
  return log_.held();
}

LiveShot LiveWorker::expected() const {
  const std::lock_guard lock(log_mutex_);
  return log_.expected();
}

void LiveWorker::Run() {
  while (AwaitTurn()) {
    inbox_.Put(LiveConnectionChange(LiveConnection::kConnecting));
    const absl::Status ended = Converse();
    const std::unique_lock lock(mutex_);
    if (!closing_) Judge(ended);
  }
  inbox_.Put(LiveConnectionChange(LiveConnection::kClosed));
  const std::lock_guard lock(mutex_);
  for (Question& question : questions_) {
    inbox_.Answer(std::move(question.call), absl::CancelledError("the session was closed before the answer"));
  }
  questions_.clear();
  ended_ = true;
  changed_.notify_all();
}

bool LiveWorker::AwaitTurn() {
  std::unique_lock lock(mutex_);
  while (!closing_) {
    const bool may = has_header_ && stop_ == Stop::kNone;
    if (may && std::chrono::steady_clock::now() >= not_before_) return true;
    if (may) {
      changed_.wait_until(lock, not_before_);
    } else {
      changed_.wait(lock);
    }
  }
  return false;
}

bool LiveWorker::AwaitChannel(grpc::Channel& channel) {
  const auto give_up = std::chrono::system_clock::now() + options_.patience;
  while (std::chrono::system_clock::now() < give_up) {
    const grpc_connectivity_state state = channel.GetState(true);
    if (state == GRPC_CHANNEL_READY) return true;
    if (state == GRPC_CHANNEL_TRANSIENT_FAILURE || state == GRPC_CHANNEL_SHUTDOWN) return false;
    channel.WaitForStateChange(state, std::chrono::system_clock::now() + kLookEvery);
    const std::lock_guard lock(mutex_);
    if (closing_) return false;
  }
  return false;
}

absl::Status LiveWorker::Converse() {
  const std::shared_ptr<grpc::Channel> channel = ChannelTo(options_.address);
  if (!AwaitChannel(*channel)) {
    return absl::UnavailableError(absl::StrCat("no daemon answers at ", options_.address));
  }
  const std::unique_ptr<v1::ShotPlanner::Stub> stub = v1::ShotPlanner::NewStub(channel);
  grpc::ClientContext context;
  const std::unique_ptr<Stream> stream = stub->AssembleShot(&context);
  {
    const std::lock_guard lock(mutex_);
    started_.reset();
    stream_ended_ = false;
    heard_ = false;
    context_ = &context;
  }
  std::thread reader([this, &stream] { ReadAll(*stream); });
  std::vector<SentEdit> begun;
  if (Open(*stream, begun) && AwaitStarted() && SendAgain(*stream, begun)) WriteAll(*stream);
  EndStream(*stream);
  reader.join();
  {
    const std::lock_guard lock(mutex_);
    context_ = nullptr;
  }
  inbox_.StreamBroke();
  return StatusFromGrpc(stream->Finish());
}

bool LiveWorker::AwaitStarted() {
  std::unique_lock lock(mutex_);
  changed_.wait_for(lock, options_.patience, [this] { return started_ || stream_ended_ || closing_; });
  // A session that is just being begun is waited for a little, or it would live on unclosed.
  changed_.wait_for(lock, kClosePatience, [this] { return started_ || stream_ended_ || !closing_; });
  if (!started_ && !stream_ended_) context_->TryCancel();
  return started_.has_value() && !stream_ended_;
}

// Closing ends the session; so does a session that cannot be gone on with. Else the stream has ended already.
void LiveWorker::EndStream(Stream& stream) {
  v1::AssembleShotRequest close;
  close.mutable_close();
  std::unique_lock lock(mutex_);
  if (!stream_ended_) {
    lock.unlock();
    stream.Write(close);
    stream.WritesDone();
    lock.lock();
    changed_.wait_for(lock, kClosePatience, [this] { return stream_ended_; });
  }
  if (!stream_ended_) context_->TryCancel();
}

// Called with mutex_ held, between streams.
void LiveWorker::Judge(const absl::Status& ended) {
  for (Question& question : questions_) question.sent = false;
  const bool was_resumable = !session_id_.empty();
  const bool began = started_.has_value();
  if (heard_) pauses_.Reset();
  if (was_resumable && (ended.code() == absl::StatusCode::kNotFound)) {
    session_id_.clear();
    return;
  }
  if (ended.code() == absl::StatusCode::kAborted) {
    session_id_.clear();
    return StopFor(ended, Stop::kUntilRetry);
  }
  if (IsFaultOfShot(ended.code())) {
    session_id_.clear();
    take_back_ = !began;
    return StopFor(ended, began ? Stop::kUntilRetry : Stop::kUntilNote);
  }
  const bool is_limit = ended.code() == absl::StatusCode::kResourceExhausted;
  const std::chrono::milliseconds pause = is_limit ? options_.limit_pause : pauses_.Next();
  not_before_ = std::chrono::steady_clock::now() + pause;
  const absl::Status why = ended.ok() ? absl::UnavailableError("the daemon ended the stream") : ended;
  inbox_.Put(LiveConnectionChange(LiveConnection::kLost, why, false, pause));
}

void LiveWorker::StopFor(const absl::Status& why, Stop until) {
  stop_ = until;
  inbox_.Put(LiveConnectionChange(LiveConnection::kStopped, why));
}

}  // namespace scantling::client
