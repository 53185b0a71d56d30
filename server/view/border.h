// The border path: one box at a time, cut by the frustum in double precision.

#ifndef SCANTLING_SERVER_VIEW_BORDER_H_
#define SCANTLING_SERVER_VIEW_BORDER_H_

#include "server/view/frustum.h"
#include "server/view/view.h"

namespace scantling {

// Everything of ObjectView but the projected centre, for a box anywhere; all 0 where it is not in frame. Boxes without
// extent in one, two or three axes are measured too. About 0.2 us where one or two planes cut.
ObjectView MeasureBox(const Frustum& frustum, const CameraBox& box, const CameraView& view);

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_BORDER_H_
