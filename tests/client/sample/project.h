// A small projection of boxes for the tests of the demonstration shot, written from the pinhole equations alone so that
// it shares nothing with the code it looks at.

#ifndef SCANTLING_TESTS_CLIENT_SAMPLE_PROJECT_H_
#define SCANTLING_TESTS_CLIENT_SAMPLE_PROJECT_H_

#include <algorithm>
#include <limits>

#include "scantling/v1/scene.pb.h"

namespace scantling::sample {

// The rectangle around a box's eight projected corners, px from the upper left; nearest is its smallest depth.
// in_front: all corners before the near plane. The rest means nothing otherwise.
struct Picture {
  double left = std::numeric_limits<double>::max(), top = left;
  double right = std::numeric_limits<double>::lowest(), bottom = right;
  double nearest_m = std::numeric_limits<double>::max();
  bool in_front = true;

  double height() const { return bottom - top; }
  bool Meets(double width_px, double height_px) const {
    return in_front && right > 0 && left < width_px && bottom > 0 && top < height_px;
  }
};

// The 16 numbers of a track at a frame index, counted from 0.
inline const double* MatrixAt(const v1::TransformTrack& track, int index) {
  return track.matrices().data() + (track.matrices_size() == 16 ? 0 : 16 * index);
}

// A perspective camera with one focal length; index counts frames from 0.
inline Picture Project(const v1::SceneObject& object, const v1::ShotCamera& camera, int index) {
  const double* m = MatrixAt(object.transform(), index);
  const double* c = MatrixAt(camera.transform(), index);
  const v1::Vector3& low = object.box().min_m();
  const v1::Vector3& high = object.box().max_m();
  Picture picture;
  for (int corner = 0; corner < 8; ++corner) {
    const double local[3] = {corner & 1 ? high.x() : low.x(), corner & 2 ? high.y() : low.y(),
                             corner & 4 ? high.z() : low.z()};
    double from_eye[3];
    for (int r = 0; r < 3; ++r) {
      from_eye[r] = m[r] * local[0] + m[4 + r] * local[1] + m[8 + r] * local[2] + m[12 + r] - c[12 + r];
    }
    double seen[3];  // the camera's axes are orthonormal, so its inverse is its transpose
    for (int a = 0; a < 3; ++a)
      seen[a] = c[4 * a] * from_eye[0] + c[4 * a + 1] * from_eye[1] + c[4 * a + 2] * from_eye[2];
    const double depth_m = -seen[2];
    if (depth_m < camera.near_m()) picture.in_front = false;
    const double u = camera.image_width_px() * (0.5 + camera.focal_mm(0) * seen[0] / depth_m / camera.window_width());
    const double v = camera.image_height_px() * (0.5 - camera.focal_mm(0) * seen[1] / depth_m / camera.window_height());
    picture.left = std::min(picture.left, u);
    picture.right = std::max(picture.right, u);
    picture.top = std::min(picture.top, v);
    picture.bottom = std::max(picture.bottom, v);
    picture.nearest_m = std::min(picture.nearest_m, depth_m);
  }
  return picture;
}

}  // namespace scantling::sample

#endif  // SCANTLING_TESTS_CLIENT_SAMPLE_PROJECT_H_
