// Affine matrices, the few operations an import needs.
//
// Element (row r, column c) of a Matrix is m[4 * c + r]; translation is m[12..14]. A rotation's matrix comes from its
// unit quaternion (x, y, z, w) by the usual expansion of q v q*: a column is the image of an axis. The flatness test
// compares |det| with the product of the columns' lengths, its largest possible value (Hadamard's inequality), so that
// uniform scale, however small, is never called flat.

#include "client/import/matrix.h"

#include <algorithm>
#include <cmath>

namespace scantling::import {
namespace {

constexpr double kFlat = 1e-9;

}  // namespace

Matrix ToMatrix(const Placing& placing) {
  const auto [x, y, z, w] = placing.rotation;
  const double columns[3][3] = {{1 - 2 * (y * y + z * z), 2 * (x * y + z * w), 2 * (x * z - y * w)},
                                {2 * (x * y - z * w), 1 - 2 * (x * x + z * z), 2 * (y * z + x * w)},
                                {2 * (x * z + y * w), 2 * (y * z - x * w), 1 - 2 * (x * x + y * y)}};
  Matrix m = kIdentity;
  for (int c = 0; c < 3; ++c) {
    for (int r = 0; r < 3; ++r) m[4 * c + r] = columns[c][r] * placing.scale[c];
    m[12 + c] = placing.translation[c];
  }
  return m;
}

Matrix Multiply(const Matrix& a, const Matrix& b) {
  Matrix product;
  for (int c = 0; c < 4; ++c) {
    for (int r = 0; r < 3; ++r) {
      product[4 * c + r] =
          a[r] * b[4 * c] + a[4 + r] * b[4 * c + 1] + a[8 + r] * b[4 * c + 2] + (c == 3 ? a[12 + r] : 0);
    }
    product[4 * c + 3] = c == 3;
  }
  return product;
}

bool IsFinite(const Matrix& m) {
  return std::all_of(m.begin(), m.end(), [](double number) { return std::isfinite(number); });
}

bool IsFlat(const Matrix& m) {
  double unit[3][3];
  for (int c = 0; c < 3; ++c) {
    const double length = std::hypot(m[4 * c], m[4 * c + 1], m[4 * c + 2]);
    if (length == 0) return true;
    for (int r = 0; r < 3; ++r) unit[c][r] = m[4 * c + r] / length;
  }
  const auto minor = [&unit](int r, int s) { return unit[1][r] * unit[2][s] - unit[1][s] * unit[2][r]; };
  const double volume = unit[0][0] * minor(1, 2) - unit[0][1] * minor(0, 2) + unit[0][2] * minor(0, 1);
  return std::abs(volume) < kFlat;
}

}  // namespace scantling::import
