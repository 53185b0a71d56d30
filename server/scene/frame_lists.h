// Lists of frames as sent (drawings, beats, frames of masks), checked and brought into order; masks of a camera.

#ifndef SCANTLING_SERVER_SCENE_FRAME_LISTS_H_
#define SCANTLING_SERVER_SCENE_FRAME_LISTS_H_

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "server/scene/builder.h"
#include "server/scene/scene.h"
#include "server/units/violations.h"

namespace scantling {

// Ranges as spans. They are a set of frames: order, overlap and repetition do not matter. Every range must lie within
// the shot; faults go to "<field>[i]". A shot without frames is one whose range was faulty: then only the order within
// each range is checked, and the answer is empty. O(n log n).
FrameSpans CheckFrames(std::span<const FrameRange> ranges, FrameRange shot, const std::string& field,
                       Violations& violations);

// The same for single frames: rising, each once; more than SceneLimits::beats are refused.
std::vector<int32_t> CheckBeats(std::span<const int32_t> beats, FrameRange shot, const std::string& field,
                                const SceneLimits& limits, Violations& violations);

// Masks of the camera under `path`: shares within 0..1, left below right, top below bottom, frames within the shot (all
// of them where none were sent); more than SceneLimits::masks are refused.
std::vector<Mask> CheckMasks(std::span<const Mask> masks, FrameRange shot, const std::string& path,
                             const SceneLimits& limits, Violations& violations);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_FRAME_LISTS_H_
