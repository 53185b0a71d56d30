// 4x4 matrices of doubles: column-major, for column vectors, as in glTF and in scene.proto.

#ifndef SCANTLING_CLIENT_IMPORT_MATRIX_H_
#define SCANTLING_CLIENT_IMPORT_MATRIX_H_

#include <array>

namespace scantling::import {

using Matrix = std::array<double, 16>;

inline constexpr Matrix kIdentity = {1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1};

struct Placing {
  double translation[3] = {0, 0, 0};
  double rotation[4] = {0, 0, 0, 1};  // quaternion x, y, z, w of length 1
  double scale[3] = {1, 1, 1};
};

// translation * rotation * scale. Source: glTF 2.0 Specification, section 3.5.3.
Matrix ToMatrix(const Placing& placing);

// a * b, both with a last row of 0 0 0 1.
Matrix Multiply(const Matrix& a, const Matrix& b);

bool IsFinite(const Matrix& m);

// Whether the upper left 3x3 flattens space: its determinant is under 1e-9 of the product of its columns' lengths, or
// a column is nothing.
bool IsFlat(const Matrix& m);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_MATRIX_H_
