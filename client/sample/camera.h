// The demonstration shot's camera: a slow track along the quay, then a whip up to the hill town.

#ifndef SCANTLING_CLIENT_SAMPLE_CAMERA_H_
#define SCANTLING_CLIENT_SAMPLE_CAMERA_H_

#include "client/sample/sample.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::sample {

inline constexpr double kFramesPerSecond = 24;
inline constexpr double kTrackShare = 0.70;  // of the shot, tracking
inline constexpr double kWhipShare = 0.05;   // of the shot, the whip after it
inline constexpr double kEyeHeight_m = 1.5;
inline constexpr double kWhipPan_turns = 26.0 / 360;   // to the left
inline constexpr double kWhipTilt_turns = 18.0 / 360;  // upwards

// The track, in seconds and metres along +X; it starts at x = 0 with the shot.
struct CameraTrack {
  double track_s;    // time until the camera stands and the whip begins
  double speed_mps;  // walking pace, or slower where the shot is so long that the quay would end

  double x_m(double time_s) const { return speed_mps * (time_s < track_s ? time_s : track_s); }
  double end_x_m() const { return x_m(track_s); }
};

// frames: at least 1.
CameraTrack PlanTrack(int frames);

// The shot camera over all frames; options as CheckSampleOptions allows them.
v1::ShotCamera MakeCamera(const SampleOptions& options);

}  // namespace scantling::sample

#endif  // SCANTLING_CLIENT_SAMPLE_CAMERA_H_
