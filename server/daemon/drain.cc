// gRPC refuses connections as soon as Shutdown begins, so a load balancer would never see NOT_SERVING without a pause.
//
// Shutdown blocks until the last call has ended; it runs on a thread of its own so that this one can hear a further
// signal. Asking every 20 ms whether it is done costs nothing at this point of a process's life.

#include "server/daemon/drain.h"

#include <atomic>
#include <cstdint>
#include <optional>
#include <string>
#include <thread>

namespace scantling {
namespace {

constexpr std::chrono::milliseconds kLookEvery{20};

// Whoever started the daemon is gone: nobody is left to wait for.
constexpr std::string_view kParentEnded = "parent ended";

}  // namespace

void ServeUntilDrained(const DrainedServer& drained, EndSignals& signals, const DrainTimes& times, const Log& log) {
  const std::string reason(*signals.Wait(std::nullopt));
  const bool alone = reason == kParentEnded;
  log.Write(LogLevel::kInfo, "draining",
            {{"reason", reason}, {"running", drained.running_calls()}, {"pause_ms", int64_t{times.pause.count()}}});
  drained.server.StopServing();
  if (!alone) signals.Wait(times.pause);

  const std::chrono::milliseconds patience = alone ? std::chrono::milliseconds(0) : times.patience;
  std::atomic<bool> done{false};
  std::thread shutdown([&] {
    drained.server.Shutdown(patience);
    done = true;
  });
  while (!done) {
    if (const auto further = signals.Wait(kLookEvery)) {
      log.Write(LogLevel::kInfo, "cancelling",
                {{"reason", std::string(*further)}, {"running", drained.running_calls()}});
      drained.cancel_all();
    }
  }
  shutdown.join();
  log.Write(LogLevel::kInfo, "ended", {});
}

}  // namespace scantling
