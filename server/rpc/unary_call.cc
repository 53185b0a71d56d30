// The handler runs on a thread of the lane, never on gRPC's: those carry the bytes of every other call.

#include "server/rpc/unary_call.h"

#include <utility>

namespace scantling {

UnaryCall::UnaryCall(std::string_view method, grpc::CallbackServerContext& context, RunningCalls& running, Lanes& lanes,
                     Handler handler)
    : call_(method, context, running), handler_(std::move(handler)) {
  if (!lanes.small.TrySubmit([this] { Run(); }, Lanes::kMostWaiting)) Finish(call_.Report(Lanes::Busy()));
}

void UnaryCall::Run() {
  call_.Begun();
  // After Finish this object may be gone.
  Finish(call_.Report(Guarded([this] { return handler_(call_); })));
}

}  // namespace scantling
