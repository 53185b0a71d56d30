// The camera stands at eye height on the quay and looks along -Z across market, harbour and hill.
//
// For seven tenths of the shot it tracks along +X at a walking pace beside the lamplighter, tilted a degree down. Then
// it stops and whips, within a twentieth of the shot, up and left to the hill town, where it rests. Focus follows: on
// the lamplighter, then on the town where it stands on stage. Yaw is about +Y (left is positive), then tilt about the
// camera's own +X (up is positive); a matrix is column-major.

#include "client/sample/camera.h"

#include <algorithm>

#include "client/sample/staging.h"
#include "client/sample/trig.h"

namespace scantling::sample {
namespace {

constexpr double kLongestTrack_m = 12;
constexpr double kWalkingPace_mps = 1.1;
constexpr double kRestTilt_turns = -1.0 / 360;
constexpr double kWindowWidth_mm = 24.892;
constexpr double kFocal_mm = 35;
constexpr double kNear_m = 0.1;
constexpr double kFNumber = 4;

// 0 before the whip, 1 after it, eased at both ends.
double WhipShare(double frame, int frames) {
  const double t = std::clamp((frame - kTrackShare * frames) / (kWhipShare * frames), 0.0, 1.0);
  return t * t * (3 - 2 * t);
}

void AddPose(double x_m, double yaw_turns, double tilt_turns, v1::TransformTrack* track) {
  const auto [sy, cy] = SinCosOfTurns(yaw_turns);
  const auto [st, ct] = SinCosOfTurns(tilt_turns);
  const double columns[16] = {cy,      0,   -sy,     0, sy * st, ct,           cy * st, 0,
                              sy * ct, -st, cy * ct, 0, x_m,     kEyeHeight_m, 0,       1};
  track->mutable_matrices()->Add(columns, columns + 16);
}

}  // namespace

CameraTrack PlanTrack(int frames) {
  const double track_s = kTrackShare * frames / kFramesPerSecond;
  return {track_s, std::min(kWalkingPace_mps, kLongestTrack_m / track_s)};
}

v1::ShotCamera MakeCamera(const SampleOptions& options) {
  v1::ShotCamera camera;
  camera.set_id("quay_track");
  camera.set_projection(v1::ShotCamera::PERSPECTIVE);
  camera.set_window_width(kWindowWidth_mm);
  camera.set_window_height(kWindowWidth_mm * options.height_px / options.width_px);  // square pixels
  camera.add_focal_mm(kFocal_mm);
  camera.set_image_width_px(options.width_px);
  camera.set_image_height_px(options.height_px);
  camera.set_near_m(kNear_m);
  camera.set_f_number(kFNumber);
  const CameraTrack track = PlanTrack(options.frames);
  camera.mutable_transform()->mutable_matrices()->Reserve(16 * options.frames);
  for (int frame = 0; frame < options.frames; ++frame) {
    const double whip = WhipShare(frame, options.frames);
    AddPose(track.x_m(frame / kFramesPerSecond), whip * kWhipPan_turns,
            kRestTilt_turns + whip * (kWhipTilt_turns - kRestTilt_turns), camera.mutable_transform());
    camera.add_focus_m(kLeadDepth_m + whip * (kTownHonestDistance_m / kTownCheat - kLeadDepth_m));
  }
  return camera;
}

}  // namespace scantling::sample
