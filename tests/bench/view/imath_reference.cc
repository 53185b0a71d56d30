// A fair scalar version: double precision, matrix and vectors of Imath, the eight corners projected, early ways out for
// boxes wholly outside and wholly inside. Area is half the sum of the six projected faces, each by its diagonals'
// cross product; a cut box is measured by the polygons of the faces turned to the eye and the near rectangle inside it.

#include "tests/bench/view/imath_reference.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace scantling::bench {
namespace {

using Imath::V2d;
using Imath::V3d;

struct Plane {
  V3d normal;
  double offset;
  double At(const V3d& p) const { return (normal ^ p) + offset; }
};

using Polygon = std::vector<V3d>;

// Corners of each face around it; corner bits: 1 +a, 2 +b, 4 +c.
constexpr int kFaces[6][4] = {{0, 2, 6, 4}, {1, 3, 7, 5}, {0, 1, 5, 4}, {2, 3, 7, 6}, {0, 1, 3, 2}, {4, 5, 7, 6}};

class Reference {
 public:
  explicit Reference(const CameraView& view) : view_(view) {
    const auto& r = view.world_to_camera;
    const Imath::M44d rotation(r[0], r[3], r[6], 0, r[1], r[4], r[7], 0, r[2], r[5], r[8], 0, 0, 0, 0, 1);
    Imath::M44d shift;
    shift.setTranslation(V3d(-view.position_m[0], -view.position_m[1], -view.position_m[2]));
    to_camera_ = shift * rotation;
    left_ = -view.centre_u / view.scale_u;
    right_ = (view.width_px - view.centre_u) / view.scale_u;
    low_ = (view.centre_v - view.height_px) / view.scale_v;
    high_ = view.centre_v / view.scale_v;
    planes_ = {Plane{V3d(1, 0, left_), 0},   Plane{V3d(-1, 0, -right_), 0},      Plane{V3d(0, 1, low_), 0},
               Plane{V3d(0, -1, -high_), 0}, Plane{V3d(0, 0, -1), -view.near_m}, Plane{V3d(0, 0, 1), view.far_m}};
  }

  ImathFigures Measure(const ImathBox& box) {
    Transform(box);
    ImathFigures out;
    const V2d centre = Project(centre_);
    out.u_px = centre.x, out.v_px = centre.y;
    int any = 0, all = 63;
    for (const V3d& corner : corner_) {
      int outside = 0;
      for (int k = 0; k < 6; ++k) outside |= (planes_[k].At(corner) < 0) << k;
      any |= outside, all &= outside;
    }
    if (all) return out;
    near_ = 1e300, far_ = 0, area_ = 0;
    any ? Cut(any) : Whole();
    if (near_ == 1e300) return out;
    out.in_frame = true;
    out.covered_px = area_, out.near_m = near_, out.far_m = far_;
    out.height_px = view_.scale_v / near_ * 2 * b_.length();
    return out;
  }

 private:
  void Transform(const ImathBox& box) {
    to_camera_.multVecMatrix(box.centre, centre_);
    to_camera_.multDirMatrix(box.a, a_);
    to_camera_.multDirMatrix(box.b, b_);
    to_camera_.multDirMatrix(box.c, c_);
    for (int k = 0; k < 8; ++k) {
      corner_[k] = centre_ + (k & 1 ? a_ : -a_) + (k & 2 ? b_ : -b_) + (k & 4 ? c_ : -c_);
    }
  }

  V2d Project(const V3d& p) const {
    return V2d(view_.centre_u + view_.scale_u * p.x / -p.z, view_.centre_v + view_.scale_v * p.y / p.z);
  }

  void Whole() {
    std::array<V2d, 8> at;
    for (int k = 0; k < 8; ++k) {
      at[k] = Project(corner_[k]);
      near_ = std::min(near_, -corner_[k].z), far_ = std::max(far_, -corner_[k].z);
    }
    for (const auto& f : kFaces) area_ += std::abs((at[f[2]] - at[f[0]]) % (at[f[3]] - at[f[1]])) / 4;
  }

  void ClipBy(const Plane& plane) {
    scratch_.clear();
    for (size_t i = 0; i < polygon_.size(); ++i) {
      const V3d &p = polygon_[i], &q = polygon_[(i + 1) % polygon_.size()];
      const double at_p = plane.At(p), at_q = plane.At(q);
      if (at_p >= 0) scratch_.push_back(p);
      if ((at_p >= 0) != (at_q >= 0)) scratch_.push_back(p + (q - p) * (at_p / (at_p - at_q)));
    }
    polygon_.swap(scratch_);
  }

  void Touch() {
    for (const V3d& p : polygon_) near_ = std::min(near_, -p.z), far_ = std::max(far_, -p.z);
  }

  double Area() const {
    double twice = 0;
    for (size_t i = 2; i < polygon_.size(); ++i) {
      const V2d o = Project(polygon_[0]);
      twice += (Project(polygon_[i - 1]) - o) % (Project(polygon_[i]) - o);
    }
    return std::abs(twice) / 2;
  }

  void Cut(int any) {
    const V3d normal[3] = {b_ % c_, c_ % a_, a_ % b_};
    const double volume = a_ ^ normal[0];
    for (int f = 0; f < 6; ++f) {
      polygon_.assign({corner_[kFaces[f][0]], corner_[kFaces[f][1]], corner_[kFaces[f][2]], corner_[kFaces[f][3]]});
      for (int k = 0; k < 6; ++k) {
        if (any >> k & 1) ClipBy(planes_[k]);
      }
      Touch();
      const double side = f & 1 ? 1 : -1;
      const double outwards = ((normal[f / 2] ^ centre_) * side + std::abs(volume) * (volume < 0 ? -1 : 1)) * volume;
      if (outwards < 0) area_ += Area();
    }
    if (any & 16) NearRectangle(normal, std::abs(volume));
  }

  void NearRectangle(const V3d* normal, double half) {
    const double n = view_.near_m;
    polygon_.assign({V3d(left_ * n, low_ * n, -n), V3d(right_ * n, low_ * n, -n), V3d(right_ * n, high_ * n, -n),
                     V3d(left_ * n, high_ * n, -n)});
    for (int r = 0; r < 3; ++r) {
      const double at = normal[r] ^ centre_;
      ClipBy({normal[r], half - at});
      ClipBy({-normal[r], half + at});
    }
    Touch();
    area_ += Area();
  }

  const CameraView& view_;
  Imath::M44d to_camera_;
  double left_, right_, low_, high_;
  std::array<Plane, 6> planes_;
  V3d centre_, a_, b_, c_;
  std::array<V3d, 8> corner_;
  Polygon polygon_, scratch_;
  double near_ = 0, far_ = 0, area_ = 0;
};

}  // namespace

void MeasureWithImath(const std::vector<ImathBox>& boxes, const CameraView& view, std::vector<ImathFigures>& out) {
  Reference reference(view);
  for (size_t i = 0; i < boxes.size(); ++i) out[i] = reference.Measure(boxes[i]);
}

}  // namespace scantling::bench
