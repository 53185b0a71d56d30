// Sine and cosine from additions and multiplications only.
//
// IEEE arithmetic without contraction (-ffp-contract=off, set for the whole project) gives one answer everywhere; the
// C library's sine does not promise that. The angle is folded to within an eighth of a turn of a quarter turn, where
// the Taylor series up to x^17 is exact to double precision: its first left-out term is (pi/4)^18 / 18! = 2e-18.

#include "client/sample/trig.h"

#include <cmath>

namespace scantling::sample {
namespace {

constexpr double kTwoPi = 6.283185307179586476925;

double SineSeries(double x) {
  const double x2 = x * x;
  double sum = 0;
  for (int k = 17; k >= 3; k -= 2) sum = (1 + sum) * (-x2 / (k * (k - 1)));
  return x * (1 + sum);
}

double CosineSeries(double x) {
  const double x2 = x * x;
  double sum = 0;
  for (int k = 16; k >= 2; k -= 2) sum = (1 + sum) * (-x2 / (k * (k - 1)));
  return 1 + sum;
}

}  // namespace

SinCos SinCosOfTurns(double turns) {
  const double quarters = std::floor(turns * 4 + 0.5);
  const double x = (turns - quarters / 4) * kTwoPi;
  const double s = SineSeries(x);
  const double c = CosineSeries(x);
  switch (static_cast<long long>(quarters) & 3) {
    case 0:
      return {s, c};
    case 1:
      return {c, -s};
    case 2:
      return {-s, -c};
    default:
      return {-c, s};
  }
}

}  // namespace scantling::sample
