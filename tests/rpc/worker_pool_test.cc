#include "server/rpc/worker_pool.h"

#include <gtest/gtest.h>

#include <atomic>
#include <future>
#include <vector>

namespace scantling {
namespace {

TEST(WorkerPool, EndRunsWhatWaits) {
  std::atomic<int> ran{0};
  {
    WorkerPool pool(2);
    for (int i = 0; i < 1000; ++i) pool.Submit([&] { ++ran; });
  }
  EXPECT_EQ(ran, 1000);
}

TEST(WorkerPool, OneThreadKeepsTheOrder) {
  std::vector<int> order;
  {
    WorkerPool pool(1);
    for (int i = 0; i < 100; ++i) pool.Submit([&, i] { order.push_back(i); });
  }
  for (int i = 0; i < 100; ++i) EXPECT_EQ(order[static_cast<size_t>(i)], i);
}

TEST(WorkerPool, TurnsAwayWhatWouldWaitBehindTooMany) {
  std::promise<void> started, may_end;
  std::atomic<int> ran{0};
  {
    WorkerPool pool(1);
    pool.Submit([&] {
      started.set_value();
      may_end.get_future().wait();
    });
    started.get_future().wait();
    EXPECT_TRUE(pool.TrySubmit([&] { ++ran; }, 2));
    EXPECT_TRUE(pool.TrySubmit([&] { ++ran; }, 2));
    EXPECT_FALSE(pool.TrySubmit([&] { ++ran; }, 2));
    may_end.set_value();
  }
  EXPECT_EQ(ran, 2);
}

TEST(WorkerPool, WorkMaySubmitWork) {
  std::promise<int> result;
  WorkerPool pool(1);
  pool.Submit([&] { pool.Submit([&] { result.set_value(7); }); });
  EXPECT_EQ(result.get_future().get(), 7);
}

}  // namespace
}  // namespace scantling
