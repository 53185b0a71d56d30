// A box under a matrix: with columns x, y, z and translation t, and the box's centre c and half sizes h in its own
// axes,
//
//   centre = x c.x + y c.y + z c.z + t        half-axes: x h.x, y h.y, z h.z
//
// so every corner is centre +- a +- b +- c, whatever shear or mirroring the matrix holds. All in double; the half-axes
// are rounded to float once at the end, the centre stays double (a scene may sit 10,000 km from the origin).

#include "server/scene/pose.h"

#include <cmath>

namespace scantling {

Affine AffineOf(std::span<const double, 16> matrix) {
  Affine affine;
  for (size_t column = 0; column < 3; ++column) {
    for (size_t row = 0; row < 3; ++row) affine.linear[3 * column + row] = matrix[4 * column + row];
    affine.translation[column] = matrix[12 + column];
  }
  return affine;
}

double Determinant(const std::array<double, 9>& m) {
  return m[0] * (m[4] * m[8] - m[5] * m[7]) - m[3] * (m[1] * m[8] - m[2] * m[7]) + m[6] * (m[1] * m[5] - m[2] * m[4]);
}

double RelativeDeterminant(const std::array<double, 9>& m) {
  // The square root is taken of each length, not of the product: sixth powers of a large scale would overflow.
  double lengths = 1;
  for (size_t c = 0; c < 9; c += 3) lengths *= std::sqrt(m[c] * m[c] + m[c + 1] * m[c + 1] + m[c + 2] * m[c + 2]);
  return lengths > 0 ? std::abs(Determinant(m)) / lengths : 0;
}

FoldedBox Fold(const LocalBox& box, const Affine& to_world) {
  FoldedBox folded;
  folded.centre = to_world.translation;
  for (size_t column = 0; column < 3; ++column) {
    const double centre = 0.5 * (box.min[column] + box.max[column]);
    const double half = 0.5 * (box.max[column] - box.min[column]);
    for (size_t row = 0; row < 3; ++row) {
      const double entry = to_world.linear[3 * column + row];
      folded.centre[row] += entry * centre;
      folded.axis[3 * column + row] = static_cast<float>(entry * half);
    }
  }
  return folded;
}

}  // namespace scantling
