#include "tests/contract/live_client.h"

#include <utility>

namespace scantling::testing {

LiveClient::LiveClient(const std::shared_ptr<grpc::Channel>& channel) : stub_(v1::ShotPlanner::NewStub(channel)) {}

LiveClient::~LiveClient() {
  if (stream_ != nullptr) BreakOff();
}

bool LiveClient::Open(const v1::AssembleShotRequest& first) {
  context_ = std::make_unique<grpc::ClientContext>();
  stream_ = stub_->AssembleShot(context_.get());
  parts_.clear();
  started.Clear();
  last_revision_ = 0;
  if (!stream_->Write(first)) return false;
  return ReadUntil([&] { return !started.session_id().empty(); });
}

bool LiveClient::Begin(const v1::Shot& header, const v1::PlanOptions& options) {
  v1::AssembleShotRequest first;
  *first.mutable_begin()->mutable_header() = header;
  *first.mutable_begin()->mutable_options() = options;
  decisions.clear();
  update = revision = answered = 0;
  return Open(first);
}

bool LiveClient::Resume() { return Resume(session_id, update); }

bool LiveClient::Resume(const std::string& id, int64_t known) {
  v1::AssembleShotRequest first;
  first.mutable_resume()->set_session_id(id);
  first.mutable_resume()->set_update(known);
  return Open(first);
}

bool LiveClient::Send(v1::AssembleShotRequest message) { return stream_->Write(message); }

int64_t LiveClient::Edit(v1::ShotEdit edit) {
  edit.set_revision(++revision);
  v1::AssembleShotRequest message;
  *message.mutable_edit() = std::move(edit);
  stream_->Write(message);
  return revision;
}

void LiveClient::TakeUpdate(const v1::Update& part) {
  if (part.revision() < last_revision_) ++order_faults;
  last_revision_ = part.revision();
  if (part.state() == v1::PROVISIONAL) return looks.push_back(part);
  if (!parts_.empty() && parts_.front().number() != part.number()) ++order_faults;
  if (part.number() <= update) ++order_faults;
  parts_.push_back(part);
  if (part.continues()) return;
  ++whole_updates;
  told.clear();
  last_anew = parts_.front().anew();
  if (last_anew) decisions.clear();
  for (const v1::Update& one : parts_) {
    for (const std::string& id : one.gone_ids()) decisions.erase(id);
  }
  for (const v1::Update& one : parts_) {
    for (const v1::Decision& decision : one.decisions()) {
      decisions[decision.object_id()] = decision;
      told.push_back(decision.object_id());
    }
  }
  parts_.clear();
  update = part.number();
  answered = part.revision();
  state = part.state();
  last = part;
}

bool LiveClient::ReadOne() {
  v1::AssembleShotResponse message;
  if (!stream_->Read(&message)) return false;
  switch (message.part_case()) {
    case v1::AssembleShotResponse::kStarted:
      started = message.started();
      session_id = started.session_id();
      break;
    case v1::AssembleShotResponse::kUpdate:
      TakeUpdate(message.update());
      break;
    case v1::AssembleShotResponse::kProgress:
      progress.push_back(message.progress());
      break;
    case v1::AssembleShotResponse::kRefusal:
      refusals.push_back(message.refusal());
      break;
    case v1::AssembleShotResponse::kWhatIf:
      what_ifs.push_back(message.what_if());
      break;
    case v1::AssembleShotResponse::PART_NOT_SET:
      ++order_faults;
  }
  return true;
}

bool LiveClient::ReadUntil(const std::function<bool()>& done) {
  while (!done()) {
    if (!ReadOne()) return false;
  }
  return true;
}

bool LiveClient::ReadToFinal(int64_t wanted) {
  // A refused revision has no update of its own.
  const auto refused = [&] { return !refusals.empty() && refusals.back().revision() >= wanted; };
  return ReadUntil([&] { return refused() || (answered >= wanted && (state == v1::FINAL || last.has_problem())); });
}

bool LiveClient::ReadToSettled(int64_t wanted) {
  return ReadUntil([&] { return answered >= wanted; });
}

void LiveClient::HalfClose() { stream_->WritesDone(); }

void LiveClient::BreakOff() {
  context_->TryCancel();
  v1::AssembleShotResponse ignored;
  while (stream_->Read(&ignored)) {
  }
  stream_->Finish();
  stream_.reset();
}

grpc::Status LiveClient::End() {
  while (ReadOne()) {
  }
  const grpc::Status status = stream_->Finish();
  stream_.reset();
  return status;
}

v1::Plan LiveClient::Plan() const {
  v1::Plan plan = last.summary();
  for (const auto& [id, decision] : decisions) *plan.add_decisions() = decision;
  return plan;
}

}  // namespace scantling::testing
