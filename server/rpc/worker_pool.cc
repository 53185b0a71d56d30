// One mutex, one condition, one queue: work here lasts milliseconds to minutes, so the queue is never what takes time.

#include "server/rpc/worker_pool.h"

#include <algorithm>
#include <limits>
#include <utility>

namespace scantling {

WorkerPool::WorkerPool(int threads) {
  for (int i = 0; i < std::max(threads, 1); ++i) threads_.emplace_back([this] { Run(); });
}

WorkerPool::~WorkerPool() {
  {
    const std::scoped_lock lock(mutex_);
    closing_ = true;
  }
  changed_.notify_all();
  for (std::thread& thread : threads_) thread.join();
}

void WorkerPool::Submit(std::function<void()> work) { TrySubmit(std::move(work), std::numeric_limits<size_t>::max()); }

bool WorkerPool::TrySubmit(std::function<void()> work, size_t most_waiting) {
  {
    const std::scoped_lock lock(mutex_);
    if (waiting_.size() >= most_waiting) return false;
    waiting_.push_back(std::move(work));
  }
  changed_.notify_one();
  return true;
}

void WorkerPool::Run() {
  for (;;) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return closing_ || !waiting_.empty(); });
    if (waiting_.empty()) return;
    const std::function<void()> work = std::move(waiting_.front());
    waiting_.pop_front();
    lock.unlock();
    work();
  }
}

}  // namespace scantling
