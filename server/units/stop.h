// Stopping a long compute: the caller's cancel flag and its deadline in one place.
//
// Stages poll Stop::Requested() every few hundred microseconds of work (once per chunk and frame is enough). A relaxed
// atomic load and, every poll, one monotonic clock read: about 25 ns.

#ifndef SCANTLING_SERVER_UNITS_STOP_H_
#define SCANTLING_SERVER_UNITS_STOP_H_

#include <atomic>
#include <chrono>

namespace scantling {

class Stop {
 public:
  using Clock = std::chrono::steady_clock;

  Stop() = default;
  explicit Stop(Clock::time_point deadline) : deadline_(deadline) {}
  Stop(const Stop&) = delete;
  Stop& operator=(const Stop&) = delete;

  void Cancel() { cancelled_.store(true, std::memory_order_relaxed); }

  bool Cancelled() const { return cancelled_.load(std::memory_order_relaxed); }
  bool PastDeadline() const { return deadline_ != Clock::time_point::max() && Clock::now() >= deadline_; }
  bool Requested() const { return Cancelled() || PastDeadline(); }
  Clock::time_point deadline() const { return deadline_; }

 private:
  std::atomic<bool> cancelled_{false};
  Clock::time_point deadline_ = Clock::time_point::max();
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_UNITS_STOP_H_
