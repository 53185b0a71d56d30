// Who runs when: gRPC's threads hand everything on to the lane of parts; the strand of the session calls the line.
//
// Order of locks: line, then call. A session calls its line without any lock of its own.
//
// Traps. After Finish this object may be gone at any moment: it is called only while nothing else of ours runs (no
// message being taken in, no further sending on its way), and nothing is started after it. The line is cut in the
// destructor: whoever calls it meanwhile either gets through first or finds nobody.

#include "server/rpc/assemble_call.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "server/rpc/convert.h"
#include "server/rpc/identity.h"
#include "server/rpc/refusal.h"

namespace scantling {

class AssembleCall::Line final : public StreamLine {
 public:
  explicit Line(AssembleCall* call) : call_(call) {}

  void Cut() {
    const std::scoped_lock lock(mutex_);
    call_ = nullptr;
  }
  void Wake() override {
    const std::scoped_lock lock(mutex_);
    if (call_ == nullptr) return;
    AssembleCall& call = *call_;
    {
      const std::scoped_lock call_lock(call.mutex_);
      call.woken_ = true;
      if (call.writing_ || call.finished_) return;
      call.writing_ = true;
    }
    call.parts_.lanes.parts.Submit([&call] { call.SendNext(); });
  }
  void ReadOn() override {
    const std::scoped_lock lock(mutex_);
    if (call_ != nullptr) call_->ReadOn();
  }
  void EndWith(grpc::Status status) override {
    {
      const std::scoped_lock lock(mutex_);
      if (call_ == nullptr) return;
      const std::scoped_lock call_lock(call_->mutex_);
      if (!call_->end_) call_->end_ = std::move(status);
    }
    Wake();
  }

 private:
  std::mutex mutex_;
  AssembleCall* call_;
};

AssembleCall::AssembleCall(const LiveParts& parts, RunningCalls& running, grpc::CallbackServerContext& context)
    : parts_(parts),
      call_("AssembleShot", context, running),
      identity_(IdentityOf(context)),
      line_(std::make_shared<Line>(this)) {
  call_.Begun();
  const std::scoped_lock lock(mutex_);
  StartReading();
}

AssembleCall::~AssembleCall() {
  line_->Cut();
  if (session_ != nullptr) session_->Detach(line_.get());
}

// ---- Reading

void AssembleCall::StartReading() {
  reading_ = true;
  incoming_ = std::make_unique<v1::AssembleShotRequest>();
  StartRead(incoming_.get());
}

// The session may say so for a stream that was here before this one: then this one reads already.
void AssembleCall::ReadOn() {
  const std::scoped_lock lock(mutex_);
  if (finished_ || reading_ || half_closed_ || end_) return;
  if (taking_) {
    room_came_ = true;
  } else {
    StartReading();
  }
}

void AssembleCall::OnReadDone(bool ok) {
  bool begun = false;
  {
    const std::scoped_lock lock(mutex_);
    reading_ = false;
    if (finished_) return;
    taking_ = ok;
    half_closed_ = !ok;
    begun = session_ != nullptr;
  }
  if (ok) return parts_.lanes.parts.Submit([this] { Take(); });
  if (!begun) return End(StreamOrder("got no message, want begin or resume first"));
  line_->Wake();  // ends the stream where nothing is left to say
}

void AssembleCall::Take() {
  const std::shared_ptr<Line> line = line_;
  const bool read_on = TakeMessage();
  {
    const std::scoped_lock lock(mutex_);
    taking_ = false;
    if ((read_on || room_came_) && !end_) StartReading();
    room_came_ = false;
  }
  line->Wake();  // an end may have waited; from here on the call may be gone
}

bool AssembleCall::TakeMessage() {
  if (session_ != nullptr) return session_->Deliver(std::move(incoming_), line_.get());
  const grpc::Status opened = Guarded([this] { return Open(*incoming_); });
  if (!opened.ok()) End(opened);
  return opened.ok();
}

grpc::Status AssembleCall::Open(const v1::AssembleShotRequest& first) {
  switch (first.part_case()) {
    case v1::AssembleShotRequest::kBegin:
      return Begin(first.begin());
    case v1::AssembleShotRequest::kResume:
      return Resume(first.resume());
    default:
      return StreamOrder("got another message first, want begin or resume");
  }
}

grpc::Status AssembleCall::Begin(const v1::Begin& begin) {
  call_.record.shot_id = begin.header().shot_id();
  LiveHeader header;
  if (grpc::Status read = EditReader(parts_.policy, parts_.limits).Begin(begin, header); !read.ok()) return read;
  const absl::StatusOr<std::string> id = parts_.store.Reserve(identity_);
  if (!id.ok()) {
    return Refusal(grpc::StatusCode::RESOURCE_EXHAUSTED, std::string(id.status().message()), "LIMIT_EXCEEDED", {});
  }
  auto session = std::make_shared<LiveSession>(parts_, *id, std::move(header));
  parts_.store.Put(*id, session);
  {
    const std::scoped_lock lock(mutex_);
    session_ = session;
  }
  session->Attach(line_, 0, false);
  return grpc::Status::OK;
}

grpc::Status AssembleCall::Resume(const v1::Resume& resume) {
  absl::StatusOr<std::shared_ptr<LiveSession>> session = parts_.store.Find(resume.session_id(), identity_);
  if (!session.ok()) return SessionUnknown();
  {
    const std::scoped_lock lock(mutex_);
    session_ = *session;
  }
  (*session)->Attach(line_, resume.update(), true);
  return grpc::Status::OK;
}

// ---- Sending

void AssembleCall::SendNext() {
  for (;;) {
    std::shared_ptr<LiveSession> session;
    {
      const std::scoped_lock lock(mutex_);
      woken_ = false;
      session = session_;
    }
    if (session != nullptr && session->NextMessage(line_.get(), outgoing_)) return StartWrite(&outgoing_);
    const bool at_end = session != nullptr && session->idle();
    std::optional<grpc::Status> end;
    {
      const std::scoped_lock lock(mutex_);
      if (woken_) continue;
      if (!end_ && half_closed_ && at_end) end_ = grpc::Status::OK;
      if (!end_ || taking_) {
        writing_ = false;
        return;
      }
      finished_ = true;
      end = end_;
    }
    // Nobody may reach a session through a stream that has ended, nor this stream after Finish.
    if (session != nullptr) session->Detach(line_.get());
    return Finish(call_.Report(*end));
  }
}

void AssembleCall::OnWriteDone(bool ok) {
  if (!ok) call_.Cancel();
  parts_.lanes.parts.Submit([this] { SendNext(); });
}

void AssembleCall::OnCancel() {
  call_.Cancel();
  line_->EndWith({grpc::StatusCode::CANCELLED, "the caller cancelled"});
}

void AssembleCall::End(grpc::Status status) { line_->EndWith(std::move(status)); }

}  // namespace scantling
