// Why an object has the tier it has.

#ifndef SCANTLING_SERVER_ANSWER_REASON_H_
#define SCANTLING_SERVER_ANSWER_REASON_H_

#include <cstdint>

#include "server/answer/answer.h"

namespace scantling {

// The first that holds, from what lies outside the object to what lies in it: its container's fate, a directive that
// moved it, sight, its own figures. See reason.cc.
Reason ReasonOf(const AnswerInput& input, uint32_t node);

// Whether an animator has to touch it: a tier animated by the second, some frames to animate, and hours left to spend.
bool NeedsAnimation(const AnswerInput& input, uint32_t node);

// Tier of node's container in the plan; FULL_RIG for a root.
Tier ContainerTier(const AnswerInput& input, uint32_t node);

}  // namespace scantling

#endif  // SCANTLING_SERVER_ANSWER_REASON_H_
