// The terms of the floor one by one, for one object or a row of them.
//
// Private to legibility/. FloorOf reads one object, the fold hundreds at a time in loops the compiler turns into vector
// code; both use these functions, in the same order, so a floor is the same to the last bit whoever asks. (The project
// compiles with -ffp-contract=off: no instruction set fuses a product and a sum, so vector width changes no bit
// either.)

#ifndef SCANTLING_SERVER_LEGIBILITY_FLOOR_TERMS_H_
#define SCANTLING_SERVER_LEGIBILITY_FLOOR_TERMS_H_

#include <bit>
#include <cmath>
#include <cstdint>
#include <numbers>

#include "server/legibility/floor.h"

namespace scantling {

// Eccentricity at which acuity is half of what it is where one looks. Source: Song, Levi & Pelli 2014, eq. 13.
inline constexpr double kHalvingEccentricityDeg = 2.72;

// Binary logarithm of a number >= 0: within 4e-16 relative or absolute, whichever is the larger; exact for powers of
// two. 0 gives some number below -1022 and infinity 1024, which every caller clamps. No branch and no table, so that
// loops over it become vector code.
// Source: log m = 2 artanh((m - 1) / (m + 1)), its Taylor series; with m from sqrt(1/2) to sqrt(2) the argument squared
// stays below 0.0295, and the first term left out below 2e-18 of the first.
inline double Log2(double x) {
  constexpr uint64_t kSqrtHalf = 0x3fe6a09e667f3bcd, kOne = 0x3ff0000000000000, kMantissa = 0x000fffffffffffff;
  constexpr uint64_t kTwoTo52 = 0x4330000000000000;  // 2^52 as a double: its low bits count ones
  const uint64_t shifted = std::bit_cast<uint64_t>(x) + (kOne - kSqrtHalf);
  const double exponent = std::bit_cast<double>((shifted >> 52) | kTwoTo52) - (0x1p52 + 1023.0);
  const double m = std::bit_cast<double>((shifted & kMantissa) + kSqrtHalf);
  const double s = (m - 1.0) / (m + 1.0), q = s * s;
  const double tail =
      q *
      (1.0 / 3 +
       q * (1.0 / 5 +
            q * (1.0 / 7 +
                 q * (1.0 / 9 + q * (1.0 / 11 + q * (1.0 / 13 + q * (1.0 / 15 + q * (1.0 / 17 + q * (1.0 / 19)))))))));
  return exponent + (s + s * tail) * (2.0 * std::numbers::log2e);
}

inline double PieceOctaves(const CurvePiece& piece, double log2_depth) {
  const double past = log2_depth - piece.log2_depth;
  const double begun = past > 0 ? past : 0;
  return begun < piece.octaves ? begun : piece.octaves;
}

inline double CurvePx(const ReadyCurve& curve, double log2_depth) {
  double px = curve.start_px;
  for (const CurvePiece& piece : curve.pieces) px += piece.px_per_octave * PieceOctaves(piece, log2_depth);
  return px;
}

inline double DefocusPx(const FloorContext& context, double depth_m) {
  if (context.blur_scale == 0) return 0;
  if (context.focus_infinite) return context.blur_scale / depth_m;
  return std::abs(depth_m - context.focus_m) / depth_m * context.blur_scale;
}

// 1 + e / 2.72 deg.
double AttentionFactor(const FloorContext& context, double interest_px);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_FLOOR_TERMS_H_
