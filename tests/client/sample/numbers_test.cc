// The demonstration shot's own random numbers and sines.

#include <cmath>
#include <cstdint>

#include "client/sample/random.h"
#include "client/sample/trig.h"
#include "gtest/gtest.h"

namespace scantling::sample {
namespace {

// Source: Sebastiano Vigna's public-domain splitmix64.c; its outputs for the seed 1234567 as listed on Rosetta Code,
// "Pseudo-random numbers/Splitmix64".
TEST(Random, GivesThePublishedSequence) {
  Random random(1234567);
  EXPECT_EQ(random.Next(), 6457827717110365317u);
  EXPECT_EQ(random.Next(), 3203168211198807973u);
  EXPECT_EQ(random.Next(), 9817491932198370423u);
  EXPECT_EQ(random.Next(), 4593380528125082431u);
  EXPECT_EQ(random.Next(), 16408922859458223821u);
}

TEST(Random, StreamsDifferByEveryPartOfTheirName) {
  const uint64_t base = Random(1, 2, 3).Next();
  EXPECT_EQ(Random(1, 2, 3).Next(), base);
  EXPECT_NE(Random(2, 2, 3).Next(), base);
  EXPECT_NE(Random(1, 3, 3).Next(), base);
  EXPECT_NE(Random(1, 2, 4).Next(), base);
}

TEST(Random, BelowReachesEveryNumberAndNoOther) {
  Random random(7);
  bool seen[3] = {};
  for (int i = 0; i < 200; ++i) {  // missing one of three by chance: 3 * (2/3)^200 = 2e-35
    const uint32_t got = random.Below(3);
    ASSERT_LT(got, 3u);
    seen[got] = true;
  }
  EXPECT_TRUE(seen[0] && seen[1] && seen[2]);
}

TEST(SinCosOfTurns, IsExactAtQuarterTurns) {
  for (int quarter = -8; quarter <= 8; ++quarter) {
    const auto [sine, cosine] = SinCosOfTurns(quarter * 0.25);
    const int turn = ((quarter % 4) + 4) % 4;
    EXPECT_EQ(sine, turn == 1 ? 1 : turn == 3 ? -1 : 0) << quarter;
    EXPECT_EQ(cosine, turn == 0 ? 1 : turn == 2 ? -1 : 0) << quarter;
  }
}

TEST(SinCosOfTurns, AgreesWithTheCLibrary) {
  Random random(3);
  for (int i = 0; i < 10'000; ++i) {
    const double turns = random.Between(-3, 3);
    const auto [sine, cosine] = SinCosOfTurns(turns);
    // The library is given turns * 2 pi, rounded: an error of up to 2^-53 * 6 pi = 2.1e-15 in the angle itself.
    EXPECT_NEAR(sine, std::sin(turns * 2 * M_PI), 3e-15);
    EXPECT_NEAR(cosine, std::cos(turns * 2 * M_PI), 3e-15);
    EXPECT_NEAR(sine * sine + cosine * cosine, 1, 1e-15);  // a few roundings of 1.1e-16
  }
}

}  // namespace
}  // namespace scantling::sample
