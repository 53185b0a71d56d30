// The end of the daemon in good order.

#ifndef SCANTLING_SERVER_DAEMON_DRAIN_H_
#define SCANTLING_SERVER_DAEMON_DRAIN_H_

#include <chrono>
#include <functional>
#include <string_view>

#include "server/daemon/log.h"
#include "server/daemon/server.h"
#include "server/daemon/signals.h"

namespace scantling {

struct DrainTimes {
  std::chrono::milliseconds pause;     // in NOT_SERVING, calls still taken, so that callers look elsewhere
  std::chrono::milliseconds patience;  // then, for running calls
};

struct DrainedServer {
  RunningServer& server;
  std::function<void()> cancel_all;  // cancels running calls; thread-safe
  std::function<int64_t()> running_calls;
};

// Waits for a reason to end, then: NOT_SERVING, pause, no new calls, running ones end or are cancelled. A further
// signal ends the pause, or cancels what runs. Returns when all calls have ended.
void ServeUntilDrained(const DrainedServer& drained, EndSignals& signals, const DrainTimes& times, const Log& log);

}  // namespace scantling

#endif  // SCANTLING_SERVER_DAEMON_DRAIN_H_
