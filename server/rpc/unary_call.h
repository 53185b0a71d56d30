// One unary call from arrival to answer: waits for a thread of ours, runs its handler there, answers, tells the log.

#ifndef SCANTLING_SERVER_RPC_UNARY_CALL_H_
#define SCANTLING_SERVER_RPC_UNARY_CALL_H_

#include <functional>
#include <string_view>

#include "grpcpp/support/server_callback.h"
#include "server/rpc/call.h"
#include "server/rpc/lanes.h"

namespace scantling {

// Owns itself: create it with new and hand it to gRPC, which ends its life.
class UnaryCall final : public grpc::ServerUnaryReactor {
 public:
  // Reads the request and fills the response, both of which belong to gRPC and live until OnDone.
  using Handler = std::function<grpc::Status(Call&)>;

  UnaryCall(std::string_view method, grpc::CallbackServerContext& context, RunningCalls& running, Lanes& lanes,
            Handler handler);

 private:
  void Run();
  void OnCancel() override { call_.Cancel(); }
  void OnDone() override { delete this; }

  Call call_;
  Handler handler_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_UNARY_CALL_H_
