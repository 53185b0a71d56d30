// Single points of a box in the picture, and how far the view of a box has turned.
//
// Turning is judged as a painter would use an old painting again: it may be moved and enlarged, not rotated and not
// redrawn. The best such reuse of reference corners r to stand for corners n is the least-squares fit
//
//   n_i ~ mean(n) + s (r_i - mean(r)),   s = max(0, sum (r_i - mean r) . (n_i - mean n) / sum |r_i - mean r|^2)
//
// and what is left at the worst corner, in px, is how wrong the painting is. s is held at 0 or above: no painting is
// used upside down, and the sum of squares is a parabola in s, so its least value on s >= 0 is at 0 where the fit is
// negative.

#include <algorithm>
#include <cmath>
#include <limits>

#include "server/view/frustum.h"
#include "server/view/view.h"

namespace scantling {
namespace {

std::array<double, 2> MeanOf(const Corners& corners) {
  std::array<double, 2> mean = {0, 0};
  for (const auto& corner : corners) {
    mean[0] += corner[0] / static_cast<double>(corners.size());
    mean[1] += corner[1] / static_cast<double>(corners.size());
  }
  return mean;
}

// Corners about their mean.
Corners Centred(const Corners& corners) {
  const std::array<double, 2> mean = MeanOf(corners);
  Corners centred = corners;
  for (auto& corner : centred) {
    corner[0] -= mean[0];
    corner[1] -= mean[1];
  }
  return centred;
}

}  // namespace

std::optional<Corners> ProjectCorners(const PoseChunk& chunk, int32_t lane, int32_t frame_index,
                                      const CameraView& view) {
  const CameraBox box = BoxInCamera(chunk, lane, frame_index, view);
  Corners corners;
  for (int k = 0; k < 8; ++k) {
    const Vec3 corner = CornerOf(box, k);
    if (!(corner[2] > view.near_m)) return std::nullopt;
    corners[k] = ProjectPoint(view, corner);
  }
  return corners;
}

double TurnResidual(const Corners& reference, const Corners& now) {
  const Corners r = Centred(reference), n = Centred(now);
  double along = 0, square = 0;
  for (size_t k = 0; k < r.size(); ++k) {
    along += r[k][0] * n[k][0] + r[k][1] * n[k][1];
    square += r[k][0] * r[k][0] + r[k][1] * r[k][1];
  }
  // A reference shrunk to one point can be enlarged to nothing else.
  const double scale = square > 0 ? std::max(0.0, along / square) : 0;
  double worst = 0;
  for (size_t k = 0; k < r.size(); ++k) {
    worst = std::max(worst, std::hypot(n[k][0] - scale * r[k][0], n[k][1] - scale * r[k][1]));
  }
  return worst;
}

std::array<double, 2> ProjectCentre(const PoseChunk& chunk, int32_t lane, int32_t frame_index, const CameraView& view) {
  const Vec3 centre = BoxInCamera(chunk, lane, frame_index, view).centre;
  if (view.projection == Projection::kPerspective && !(centre[2] > 0)) {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    return {nan, nan};
  }
  return ProjectPoint(view, centre);
}

}  // namespace scantling
