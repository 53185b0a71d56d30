// Where work waits: lanes, each with as many threads as the daemon may compute with, or more.
//
// One lane would let a plan of minutes keep an artist's small shot waiting. With several, the operating system shares
// the cores out among whatever runs; a plan takes fewer threads the more plans there are.

#ifndef SCANTLING_SERVER_RPC_LANES_H_
#define SCANTLING_SERVER_RPC_LANES_H_

#include <algorithm>
#include <atomic>
#include <cstddef>

#include "grpcpp/support/status.h"
#include "server/rpc/worker_pool.h"

namespace scantling {

struct Lanes {
  // Calls that may wait in a lane before new ones are sent away; each holds its request in memory.
  static constexpr size_t kMostWaiting = 1000;
  static constexpr int kLeastLive = 8;

  // threads >= 1: all that plans may use together.
  explicit Lanes(int threads)
      : threads(threads), small(threads), large(threads), parts(threads), live(std::max(kLeastLive, 2 * threads)) {}

  static grpc::Status Busy();

  const int threads;
  std::atomic<int> plans{0};  // running now
  WorkerPool small;           // unary calls
  WorkerPool large;           // plans of large shots, and frontiers, which are many plans
  WorkerPool parts;           // taking in and sending out pieces of large shots and of sessions
  WorkerPool live;            // sessions: more than cores, so that a large one at work keeps no small one waiting
};

// A plan's share of the threads, from its start to its end.
class ThreadShare {
 public:
  explicit ThreadShare(Lanes& lanes);
  ~ThreadShare();
  ThreadShare(const ThreadShare&) = delete;
  ThreadShare& operator=(const ThreadShare&) = delete;

  int threads() const { return threads_; }  // >= 1

 private:
  Lanes& lanes_;
  int threads_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_LANES_H_
