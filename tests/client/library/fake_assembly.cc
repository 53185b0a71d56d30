// A real gRPC server in the test's own process, over a socket in a folder of its own: it can be ended and started again
// at the same address, which a port would not promise.

#include "tests/client/library/fake_assembly.h"

#include <grpcpp/security/server_credentials.h>
#include <grpcpp/server_builder.h>
#include <stdlib.h>

#include <filesystem>

namespace scantling::client {

v1::AssembleShotRequest FakeCall::Read() {
  v1::AssembleShotRequest request;
  if (!stream_.Read(&request)) request.Clear();
  saw_close_ = saw_close_ || request.has_close();
  return request;
}

v1::ShotEdit FakeCall::ReadEdit() {
  v1::ShotEdit edit;
  do {
    const v1::AssembleShotRequest request = Read();
    if (!request.has_edit()) return v1::ShotEdit();
    edit.MergeFrom(request.edit());
    edit.set_continues(request.edit().continues());
  } while (edit.continues());
  return edit;
}

void FakeCall::Start(const std::string& session_id, int64_t revision, bool resumed) {
  v1::AssembleShotResponse response;
  response.mutable_started()->set_session_id(session_id);
  response.mutable_started()->set_revision(revision);
  response.mutable_started()->set_resumed(resumed);
  Write(response);
}

void FakeCall::Plan(int64_t number, int64_t revision, v1::UpdateState state, const std::vector<std::string>& full_rig,
                    bool anew) {
  v1::Update update;
  update.set_number(number);
  update.set_revision(revision);
  update.set_state(state);
  update.set_anew(anew);
  for (const std::string& id : full_rig) {
    update.add_decisions()->set_object_id(id);
    update.mutable_decisions(update.decisions_size() - 1)->set_tier(v1::FULL_RIG);
  }
  update.mutable_summary()->mutable_totals()->set_objects(number);
  Send(update);
}

void FakeCall::Send(const v1::Update& update) {
  v1::AssembleShotResponse response;
  *response.mutable_update() = update;
  Write(response);
}

void FakeCall::Refuse(int64_t revision, const std::string& field) {
  v1::AssembleShotResponse response;
  response.mutable_refusal()->set_revision(revision);
  response.mutable_refusal()->mutable_status()->set_code(static_cast<int>(grpc::StatusCode::INVALID_ARGUMENT));
  response.mutable_refusal()->mutable_status()->set_message(field);
  Write(response);
}

void FakeCall::ReadToEnd() {
  v1::AssembleShotRequest request;
  while (stream_.Read(&request)) saw_close_ = saw_close_ || request.has_close();
}

FakeAssembly::FakeAssembly(Script script) : script_(std::move(script)) {
  std::string pattern = "/tmp/scantling_fake_XXXXXX";
  if (mkdtemp(pattern.data()) == nullptr) abort();
  folder_ = pattern;
  Restart();
}

FakeAssembly::~FakeAssembly() {
  Kill();
  std::error_code ignored;
  std::filesystem::remove_all(folder_, ignored);
}

std::string FakeAssembly::address() const { return "unix:" + folder_ + "/socket"; }

void FakeAssembly::Kill() {
  if (server_ == nullptr) return;
  server_->Shutdown(std::chrono::system_clock::now());  // no time for running calls: they are cancelled
  server_->Wait();
  server_.reset();
}

void FakeAssembly::Restart() {
  grpc::ServerBuilder builder;
  builder.AddListeningPort(address(), grpc::InsecureServerCredentials());
  builder.RegisterService(this);
  builder.SetSyncServerOption(grpc::ServerBuilder::CQ_TIMEOUT_MSEC,
                              50);  // what an end may wait for; usually ten seconds
  server_ = builder.BuildAndStart();
  if (server_ == nullptr) abort();
}

grpc::Status FakeAssembly::AssembleShot(grpc::ServerContext* context, FakeCall::Stream* stream) {
  FakeCall call(*context, *stream);
  return script_(calls_++, call);
}

}  // namespace scantling::client
