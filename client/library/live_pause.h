// Growing pauses between attempts to reach a daemon.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_PAUSE_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_PAUSE_H_

#include <chrono>
#include <cstdint>
#include <random>

namespace scantling::client {

// Each pause is drawn between half of and all of a bound, which doubles from `first` up to `longest`: a farm of clients
// whose daemon came back does not call it in step. Not thread-safe.
class GrowingPause {
 public:
  using Milliseconds = std::chrono::milliseconds;
  GrowingPause(Milliseconds first, Milliseconds longest, uint32_t seed);

  Milliseconds Next();
  void Reset() { bound_ = first_; }

 private:
  Milliseconds first_, longest_, bound_;
  std::minstd_rand random_;  // need differ from client to client, not be good
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_PAUSE_H_
