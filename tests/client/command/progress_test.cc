// One state of the bar. Whether there is a terminal is tested end to end.

#include "client/command/progress.h"

#include <gtest/gtest.h>

#include <cmath>

namespace scantling::client {
namespace {

TEST(ProgressLine, FillsByTheFraction) {
  EXPECT_EQ(ProgressLine("measuring", 0.5, 12000), "measuring [############------------]  50%  12,000 objects");
  EXPECT_EQ(ProgressLine("a", 0, 0), "a [------------------------]   0%  0 objects");
  EXPECT_EQ(ProgressLine("a", 1, 1), "a [########################] 100%  1 objects");
}

TEST(ProgressLine, StrayFractionsStayOnTheBar) {
  EXPECT_EQ(ProgressLine("a", 7, 0), ProgressLine("a", 1, 0));
  EXPECT_EQ(ProgressLine("a", -7, 0), ProgressLine("a", 0, 0));
  EXPECT_EQ(ProgressLine("a", std::nan(""), 0), ProgressLine("a", 0, 0));
}

}  // namespace
}  // namespace scantling::client
