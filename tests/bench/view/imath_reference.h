// The measuring job of the view stage written plainly with Imath, one object after another.

#ifndef SCANTLING_TESTS_BENCH_VIEW_IMATH_REFERENCE_H_
#define SCANTLING_TESTS_BENCH_VIEW_IMATH_REFERENCE_H_

#include <Imath/ImathMatrix.h>
#include <Imath/ImathVec.h>

#include <vector>

#include "server/view/view.h"

namespace scantling::bench {

struct ImathBox {
  Imath::V3d centre, a, b, c;
};

struct ImathFigures {
  float covered_px = 0, height_px = 0, near_m = 0, far_m = 0, u_px = 0, v_px = 0;
  bool in_frame = false;
};

// Perspective without overscan. Boxes wholly outside one plane are left out early, boxes wholly inside are measured by
// their projected corners, all others are cut polygon by polygon.
void MeasureWithImath(const std::vector<ImathBox>& boxes, const CameraView& view, std::vector<ImathFigures>& out);

}  // namespace scantling::bench

#endif  // SCANTLING_TESTS_BENCH_VIEW_IMATH_REFERENCE_H_
