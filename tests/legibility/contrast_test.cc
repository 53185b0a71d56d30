#include "server/legibility/contrast.h"

#include "gtest/gtest.h"

namespace scantling {
namespace {

TEST(LabOfSrgb, WhiteIsHundredBlackIsNothing) {
  const Lab white = LabOfSrgb({255, 255, 255}), black = LabOfSrgb({0, 0, 0});
  EXPECT_DOUBLE_EQ(white.l, 100);
  EXPECT_NEAR(white.a, 0, 1e-12);
  EXPECT_NEAR(white.b, 0, 1e-12);
  EXPECT_NEAR(black.l, 0, 1e-12);
}

TEST(LabOfSrgb, GreysHaveNoChroma) {
  for (int grey = 0; grey < 256; ++grey) {
    const auto byte = static_cast<uint8_t>(grey);
    const Lab lab = LabOfSrgb({byte, byte, byte});
    EXPECT_NEAR(lab.a, 0, 1e-12) << grey;  // rounding of three products near 1, times 500
    EXPECT_NEAR(lab.b, 0, 1e-12) << grey;
  }
}

TEST(CieDe2000, OfAColourWithItselfIsZero) {
  for (int red = 0; red < 256; red += 15) {
    for (int blue = 0; blue < 256; blue += 15) {
      const Lab lab = LabOfSrgb({static_cast<uint8_t>(red), 90, static_cast<uint8_t>(blue)});
      EXPECT_EQ(CieDe2000(lab, lab), 0);
    }
  }
}

// Neutral colours: dE = |dL| / SL, and at a mean L* of 50 SL = 1.
TEST(CieDe2000, OfGreysAroundTheMiddleIsTheirLightnessStep) { EXPECT_DOUBLE_EQ(CieDe2000({40, 0, 0}, {60, 0, 0}), 20); }

}  // namespace
}  // namespace scantling
