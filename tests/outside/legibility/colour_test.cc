// Colour against published values: sRGB and L* in closed form, CIEDE2000's own test pairs, a general-purpose library.

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "gtest/gtest.h"
#include "server/legibility/contrast.h"

namespace scantling {
namespace {

struct Pair {
  std::string number;
  Lab first, second;
  double difference = 0;
};

std::vector<Pair> PublishedPairs() {
  std::ifstream file(SCANTLING_SOURCE_DIR "/tests/data/ciede2000.csv");
  std::string line;
  std::getline(file, line);  // the heading
  std::vector<Pair> pairs;
  while (std::getline(file, line)) {
    for (char& c : line) {
      if (c == ',') c = ' ';
    }
    Pair pair;
    std::istringstream(line) >> pair.number >> pair.first.l >> pair.first.a >> pair.first.b >> pair.second.l >>
        pair.second.a >> pair.second.b >> pair.difference;
    pairs.push_back(pair);
  }
  return pairs;
}

// Source: Sharma, Wu & Dalal 2005, Table 1. Tolerance: half of the last published digit.
TEST(CieDe2000, AgreesWithAllPublishedPairs) {
  const std::vector<Pair> pairs = PublishedPairs();
  ASSERT_EQ(pairs.size(), 34u);
  for (const Pair& pair : pairs) {
    EXPECT_NEAR(CieDe2000(pair.first, pair.second), pair.difference, 5e-5) << "pair " << pair.number;
    EXPECT_NEAR(CieDe2000(pair.second, pair.first), pair.difference, 5e-5) << "pair " << pair.number << " turned round";
  }
}

// Closed forms of IEC 61966-2-1 and CIE 15, worked out to twelve digits: ((0.5 + 0.055) / 1.055)^2.4 and
// 116 * 0.18^(1/3) - 16. Tolerance: the digits given.
TEST(Srgb, DecodesToTheClosedForm) {
  EXPECT_NEAR(LinearOfSrgb(0.5), 0.214041140482, 1e-12);
  EXPECT_NEAR(LinearOfSrgb(0.461356129500), 0.18, 1e-12);
  EXPECT_DOUBLE_EQ(LinearOfSrgb(0.04045), 0.04045 / 12.92);
  EXPECT_EQ(LinearOfSrgb(0), 0);
  EXPECT_DOUBLE_EQ(LinearOfSrgb(1), 1);
}

TEST(Lightness, OfEighteenPerCentGreyIsTheClosedForm) {
  EXPECT_NEAR(LightnessOfLuminance(0.18), 49.496107610, 1e-9);
  EXPECT_EQ(LightnessOfLuminance(0), 0);
  EXPECT_EQ(LightnessOfLuminance(1), 100);
  // Where the two branches meet, (6/29)^3, L* = 116 * 6/29 - 16 = 8 on both.
  EXPECT_NEAR(LightnessOfLuminance(216.0 / 24389.0), 8.0, 1e-12);
  EXPECT_NEAR(LightnessOfLuminance(216.0 / 24389.0 * (1 + 1e-12)), 8.0, 1e-9);
}

// Expected values from the general-purpose colour library colorjs.io 0.5.2, space lab-d65. Tolerance: its matrix is
// rounded to 16 digits and its transfer function is the same, so 1e-6 leaves room for rounding alone.
TEST(LabOfSrgb, AgreesWithALibrary) {
  struct Case {
    std::array<uint8_t, 3> srgb;
    Lab lab;
  };
  const Case cases[] = {
      {{255, 0, 0}, {53.23711559542936, 80.09011352310385, 67.20326351172214}},
      {{0, 255, 0}, {87.73551910966, -86.18159689039895, 83.18662027363}},
      {{0, 0, 255}, {32.30087290398018, 79.1952703074042, -107.85546553974265}},
      {{200, 100, 50}, {53.62772334030207, 36.30153032790007, 45.379033022275095}},
      {{128, 128, 128}, {53.58501345216902, 0, 0}},
  };
  for (const Case& c : cases) {
    const Lab lab = LabOfSrgb(c.srgb);
    EXPECT_NEAR(lab.l, c.lab.l, 1e-6);
    EXPECT_NEAR(lab.a, c.lab.a, 1e-6);
    EXPECT_NEAR(lab.b, c.lab.b, 1e-6);
  }
}

}  // namespace
}  // namespace scantling
