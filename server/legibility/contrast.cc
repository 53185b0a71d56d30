// Colour difference, in three steps that each have a standard: sRGB bytes to linear light (IEC 61966-2-1), linear light
// to L*a*b* under D65 (CIE 15), two L*a*b* values to a difference (CIEDE2000).
//
// The white point is the row sums of the matrix, so that white is exactly L* = 100 and greys carry no chroma that the
// difference formula, which is steep near the neutral axis, would read as colour.
//
// Source: Sharma, Wu & Dalal, The CIEDE2000 Color-Difference Formula: Implementation Notes, Supplementary Test Data,
// and Mathematical Observations, Color Research & Application 30(1), 2005, eqs. 2-22.

#include "server/legibility/contrast.h"

#include <cmath>
#include <cstddef>
#include <numbers>

namespace scantling {
namespace {

using Row = std::array<double, 3>;

// Linear sRGB to CIE XYZ, exact fractions from the primaries and the white of IEC 61966-2-1 (x 0.3127, y 0.3290).
// Source: W3C, CSS Color Module Level 4, section 18 "Sample code for color conversions".
constexpr std::array<Row, 3> kXyzOfLinear = {{{506752.0 / 1228815.0, 87881.0 / 245763.0, 12673.0 / 70218.0},
                                              {87098.0 / 409605.0, 175762.0 / 245763.0, 12673.0 / 175545.0},
                                              {7918.0 / 409605.0, 87881.0 / 737289.0, 1001167.0 / 1053270.0}}};

// Source: CIE 15; the exact fractions of its rounded constants.
constexpr double kEpsilon = 216.0 / 24389.0;
constexpr double kKappa = 24389.0 / 27.0;

constexpr double kDegree = std::numbers::pi / 180.0;
const double kChromaPivot = std::pow(25.0, 7);

double CubeRootOrLine(double t) { return t > kEpsilon ? std::cbrt(t) : (kKappa * t + 16.0) / 116.0; }

// 0..360 degrees; 0 for a neutral colour.
double HueDeg(double a, double b) {
  if (a == 0 && b == 0) return 0;
  const double hue = std::atan2(b, a) / kDegree;
  return hue < 0 ? hue + 360.0 : hue;
}

double SeventhPowerShare(double chroma) {
  const double power = std::pow(chroma, 7);
  return std::sqrt(power / (power + kChromaPivot));
}

struct Polar {
  double l = 0, chroma = 0, hue_deg = 0;
};

// eqs. 2-7: a* stretched near the neutral axis, then chroma and hue.
Polar PolarOf(const Lab& lab, double mean_chroma) {
  const double a = lab.a * (1.0 + 0.5 * (1.0 - SeventhPowerShare(mean_chroma)));
  return {lab.l, std::hypot(a, lab.b), HueDeg(a, lab.b)};
}

// eq. 10: the signed hue step the short way round.
double HueStepDeg(const Polar& first, const Polar& second) {
  if (first.chroma * second.chroma == 0) return 0;
  const double step = second.hue_deg - first.hue_deg;
  if (step > 180.0) return step - 360.0;
  return step < -180.0 ? step + 360.0 : step;
}

// eq. 14: the mean hue on the shorter arc.
double MeanHueDeg(const Polar& first, const Polar& second) {
  const double sum = first.hue_deg + second.hue_deg;
  if (first.chroma * second.chroma == 0) return sum;
  if (std::abs(first.hue_deg - second.hue_deg) <= 180.0) return sum / 2.0;
  return sum < 360.0 ? (sum + 360.0) / 2.0 : (sum - 360.0) / 2.0;
}

// eq. 15.
double HueWeight(double mean_hue_deg) {
  return 1.0 - 0.17 * std::cos((mean_hue_deg - 30.0) * kDegree) + 0.24 * std::cos(2.0 * mean_hue_deg * kDegree) +
         0.32 * std::cos((3.0 * mean_hue_deg + 6.0) * kDegree) - 0.20 * std::cos((4.0 * mean_hue_deg - 63.0) * kDegree);
}

// eqs. 16, 17, 21: how far chroma and hue differences turn into one another, strongest in the blues.
double Rotation(double mean_hue_deg, double mean_chroma) {
  const double bell = (mean_hue_deg - 275.0) / 25.0;
  return -2.0 * SeventhPowerShare(mean_chroma) * std::sin(60.0 * std::exp(-bell * bell) * kDegree);
}

}  // namespace

// Source: IEC 61966-2-1.
double LinearOfSrgb(double encoded) {
  return encoded <= 0.04045 ? encoded / 12.92 : std::pow((encoded + 0.055) / 1.055, 2.4);
}

// Source: CIE 15.
double LightnessOfLuminance(double luminance) { return 116.0 * CubeRootOrLine(luminance) - 16.0; }

Lab LabOfSrgb(const std::array<uint8_t, 3>& srgb) {
  std::array<double, 3> f = {};
  for (size_t axis = 0; axis < 3; ++axis) {
    double value = 0, white = 0;
    for (size_t channel = 0; channel < 3; ++channel) {
      value += kXyzOfLinear[axis][channel] * LinearOfSrgb(srgb[channel] / 255.0);
      white += kXyzOfLinear[axis][channel];
    }
    f[axis] = CubeRootOrLine(value / white);
  }
  return {116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])};
}

double CieDe2000(const Lab& first, const Lab& second) {
  const double mean_plain_chroma = (std::hypot(first.a, first.b) + std::hypot(second.a, second.b)) / 2.0;
  const Polar p = PolarOf(first, mean_plain_chroma), q = PolarOf(second, mean_plain_chroma);

  // eqs. 8, 9, 11.
  const double dl = q.l - p.l, dc = q.chroma - p.chroma;
  const double dh = 2.0 * std::sqrt(p.chroma * q.chroma) * std::sin(HueStepDeg(p, q) * kDegree / 2.0);

  // eqs. 12-14, 18-20.
  const double mean_chroma = (p.chroma + q.chroma) / 2.0, mean_hue = MeanHueDeg(p, q);
  const double from_middle = (p.l + q.l) / 2.0 - 50.0;
  const double sl = 1.0 + 0.015 * from_middle * from_middle / std::sqrt(20.0 + from_middle * from_middle);
  const double sc = 1.0 + 0.045 * mean_chroma, sh = 1.0 + 0.015 * mean_chroma * HueWeight(mean_hue);

  // eq. 22, all parametric factors 1. Rounding can push the sum of an identical pair a hair below zero.
  const double l = dl / sl, c = dc / sc, h = dh / sh;
  const double squared = l * l + c * c + h * h + Rotation(mean_hue, mean_chroma) * c * h;
  return squared > 0 ? std::sqrt(squared) : 0;
}

}  // namespace scantling
