// From a camera as it was sent to the six numbers that place a point in the picture.
//
// With focal length f, window (ww, wh) and its offset (ox, oy), image W x H (2-model: the window is +-aperture/2 +
// offset, seen at the focal length):
//
//   u = W (1/2 + (f x / depth - ox) / ww) = W (1/2 - ox / ww) + (W f / ww) x / depth = centre_u + scale_u x / depth
//   v = H (1/2 - (f y / depth - oy) / wh) = H (1/2 + oy / wh) - (H f / wh) y / depth = centre_v - scale_v y / depth
//
// Orthographic cameras have f = 1 and no division by depth. Pixels need not be square: scale_u and scale_v differ for
// anamorphic pictures. Source: OpenUSD, UsdGeomCamera and GfCamera::GetFrustum, for the window and the sign of its
// offset.

#include "server/view/view.h"

namespace scantling {

CameraView ViewOf(const Camera& camera, int32_t frame_index) {
  const CameraPose& pose = camera.pose(frame_index);
  const double focal = camera.projection == Projection::kPerspective ? pose.focal_mm : 1;
  CameraView view;
  view.projection = camera.projection;
  view.position_m = pose.position_m;
  view.world_to_camera = pose.world_to_camera;
  view.width_px = camera.width_px;
  view.height_px = camera.height_px;
  view.overscan_px = camera.overscan_px;
  view.scale_u = view.width_px * focal / camera.window_width;
  view.scale_v = view.height_px * focal / camera.window_height;
  view.centre_u = view.width_px * (0.5 - camera.offset_x / camera.window_width);
  view.centre_v = view.height_px * (0.5 + camera.offset_y / camera.window_height);
  view.near_m = camera.near_m;
  view.far_m = camera.far_m;
  return view;
}

}  // namespace scantling
