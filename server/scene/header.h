// Checks of all that stands above the objects of a shot: names, frames, rate, directives.

#ifndef SCANTLING_SERVER_SCENE_HEADER_H_
#define SCANTLING_SERVER_SCENE_HEADER_H_

#include <cstdint>

#include "server/policy/types.h"
#include "server/scene/builder.h"
#include "server/scene/scene.h"
#include "server/units/violations.h"

namespace scantling {

// No frame number may lie further from 0: handles are added to them in 32 bits.
inline constexpr int32_t kLargestFrame = 1'000'000'000;

// Number of frames, or 0 where the range is faulty (then a violation was recorded).
int32_t CheckFrameRange(FrameRange frames, int32_t most, Violations& violations);

// Names, rate and all of a directive but what only the objects can tell: whether an object or asset exists.
void CheckHeader(const ShotHeader& header, const ClassCatalogue& catalogue, Violations& violations);

// Field of a directive's target: "directives[3].object_id".
std::string TargetField(const Directive& directive, size_t index);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_HEADER_H_
