#include "server/planning/parallel.h"

#include <gtest/gtest.h>

#include <atomic>
#include <vector>

namespace scantling {
namespace {

TEST(ForEachInParallel, CallsEveryIndexOnceOnAnyNumberOfThreads) {
  for (const int threads : {1, 2, 7}) {
    std::vector<std::atomic<int>> calls(1000);
    ForEachInParallel(calls.size(), threads, [&](size_t i) { ++calls[i]; });
    for (const auto& count : calls) ASSERT_EQ(count, 1) << threads;
  }
}

TEST(ForEachInParallel, NothingToDoIsDone) {
  int calls = 0;
  ForEachInParallel(0, 4, [&](size_t) { ++calls; });
  EXPECT_EQ(calls, 0);
}

}  // namespace
}  // namespace scantling
