// Signals are blocked and waited for, so that no code ever runs in a handler. The parent's end is seen by being handed
// to another parent: asked ten times a second, which needs no help from the kernel and does not depend on which of the
// parent's threads made this process.

#include "server/daemon/signals.h"

#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <ctime>

namespace scantling {
namespace {

using std::chrono::milliseconds;
using std::chrono::steady_clock;

constexpr milliseconds kAskParentEvery{100};

sigset_t Watched() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGTERM);
  sigaddset(&set, SIGINT);
  return set;
}

timespec ToTimespec(milliseconds time) {
  return {static_cast<time_t>(time.count() / 1000), static_cast<long>(time.count() % 1000) * 1'000'000};
}

}  // namespace

EndSignals::EndSignals(bool with_parent) : watch_parent_(with_parent), parent_(getppid()) {
  const sigset_t set = Watched();
  pthread_sigmask(SIG_BLOCK, &set, nullptr);
  // A reader of the log or of the announcement that goes away must not take the daemon along.
  signal(SIGPIPE, SIG_IGN);
}

bool EndSignals::ParentEnded() {
  if (!watch_parent_ || getppid() == parent_) return false;
  watch_parent_ = false;
  return true;
}

std::optional<std::string_view> EndSignals::Wait(std::optional<milliseconds> patience) {
  const auto begin = steady_clock::now();
  const sigset_t set = Watched();
  for (;;) {
    if (ParentEnded()) return "parent ended";
    milliseconds left = kAskParentEvery;
    if (patience) {
      const auto waited = std::chrono::duration_cast<milliseconds>(steady_clock::now() - begin);
      if (waited >= *patience) return std::nullopt;
      left = watch_parent_ ? std::min(left, *patience - waited) : *patience - waited;
    }
    const bool limited = patience || watch_parent_;
    const timespec limit = ToTimespec(left);
    const int number = limited ? sigtimedwait(&set, nullptr, &limit) : sigwaitinfo(&set, nullptr);
    if (number == SIGTERM) return "SIGTERM";
    if (number == SIGINT) return "SIGINT";
  }
}

}  // namespace scantling
