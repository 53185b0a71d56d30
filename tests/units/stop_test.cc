// Stopping a compute by cancel or by deadline.

#include "server/units/stop.h"

#include <gtest/gtest.h>

#include <thread>

namespace scantling {
namespace {

TEST(Stop, IsNotRequestedByItself) {
  Stop stop;
  EXPECT_FALSE(stop.Requested());
  EXPECT_EQ(stop.deadline(), Stop::Clock::time_point::max());
}

TEST(Stop, CancelIsSeenAndToldFromDeadline) {
  Stop stop(Stop::Clock::now() + std::chrono::hours(1));
  EXPECT_FALSE(stop.Requested());
  stop.Cancel();
  EXPECT_TRUE(stop.Requested());
  EXPECT_TRUE(stop.Cancelled());
  EXPECT_FALSE(stop.PastDeadline());
}

TEST(Stop, DeadlineInThePastIsSeenAndToldFromCancel) {
  const Stop stop(Stop::Clock::now() - std::chrono::milliseconds(1));
  EXPECT_TRUE(stop.Requested());
  EXPECT_TRUE(stop.PastDeadline());
  EXPECT_FALSE(stop.Cancelled());
}

TEST(Stop, CancelReachesAnotherThread) {
  Stop stop;
  std::thread worker([&] {
    while (!stop.Requested()) std::this_thread::yield();
  });
  stop.Cancel();
  worker.join();
  EXPECT_TRUE(stop.Cancelled());
}

}  // namespace
}  // namespace scantling
