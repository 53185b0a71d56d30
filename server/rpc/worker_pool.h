// Threads that compute, so that gRPC's own threads only carry bytes.

#ifndef SCANTLING_SERVER_RPC_WORKER_POOL_H_
#define SCANTLING_SERVER_RPC_WORKER_POOL_H_

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

namespace scantling {

// A first-come-first-served queue in front of a fixed number of threads. Thread-safe. Work must not throw.
class WorkerPool {
 public:
  // threads >= 1.
  explicit WorkerPool(int threads);
  // Runs everything that waits, then joins. Nothing may be submitted meanwhile but by work that is running.
  ~WorkerPool();
  WorkerPool(const WorkerPool&) = delete;
  WorkerPool& operator=(const WorkerPool&) = delete;

  void Submit(std::function<void()> work);

  // False, and `work` is dropped, where `most_waiting` or more already wait.
  bool TrySubmit(std::function<void()> work, size_t most_waiting);

 private:
  void Run();

  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::function<void()>> waiting_;
  bool closing_ = false;
  std::vector<std::thread> threads_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_WORKER_POOL_H_
