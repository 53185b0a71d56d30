// Placing matrices: what is a usable one, and a box folded into the world by it.

#ifndef SCANTLING_SERVER_SCENE_POSE_H_
#define SCANTLING_SERVER_SCENE_POSE_H_

#include <array>
#include <cstddef>
#include <span>

#include "server/scene/scene.h"

namespace scantling {

// Upper left 3x3 of a 4x4, column-major, and the translation in metres.
struct Affine {
  std::array<double, 9> linear = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  Vec3 translation = {0, 0, 0};
};

// From 16 numbers, column-major. The last row is not looked at.
Affine AffineOf(std::span<const double, 16> matrix);

// |det| / (product of column lengths): 1 for orthogonal axes, 0 where they lie in one plane or one has no length.
// In units of scale it is dimensionless, so that a model in millimetres is no more singular than one in kilometres.
double RelativeDeterminant(const std::array<double, 9>& linear);
double Determinant(const std::array<double, 9>& linear);

// Below this relative determinant a matrix is singular. A truly flat matrix in float comes out near 1e-7; axes a
// millionth of a radian apart serve no box.
inline constexpr double kSingularBelow = 1e-6;

// No entry of a 3x3 may be larger: products of three stay finite.
inline constexpr double kLargestEntry = 1e30;

// A box in its own axes, metres.
struct LocalBox {
  Vec3 min = {}, max = {};
};

// The box carried into the world: centre and half-axes along local X, Y, Z. Computed in double, half-axes rounded once.
struct FoldedBox {
  Vec3 centre = {};
  std::array<float, 9> axis = {};
};
FoldedBox Fold(const LocalBox& box, const Affine& to_world);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_POSE_H_
