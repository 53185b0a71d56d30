// Calls a function now and then.

#ifndef SCANTLING_SERVER_SESSION_TICKER_H_
#define SCANTLING_SERVER_SESSION_TICKER_H_

#include <chrono>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <thread>

namespace scantling {

// Calls `work` every `period` on a thread of its own, from construction to destruction, never twice at once. `work`
// must not throw.
class Ticker {
 public:
  Ticker(std::chrono::milliseconds period, std::function<void()> work);
  ~Ticker();
  Ticker(const Ticker&) = delete;
  Ticker& operator=(const Ticker&) = delete;

 private:
  std::mutex mutex_;
  std::condition_variable closed_;
  bool closing_ = false;
  std::thread thread_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SESSION_TICKER_H_
