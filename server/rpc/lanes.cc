// A share is fixed when the plan starts: plans do not depend on how many threads they had, so a share that turns out
// too small or too large costs time only.

#include "server/rpc/lanes.h"

#include <algorithm>

namespace scantling {

grpc::Status Lanes::Busy() {
  return {grpc::StatusCode::UNAVAILABLE, "too many calls are waiting; try again in a while"};
}

ThreadShare::ThreadShare(Lanes& lanes) : lanes_(lanes) {
  const int running = lanes_.plans.fetch_add(1) + 1;
  threads_ = std::max(1, lanes_.threads / running);
}

ThreadShare::~ThreadShare() { lanes_.plans.fetch_sub(1); }

}  // namespace scantling
