// One AssembleShot stream: finds or opens its session, hands messages to it, and sends what it has to say.
//
// The session outlives the stream, and knows it by its line, which outlives both for as long as someone calls it. One
// message is read and one written at a time; a session that has no room for messages is not read for until it says so.

#ifndef SCANTLING_SERVER_RPC_ASSEMBLE_CALL_H_
#define SCANTLING_SERVER_RPC_ASSEMBLE_CALL_H_

#include <memory>
#include <mutex>
#include <optional>
#include <string>

#include "grpcpp/support/server_callback.h"
#include "scantling/v1/shot_planner.pb.h"
#include "server/rpc/call.h"
#include "server/rpc/live_session.h"

namespace scantling {

// Owns itself: create it with new and hand it to gRPC, which ends its life.
class AssembleCall final : public grpc::ServerBidiReactor<v1::AssembleShotRequest, v1::AssembleShotResponse> {
 public:
  AssembleCall(const LiveParts& parts, RunningCalls& running, grpc::CallbackServerContext& context);
  ~AssembleCall() override;

 private:
  class Line;

  void OnReadDone(bool ok) override;
  void OnWriteDone(bool ok) override;
  void OnCancel() override;
  void OnDone() override { delete this; }

  void Take();
  bool TakeMessage();  // true: read on
  grpc::Status Open(const v1::AssembleShotRequest& first);
  grpc::Status Begin(const v1::Begin& begin);
  grpc::Status Resume(const v1::Resume& resume);
  void ReadOn();
  void StartReading();  // wants mutex_
  void SendNext();
  void End(grpc::Status status);

  const LiveParts parts_;
  Call call_;
  const std::string identity_;
  std::shared_ptr<Line> line_;
  std::unique_ptr<v1::AssembleShotRequest> incoming_;

  std::mutex mutex_;  // guards what follows
  // Set with the first message, never changed after: what takes messages may read it without the lock.
  std::shared_ptr<LiveSession> session_;
  bool reading_ = false;
  bool taking_ = false;     // a message is being taken in: the call must not end under it
  bool room_came_ = false;  // meanwhile
  bool writing_ = false, woken_ = false, half_closed_ = false, finished_ = false;
  std::optional<grpc::Status> end_;
  v1::AssembleShotResponse outgoing_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_ASSEMBLE_CALL_H_
