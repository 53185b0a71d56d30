// What tells the daemon to end: SIGTERM, SIGINT, or the end of the process that started it.

#ifndef SCANTLING_SERVER_DAEMON_SIGNALS_H_
#define SCANTLING_SERVER_DAEMON_SIGNALS_H_

#include <sys/types.h>

#include <chrono>
#include <optional>
#include <string_view>

namespace scantling {

// Make one in main before any thread is started (threads inherit the mask), and wait from main only.
class EndSignals {
 public:
  // with_parent: the parent's end counts as a signal.
  explicit EndSignals(bool with_parent);

  // Waits for the next reason to end, at most `patience` (none: as long as it takes): "SIGTERM", "SIGINT" or "parent
  // ended" (once); nullopt: nothing came.
  std::optional<std::string_view> Wait(std::optional<std::chrono::milliseconds> patience);

 private:
  bool ParentEnded();

  bool watch_parent_;
  pid_t parent_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_DAEMON_SIGNALS_H_
