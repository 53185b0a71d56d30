// The vector kernel: three passes over the lanes of one chunk, compiled once for every instruction set.
//
//   Centres    double   camera position subtracted, rotated, projected; kept as float (x, y, depth)
//   Classify   float    clear outside one plane, clear inside all of them, or neither (border)
//   Clear      double   area, height and depths of the lanes clear inside, where a vector holds any
//
// Area. A face with half-edges p, q and centre F projects to a quadrilateral of area (in x / depth, y / depth)
//
//   4 |F . (p x q)| F_depth / (d1 d2 d3 d4),    d1..d4 the depths of its corners
//
// since a triangle P0 P1 P2 projects to |det(P0, P1, P2)| / (2 d0 d1 d2), both triangles of the face have the same
// determinant 4 F . (p x q), and d1 + d3 = d2 + d4 = 2 F_depth. Opposite faces of axis r lie at F = C +- r, so
// F . n = C . n +- V with n = p x q and V = r . n: exactly one of them is turned to the eye where |C . n| > |V|, and
// the sum over those faces, with weight |C . n| - |V|, is the whole outline. Corners are never formed, so no two large
// picture coordinates are subtracted from each other. Orthographic: 4 |n_depth| for each axis.
//
// Error of the planes. u = 2^-24, D = |centre|, S = the sum of the lengths of the half-axes. Side through the eye: the
// signed distance of the centre costs at most 5 u D (coordinates 1, normal 1, product 1, sums 2). A rotated axis costs
// 4 u of its length in each coordinate (matrix 1, product 1, sums 2), which the unit normal carries over as 4 sqrt 2 u;
// its distance adds 3 u and the sum over three axes 2 u: 10.7 u S. The last sum costs u (D + S). In all less than
// 6 u D + 12 u S, and the margin is 16 u (D + S) = 2^-20 (D + S), with D and S taken as sums of absolute coordinates,
// which are no smaller. Plane with an offset (near, far, orthographic side): its normal is an axis of the camera and
// costs nothing, so the box costs 2 u D + 7 u S; the offset is rounded by u of itself and enters two sums, 3 u of it.
// Up to an offset of 2 (D + S) that is 6 u (D + S) more, inside the margin; beyond it no rounding turns the decision.
// A lane decided here is therefore decided as in double, and every other goes to the border path. Comparisons are
// written so that a NaN or an overflow decides nothing.
//
// Error of the area. Float would cost up to 18 u + 7.4 u (sum |n_r||C|) / (sum (|C . n_r| - |V|)): 2e-6 is passed
// already by a box 1 x 1 x 3 seen end on, and by any plate at a grazing angle. Hence double: what is left is the
// rounding of the result to float, 6e-8 relative, wherever the faces turned to the eye do not all lie within 1e-8 rad
// of edge-on.

#include "server/view/kernel.h"

#include <cmath>
#include <cstring>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "server/view/kernel.cc"
// Vectors stand in structs below, which the instruction sets of unknown vector length do not allow.
#define HWY_DISABLED_TARGETS (HWY_SVE | HWY_SVE2 | HWY_SVE_256 | HWY_SVE2_128 | HWY_RVV)
#include <hwy/foreach_target.h>
// After foreach_target.h, always.
#include <hwy/highway.h>

#ifndef SCANTLING_SERVER_VIEW_KERNEL_ONCE
#define SCANTLING_SERVER_VIEW_KERNEL_ONCE
namespace scantling {

// What passes from one pass to the next, one value a lane.
struct KernelScratch {
  alignas(64) std::array<float, kChunkLanes> x, y, depth;  // centre in camera space
  alignas(64) std::array<float, kChunkLanes> inside;       // 1: clear inside; 0: not
  alignas(64) std::array<uint8_t, kChunkLanes> border;     // 1: neither clear inside nor clear outside
};

struct KernelTask {
  const BoxColumns& boxes;
  const Frustum& frustum;
  const CameraView& view;
  KernelScratch& scratch;
  ViewBlock& out;
};

}  // namespace scantling
#endif  // SCANTLING_SERVER_VIEW_KERNEL_ONCE

HWY_BEFORE_NAMESPACE();
namespace scantling {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using Doubles = hn::ScalableTag<double>;
using Floats = hn::ScalableTag<float>;
using HalfFloats = hn::Rebind<float, Doubles>;  // as many lanes as Doubles
using VecD = hn::Vec<Doubles>;
using VecF = hn::Vec<Floats>;

template <class V>
struct Vector3 {
  V x, y, z;
};

template <class V>
HWY_INLINE V Dot(const Vector3<V>& p, const Vector3<V>& q) {
  return hn::MulAdd(p.x, q.x, hn::MulAdd(p.y, q.y, hn::Mul(p.z, q.z)));
}

template <class V>
HWY_INLINE Vector3<V> Cross(const Vector3<V>& p, const Vector3<V>& q) {
  return {hn::MulSub(p.y, q.z, hn::Mul(p.z, q.y)), hn::MulSub(p.z, q.x, hn::Mul(p.x, q.z)),
          hn::MulSub(p.x, q.y, hn::Mul(p.y, q.x))};
}

// Row 0, 1 or 2 of world to camera, the last one turned to depth = -z.
template <class D>
HWY_INLINE Vector3<hn::Vec<D>> Row(D d, const CameraView& view, int row) {
  const double sign = row == 2 ? -1 : 1;
  const auto at = [&](int k) HWY_ATTR {
    return hn::Set(d, static_cast<hn::TFromD<D>>(sign * view.world_to_camera[3 * row + k]));
  };
  return {at(0), at(1), at(2)};
}

HWY_INLINE Vector3<VecD> CentreFromEye(const KernelTask& task, size_t lane) {
  const Doubles d;
  const auto at = [&](int k) HWY_ATTR {
    return hn::Sub(hn::LoadU(d, task.boxes.centre_m[k] + lane), hn::Set(d, task.view.position_m[k]));
  };
  return {at(0), at(1), at(2)};
}

HWY_INLINE void StoreHalf(const VecD& v, float* to) {
  const HalfFloats half;
  hn::Store(hn::DemoteTo(half, v), half, to);
}

// ---- Centres

template <bool kPerspective>
void Centres(const KernelTask& task, size_t lanes) {
  const Doubles d;
  const Vector3<VecD> row_x = Row(d, task.view, 0), row_y = Row(d, task.view, 1), row_depth = Row(d, task.view, 2);
  const VecD scale_u = hn::Set(d, task.view.scale_u), scale_v = hn::Set(d, task.view.scale_v);
  const VecD centre_u = hn::Set(d, task.view.centre_u), centre_v = hn::Set(d, task.view.centre_v);
  const VecD nan = hn::Set(d, std::numeric_limits<double>::quiet_NaN());
  for (size_t i = 0; i < lanes; i += hn::Lanes(d)) {
    const Vector3<VecD> centre = CentreFromEye(task, i);
    const VecD x = Dot(row_x, centre), y = Dot(row_y, centre), depth = Dot(row_depth, centre);
    StoreHalf(x, &task.scratch.x[i]);
    StoreHalf(y, &task.scratch.y[i]);
    StoreHalf(depth, &task.scratch.depth[i]);
    VecD over = hn::Set(d, 1.0);
    if constexpr (kPerspective) {
      over = hn::IfThenElse(hn::Gt(depth, hn::Zero(d)), hn::Div(over, depth), nan);
    }
    StoreHalf(hn::MulAdd(scale_u, hn::Mul(x, over), centre_u), &task.out.u_px[i]);
    StoreHalf(hn::NegMulAdd(scale_v, hn::Mul(y, over), centre_v), &task.out.v_px[i]);
  }
}

// ---- Classify

// One coordinate of a box: of its centre, and of its three half-axes.
struct Coordinate {
  VecF centre, a, b, c;
};

HWY_INLINE VecF AbsSum(const Coordinate& k) { return hn::Add(hn::Abs(k.a), hn::Add(hn::Abs(k.b), hn::Abs(k.c))); }

// Distances of the nearest and the farthest corner to a plane, inwards.
struct Reach {
  VecF least, most;
};

// `lateral` is the coordinate in which the plane's normal lies, beside depth.
HWY_INLINE Reach ReachOf(const HalfSpace& side, const Coordinate& lateral, const Coordinate& depth) {
  const Floats d;
  const VecF across = hn::Set(d, static_cast<float>(side.normal[0] + side.normal[1]));  // one of the two is 0
  const VecF along = hn::Set(d, static_cast<float>(side.normal[2]));
  const VecF offset = hn::Set(d, static_cast<float>(side.offset));
  const VecF centre = hn::MulAdd(across, lateral.centre, hn::MulAdd(along, depth.centre, offset));
  const VecF a = hn::Abs(hn::MulAdd(across, lateral.a, hn::Mul(along, depth.a)));
  const VecF b = hn::Abs(hn::MulAdd(across, lateral.b, hn::Mul(along, depth.b)));
  const VecF c = hn::Abs(hn::MulAdd(across, lateral.c, hn::Mul(along, depth.c)));
  const VecF radius = hn::Add(a, hn::Add(b, c));
  return {hn::Sub(centre, radius), hn::Add(centre, radius)};
}

// Least and greatest over the four sides: `least` > margin is clear inside all, `most` < -margin clear outside one.
HWY_INLINE Reach TightestSide(const Window& window, const Coordinate& x, const Coordinate& y, const Coordinate& depth) {
  Reach tightest = ReachOf(window.sides[0], x, depth);
  for (int side = 1; side < 4; ++side) {
    const Reach reach = ReachOf(window.sides[side], side < 2 ? x : y, depth);
    tightest.least = hn::Min(tightest.least, reach.least);
    tightest.most = hn::Min(tightest.most, reach.most);
  }
  return tightest;
}

HWY_INLINE Coordinate RotatedTo(const Vector3<VecF>& row, const KernelTask& task, size_t lane, const float* centre) {
  const Floats d;
  const auto axis = [&](size_t k) HWY_ATTR {
    const auto at = [&](size_t j) HWY_ATTR { return hn::LoadU(d, task.boxes.axis_m[3 * k + j] + lane); };
    return Dot(row, Vector3<VecF>{at(0), at(1), at(2)});
  };
  return {hn::Load(d, centre + lane), axis(0), axis(1), axis(2)};
}

// Margin: see the error of the planes above.
HWY_INLINE VecF MarginOf(const Coordinate& x, const Coordinate& y, const Coordinate& depth) {
  const Floats d;
  const VecF centre = hn::Add(hn::Abs(x.centre), hn::Add(hn::Abs(y.centre), hn::Abs(depth.centre)));
  const VecF size = hn::Add(AbsSum(x), hn::Add(AbsSum(y), AbsSum(depth)));
  return hn::Mul(hn::Set(d, 0x1p-20f), hn::Add(centre, size));
}

void Classify(const KernelTask& task, size_t lanes) {
  const Floats d;
  const hn::Rebind<int32_t, Floats> d_int;
  const hn::Rebind<uint8_t, Floats> d_byte;
  const Vector3<VecF> row_x = Row(d, task.view, 0), row_y = Row(d, task.view, 1), row_depth = Row(d, task.view, 2);
  const VecF near = hn::Set(d, static_cast<float>(task.frustum.near_m));
  const VecF far = hn::Set(d, static_cast<float>(task.frustum.far_m));
  const VecF one = hn::Set(d, 1.0f);
  for (size_t i = 0; i < lanes; i += hn::Lanes(d)) {
    const Coordinate x = RotatedTo(row_x, task, i, task.scratch.x.data());
    const Coordinate y = RotatedTo(row_y, task, i, task.scratch.y.data());
    const Coordinate depth = RotatedTo(row_depth, task, i, task.scratch.depth.data());
    const VecF margin = MarginOf(x, y, depth);
    const VecF reach = AbsSum(depth);
    const VecF least = hn::Sub(depth.centre, reach), most = hn::Add(depth.centre, reach);
    const Reach delivered = TightestSide(task.frustum.delivered, x, y, depth);
    const VecF rendered_most =
        task.frustum.has_overscan ? TightestSide(task.frustum.rendered, x, y, depth).most : delivered.most;
    const auto inside = hn::And(hn::Gt(delivered.least, margin),
                                hn::And(hn::Gt(hn::Sub(least, near), margin), hn::Gt(hn::Sub(far, most), margin)));
    const auto outside = hn::Or(hn::Lt(rendered_most, hn::Neg(margin)),
                                hn::Or(hn::Gt(hn::Sub(near, most), margin), hn::Gt(hn::Sub(least, far), margin)));
    const VecF is_inside = hn::IfThenElseZero(inside, one);
    const VecF is_border = hn::IfThenZeroElse(hn::Or(inside, outside), one);
    hn::Store(is_inside, d, &task.scratch.inside[i]);
    hn::StoreU(hn::DemoteTo(d_byte, hn::ConvertTo(d_int, is_border)), d_byte, &task.scratch.border[i]);
    hn::StoreU(hn::DemoteTo(d_byte, hn::ConvertTo(d_int, is_inside)), d_byte, &task.out.flags[i]);
  }
}

// ---- Clear

struct Axes {
  Vector3<VecD> a, b, c;
};

HWY_INLINE Vector3<VecD> AxisAt(const KernelTask& task, size_t axis, size_t lane) {
  const HalfFloats half;
  const Doubles d;
  const auto at = [&](size_t j)
                      HWY_ATTR { return hn::PromoteTo(d, hn::LoadU(half, task.boxes.axis_m[3 * axis + j] + lane)); };
  return {at(0), at(1), at(2)};
}

// The face of one axis that is turned to the eye, as numerator / denominator of its area over 4.
struct FaceArea {
  VecD over, under;
};

// `along` = C . n of this axis; `reach` its depth, `p` and `q` the depths of the two other half-axes.
struct FaceDepths {
  VecD along, reach, p, q;
};

HWY_INLINE FaceArea PerspectiveFace(const VecD& volume, const VecD& depth, const FaceDepths& face) {
  const Doubles d;
  // C . n and V of one sign: +axis points away, so the face at -axis is the near one.
  const VecD sign = hn::And(hn::Xor(face.along, volume), hn::Set(d, -0.0));
  const VecD centre = hn::Sub(depth, hn::Xor(face.reach, sign));
  const VecD sum = hn::Add(face.p, face.q), difference = hn::Sub(face.p, face.q);
  const VecD turned = hn::Max(hn::Sub(hn::Abs(face.along), hn::Abs(volume)), hn::Zero(d));
  const VecD under = hn::Mul(hn::Mul(hn::Sub(centre, sum), hn::Add(centre, sum)),
                             hn::Mul(hn::Sub(centre, difference), hn::Add(centre, difference)));
  return {hn::Mul(turned, centre), under};
}

// Area over 4 in units of the picture plane. One division for three faces; depths to the 12th power stay in range
// from 1e-25 m to 1e25 m.
HWY_INLINE VecD PerspectiveArea(const Vector3<VecD>& centre, const Axes& axes, const Vector3<VecD>& row_depth) {
  const Vector3<VecD> n_a = Cross(axes.b, axes.c), n_b = Cross(axes.c, axes.a), n_c = Cross(axes.a, axes.b);
  const VecD volume = Dot(axes.a, n_a), depth = Dot(row_depth, centre);
  const VecD a = Dot(row_depth, axes.a), b = Dot(row_depth, axes.b), c = Dot(row_depth, axes.c);
  const FaceArea f = PerspectiveFace(volume, depth, {Dot(n_a, centre), a, b, c});
  const FaceArea g = PerspectiveFace(volume, depth, {Dot(n_b, centre), b, c, a});
  const FaceArea h = PerspectiveFace(volume, depth, {Dot(n_c, centre), c, a, b});
  const VecD gh = hn::Mul(g.under, h.under);
  const VecD over = hn::MulAdd(f.over, gh, hn::Mul(f.under, hn::MulAdd(g.over, h.under, hn::Mul(h.over, g.under))));
  return hn::Div(over, hn::Mul(f.under, gh));
}

HWY_INLINE VecD OrthographicArea(const Axes& axes, const Vector3<VecD>& row_depth) {
  const VecD a = Dot(Cross(axes.b, axes.c), row_depth), b = Dot(Cross(axes.c, axes.a), row_depth);
  const VecD c = Dot(Cross(axes.a, axes.b), row_depth);
  return hn::Add(hn::Abs(a), hn::Add(hn::Abs(b), hn::Abs(c)));
}

template <bool kPerspective>
void Clear(const KernelTask& task, size_t lanes) {
  const Doubles d;
  const HalfFloats half;
  const Vector3<VecD> row_depth = Row(d, task.view, 2);
  const VecD px2 = hn::Set(d, 4 * task.view.scale_u * task.view.scale_v);
  const VecD twice_scale_v = hn::Set(d, 2 * task.view.scale_v);
  for (size_t i = 0; i < lanes; i += hn::Lanes(d)) {
    const VecD one_inside = hn::PromoteTo(d, hn::Load(half, &task.scratch.inside[i]));
    const auto inside = hn::Gt(one_inside, hn::Zero(d));
    VecD area = hn::Zero(d), height = area, least = area, most = area;
    if (!hn::AllFalse(d, inside)) {
      const Vector3<VecD> centre = CentreFromEye(task, i);
      const Axes axes = {AxisAt(task, 0, i), AxisAt(task, 1, i), AxisAt(task, 2, i)};
      const VecD depth = Dot(row_depth, centre);
      const VecD reach = hn::Add(hn::Abs(Dot(row_depth, axes.a)),
                                 hn::Add(hn::Abs(Dot(row_depth, axes.b)), hn::Abs(Dot(row_depth, axes.c))));
      least = hn::Sub(depth, reach);
      most = hn::Add(depth, reach);
      height = hn::Mul(twice_scale_v, hn::Sqrt(Dot(axes.b, axes.b)));
      if constexpr (kPerspective) {
        area = hn::Mul(px2, PerspectiveArea(centre, axes, row_depth));
        height = hn::Div(height, least);
      } else {
        area = hn::Mul(px2, OrthographicArea(axes, row_depth));
      }
    }
    StoreHalf(hn::IfThenElseZero(inside, area), &task.out.covered_px[i]);
    StoreHalf(hn::IfThenElseZero(inside, area), &task.out.rendered_px[i]);
    StoreHalf(hn::IfThenElseZero(inside, height), &task.out.height_px[i]);
    StoreHalf(hn::IfThenElseZero(inside, least), &task.out.near_m[i]);
    StoreHalf(hn::IfThenElseZero(inside, most), &task.out.far_m[i]);
  }
}

void RunPasses(const KernelTask& task) {
  const size_t step = hn::Lanes(Floats());
  const size_t lanes = (static_cast<size_t>(task.boxes.count) + step - 1) / step * step;
  if (task.view.projection == Projection::kPerspective) {
    Centres<true>(task, lanes);
    Classify(task, lanes);
    Clear<true>(task, lanes);
  } else {
    Centres<false>(task, lanes);
    Classify(task, lanes);
    Clear<false>(task, lanes);
  }
}

const char* TargetName() { return hwy::TargetName(HWY_TARGET); }

}  // namespace HWY_NAMESPACE
}  // namespace scantling
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace scantling {

HWY_EXPORT(RunPasses);
HWY_EXPORT(TargetName);

namespace {

// Most chunks have few border lanes or none: eight lanes are looked at in one go.
void ListBorder(const KernelScratch& scratch, int32_t count, BorderLanes& border) {
  border.count = 0;
  for (int32_t i = 0; i < count; i += 8) {
    uint64_t eight = 0;
    std::memcpy(&eight, &scratch.border[i], sizeof eight);
    if (eight == 0) continue;
    for (int32_t lane = i; lane < count && lane < i + 8; ++lane) {
      if (scratch.border[lane]) border.lane[border.count++] = static_cast<uint8_t>(lane);
    }
  }
}

}  // namespace

BoxColumns BoxesOf(const PoseChunk& chunk, int32_t frame_index) {
  const size_t first = chunk.at(frame_index, 0);
  BoxColumns boxes;
  boxes.centre_m = {&chunk.centre_x[first], &chunk.centre_y[first], &chunk.centre_z[first]};
  for (size_t k = 0; k < boxes.axis_m.size(); ++k) boxes.axis_m[k] = &chunk.axis[k][first];
  boxes.count = chunk.count;
  return boxes;
}

void MeasureClearLanes(const BoxColumns& boxes, const Frustum& frustum, const CameraView& view, BorderLanes& border,
                       ViewBlock& out) {
  KernelScratch scratch;
  HWY_DYNAMIC_DISPATCH(RunPasses)({boxes, frustum, view, scratch, out});
  ListBorder(scratch, boxes.count, border);
}

const char* ViewInstructionSet() { return HWY_DYNAMIC_DISPATCH(TargetName)(); }

}  // namespace scantling
#endif  // HWY_ONCE
