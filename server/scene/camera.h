// Cameras as sent, checked and turned into what stages read.

#ifndef SCANTLING_SERVER_SCENE_CAMERA_H_
#define SCANTLING_SERVER_SCENE_CAMERA_H_

#include <cstdint>
#include <span>
#include <vector>

#include "server/scene/builder.h"
#include "server/scene/scene.h"
#include "server/units/violations.h"

namespace scantling {

// Axes of a camera's matrix further from square to each other than this (cosine) are sheared; nearer, they are squared
// up, starting from the axis of sight. Float matrices come out near 1e-7.
inline constexpr double kShearedAbove = 1e-4;

// Largest picture side and overscan, px: absurd beyond.
inline constexpr int32_t kLargestPicturePx = 65'536;

// Checks cameras, with field paths "cameras[i]...", and returns one for each that was sent; none where more were sent
// than limits.cameras (then only so many were checked). A camera is usable only if no violation was recorded.
// frame_count 0: not known, then the number of matrices and focal lengths is not checked. A mirrored camera (negative
// determinant) is refused: scale is stripped, a mirror image of the shot is not a scale.
std::vector<Camera> CheckCameras(std::span<const CameraSpec> specs, const SceneLimits& limits, int32_t frame_count,
                                 Violations& violations);

// Numbers of pictures: cameras of one stereo pair share one, in order of first use. Sets Camera::picture, returns how
// many there are. A pair of more than two cameras is a violation.
int32_t NumberPictures(std::span<const CameraSpec> specs, std::vector<Camera>& cameras, Violations& violations);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_CAMERA_H_
