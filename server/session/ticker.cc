// Time is waited for on a condition, so that the end is not.

#include "server/session/ticker.h"

#include <utility>

namespace scantling {

Ticker::Ticker(std::chrono::milliseconds period, std::function<void()> work)
    : thread_([this, period, work = std::move(work)] {
        std::unique_lock lock(mutex_);
        while (!closed_.wait_for(lock, period, [this] { return closing_; })) {
          lock.unlock();
          work();
          lock.lock();
        }
      }) {}

Ticker::~Ticker() {
  {
    const std::scoped_lock lock(mutex_);
    closing_ = true;
  }
  closed_.notify_all();
  thread_.join();
}

}  // namespace scantling
