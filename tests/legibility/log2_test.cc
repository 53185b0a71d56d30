#include <cmath>
#include <limits>
#include <random>

#include "gtest/gtest.h"
#include "server/legibility/floor_terms.h"

namespace scantling {
namespace {

// Against the C library's. 4e-16 of the result, or of 1 where that is larger, is what the header claims; the library's
// own rounding is allowed on top.
TEST(Log2, AgreesWithTheLibrary) {
  std::mt19937_64 random(1);
  for (int i = 0; i < 200'000; ++i) {
    const double unit = static_cast<double>(random() >> 11) * 0x1p-53;
    const double x = std::exp2(60 * unit - 30), expected = std::log2(x);
    EXPECT_NEAR(Log2(x), expected, 5e-16 * std::max(1.0, std::abs(expected))) << x;
  }
  for (double near_one = 0.99; near_one < 1.01; near_one += 1e-5) {
    EXPECT_NEAR(Log2(near_one), std::log2(near_one), 5e-16) << near_one;
  }
}

TEST(Log2, IsExactForPowersOfTwo) {
  for (int exponent = -1000; exponent <= 1000; ++exponent) EXPECT_EQ(Log2(std::ldexp(1.0, exponent)), exponent);
}

TEST(Log2, EndsAreFarOffAndNeverNan) {
  EXPECT_LT(Log2(0), -1022);
  EXPECT_EQ(Log2(std::numeric_limits<double>::infinity()), 1024);
}

}  // namespace
}  // namespace scantling
