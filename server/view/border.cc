// The border path: one box cut by the frustum in double precision.
//
// What is visible of a box is the convex body box n frustum. Nothing builds that body; all that is asked of it can be
// read from the polygons that bound it:
//
//   in frame     the body is not empty. Either a face of the box reaches into the frustum, or the frustum lies wholly
//                inside the box, and then the near rectangle does.
//   depth        least and greatest depth stand at corners of the body. A corner lies on a face of the box, or is a
//                corner of the frustum inside the box: so the six cut faces, and the near and far rectangles cut by the
//                box, hold them all.
//   area         a ray enters the body through a face of the box turned to the eye, or through the near plane where it
//                starts inside the box. At most three faces are turned to the eye; their cut areas and the area of
//                the near rectangle inside the box do not overlap and leave nothing out.
//
// A box that is flat in one axis has two faces at the same place; exactly one of them is taken as turned to the eye,
// and it holds no inside for the near rectangle to lie in.
//
// Cost: a plane that cuts no corner off is skipped, so most boxes here are cut by one or two planes.

#include "server/view/border.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "server/view/clip.h"

namespace scantling {
namespace {

enum PlaneBit : uint32_t { kNear = 1, kFar = 2, kRendered = 4, kDelivered = 64 };  // four bits for each window
constexpr uint32_t kFramePlanes = kDelivered - 1;                                  // near, far, rendered window

// Planes of the frustum that cut the box (at least one corner outside), and those it lies outside of as a whole.
struct Outcode {
  uint32_t any = 0, all = 0;

  // `inside` is the distance of the centre to the plane, inwards; `reach` how far the box extends along its normal.
  void Add(uint32_t plane, double inside, double reach) {
    if (inside - reach < 0) any |= plane;
    if (inside + reach < 0) all |= plane;
  }
};

double ReachAlong(const Vec3& n, const CameraBox& box) {
  double reach = 0;
  for (const Vec3& axis : box.axis) reach += std::abs(n[0] * axis[0] + n[1] * axis[1] + n[2] * axis[2]);
  return reach;
}

double Distance(const HalfSpace& h, const Vec3& p) {
  return h.normal[0] * p[0] + h.normal[1] * p[1] + h.normal[2] * p[2] + h.offset;
}

void AddWindow(const Window& window, uint32_t first_plane, const CameraBox& box, Outcode& code) {
  for (int side = 0; side < 4; ++side) {
    const HalfSpace& plane = window.sides[side];
    code.Add(first_plane << side, Distance(plane, box.centre), ReachAlong(plane.normal, box));
  }
}

Outcode OutcodeOf(const Frustum& frustum, const CameraBox& box) {
  Outcode code;
  const double reach = ReachAlong({0, 0, 1}, box);
  code.Add(kNear, box.centre[2] - frustum.near_m, reach);
  code.Add(kFar, frustum.far_m - box.centre[2], reach);
  AddWindow(frustum.rendered, kRendered, box, code);
  if (frustum.has_overscan) AddWindow(frustum.delivered, kDelivered, box, code);
  return code;
}

// Which of the planes that cut the box have this corner outside.
uint32_t OutsideOf(const Frustum& frustum, uint32_t planes, const Vec3& corner) {
  uint32_t outside = 0;
  if (corner[2] < frustum.near_m) outside |= planes & kNear;
  if (corner[2] > frustum.far_m) outside |= planes & kFar;
  for (int side = 0; side < 4; ++side) {
    const uint32_t rendered = planes & (kRendered << side), delivered = planes & (kDelivered << side);
    if (rendered && Distance(frustum.rendered.sides[side], corner) < 0) outside |= rendered;
    if (delivered && Distance(frustum.delivered.sides[side], corner) < 0) outside |= delivered;
  }
  return outside;
}

Vec3 Cross(const Vec3& p, const Vec3& q) {
  return {p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]};
}
double Dot(const Vec3& p, const Vec3& q) { return p[0] * q[0] + p[1] * q[1] + p[2] * q[2]; }

// The slab between faces +axis r and -axis r: |normal[r] . (point - centre)| <= volume.
struct Slabs {
  std::array<Vec3, 3> normal;
  std::array<double, 3> centre;  // normal[r] . (box centre)
  double volume = 0;             // determinant of the half-axes; sign carries no meaning by itself
};

Slabs SlabsOf(const CameraBox& box) {
  Slabs slabs;
  for (int r = 0; r < 3; ++r) {
    slabs.normal[r] = Cross(box.axis[(r + 1) % 3], box.axis[(r + 2) % 3]);
    slabs.centre[r] = Dot(slabs.normal[r], box.centre);
  }
  slabs.volume = Dot(box.axis[0], slabs.normal[0]);
  return slabs;
}

// Which face of axis r is turned to the eye: +1, -1, or 0 for neither (the eye is between the two, or sees both
// edge-on).
int FaceToEye(Projection projection, const Slabs& slabs, int r) {
  const bool perspective = projection == Projection::kPerspective;
  const double along = perspective ? slabs.centre[r] : slabs.normal[r][2];
  const double half_width = perspective ? std::abs(slabs.volume) : 0;
  if (!(std::abs(along) > half_width)) return 0;
  return (along > 0) == (slabs.volume >= 0) ? -1 : 1;
}

struct Corner {
  Vec3 at = {};
  uint32_t outside = 0;
};

// Numbers of the corners around the face on side `sign` of axis r; corner k has bit j set where it lies at +axis j.
std::array<int, 4> FaceCorners(int r, int sign) {
  const int p = 1 << (r + 1) % 3, q = 1 << (r + 2) % 3, face = sign > 0 ? 1 << r : 0;
  return {face, face | p, face | p | q, face | q};
}

ConvexPolygon RectangleAt(Projection projection, const Window& window, double depth_m) {
  const double spread = projection == Projection::kPerspective ? depth_m : 1;
  ConvexPolygon rectangle;
  for (const auto& [x, y] : {std::array{window.left, window.bottom}, std::array{window.right, window.bottom},
                             std::array{window.right, window.top}, std::array{window.left, window.top}}) {
    rectangle.Add({x * spread, y * spread, depth_m});
  }
  return rectangle;
}

void CutByBox(const Slabs& slabs, ConvexPolygon& polygon) {
  const double half_width = std::abs(slabs.volume);
  for (int r = 0; r < 3; ++r) {
    const Vec3& n = slabs.normal[r];
    Cut({n, half_width - slabs.centre[r]}, polygon);
    Cut({{-n[0], -n[1], -n[2]}, half_width + slabs.centre[r]}, polygon);
  }
}

void CutByDepth(const Frustum& frustum, uint32_t planes, ConvexPolygon& polygon) {
  if (planes & kNear) Cut({{0, 0, 1}, -frustum.near_m}, polygon);
  if (planes & kFar) Cut({{0, 0, -1}, frustum.far_m}, polygon);
  // A crossing is computed from both ends and may miss the plane by an ulp; dividing by a depth below near must not be.
  for (int i = 0; i < polygon.size; ++i) {
    polygon.corner[i][2] = std::clamp(polygon.corner[i][2], frustum.near_m, frustum.far_m);
  }
}

void CutBySides(const Window& window, uint32_t sides, ConvexPolygon& polygon) {
  for (int side = 0; side < 4; ++side) {
    if (sides >> side & 1) Cut(window.sides[side], polygon);
  }
}

// What the cut polygons have shown so far. Areas in units of the picture plane, not yet px^2.
struct Visible {
  double rendered = 0, delivered = 0;
  double near_m = std::numeric_limits<double>::infinity();
  double far_m = -std::numeric_limits<double>::infinity();
  bool any = false;

  void Touch(const ConvexPolygon& polygon) {
    any = any || polygon.size > 0;
    for (int i = 0; i < polygon.size; ++i) {
      near_m = std::min(near_m, polygon.corner[i][2]);
      far_m = std::max(far_m, polygon.corner[i][2]);
    }
  }
};

class BorderMeasure {
 public:
  BorderMeasure(const Frustum& frustum, const CameraBox& box, uint32_t planes)
      : frustum_(frustum), planes_(planes), slabs_(SlabsOf(box)) {
    for (int k = 0; k < 8; ++k) {
      corner_[k].at = CornerOf(box, k);
      corner_[k].outside = OutsideOf(frustum, planes, corner_[k].at);
    }
  }

  Visible Run() {
    for (int r = 0; r < 3; ++r) {
      const int to_eye = FaceToEye(frustum_.projection, slabs_, r);
      for (int sign : {-1, 1}) AddFace(FaceCorners(r, sign), sign == to_eye);
    }
    if (slabs_.volume != 0) {
      if (planes_ & kNear) AddNearRectangle();
      if (planes_ & kFar) AddFarRectangle();
    }
    return visible_;
  }

 private:
  // A plane that has no corner of the face outside is skipped; one that has all of them leaves nothing of it.
  void AddFace(const std::array<int, 4>& corners, bool to_eye) {
    ConvexPolygon face;
    uint32_t any = 0, all = ~0u;
    for (int k : corners) {
      face.Add(corner_[k].at);
      any |= corner_[k].outside;
      all &= corner_[k].outside;
    }
    if (all & kFramePlanes) return;
    if (any & (kNear | kFar)) CutByDepth(frustum_, any, face);
    CutBySides(frustum_.rendered, any / kRendered, face);
    visible_.Touch(face);
    if (!to_eye || face.size < 3) return;
    const double area = PictureArea(frustum_.projection, face);
    visible_.rendered += area;
    if (any / kDelivered == 0) {
      visible_.delivered += area;
      return;
    }
    CutBySides(frustum_.delivered, any / kDelivered, face);
    visible_.delivered += PictureArea(frustum_.projection, face);
  }

  void AddNearRectangle() {
    ConvexPolygon inside = RectangleAt(frustum_.projection, frustum_.rendered, frustum_.near_m);
    CutByBox(slabs_, inside);
    visible_.Touch(inside);
    visible_.rendered += PictureArea(frustum_.projection, inside);
    if (frustum_.has_overscan) {
      inside = RectangleAt(frustum_.projection, frustum_.delivered, frustum_.near_m);
      CutByBox(slabs_, inside);
    }
    visible_.delivered += PictureArea(frustum_.projection, inside);
  }

  // Seen only through the box, so it covers nothing of its own; but it may be the farthest part in frame.
  void AddFarRectangle() {
    ConvexPolygon inside = RectangleAt(frustum_.projection, frustum_.rendered, frustum_.far_m);
    CutByBox(slabs_, inside);
    visible_.Touch(inside);
  }

  const Frustum& frustum_;
  const uint32_t planes_;
  const Slabs slabs_;
  std::array<Corner, 8> corner_;
  Visible visible_;
};

uint8_t FlagsOf(const Frustum& frustum, const CameraBox& box, uint32_t planes, double covered) {
  uint8_t flags = kInFrame;
  if ((planes & kFramePlanes) || (planes && covered > 0)) flags |= kClipped;
  if (box.centre[2] - ReachAlong({0, 0, 1}, box) <= frustum.near_m) flags |= kCornerBehind;
  return flags;
}

}  // namespace

ObjectView MeasureBox(const Frustum& frustum, const CameraBox& box, const CameraView& view) {
  ObjectView out;
  const Outcode code = OutcodeOf(frustum, box);
  if (code.all & kFramePlanes) return out;
  const Visible visible = BorderMeasure(frustum, box, code.any).Run();
  if (!visible.any) return out;
  const double px2 = view.scale_u * view.scale_v;
  const Vec3& up = box.axis[1];
  const double divisor = view.projection == Projection::kPerspective ? visible.near_m : 1;
  out.rendered_px = visible.rendered * px2;
  out.covered_px = visible.delivered * px2;
  out.near_m = visible.near_m;
  out.far_m = visible.far_m;
  out.height_px = view.scale_v / divisor * 2 * std::sqrt(Dot(up, up));
  out.flags = FlagsOf(frustum, box, code.any, visible.delivered);
  return out;
}

}  // namespace scantling
