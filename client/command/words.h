// Enum values of the proto in words for people, and ranges of frames as text. Pure; thread-safe.

#ifndef SCANTLING_CLIENT_COMMAND_WORDS_H_
#define SCANTLING_CLIENT_COMMAND_WORDS_H_

#include <cstdint>
#include <string>

#include "google/protobuf/repeated_ptr_field.h"
#include "scantling/v1/plan.pb.h"

namespace scantling::client {

const char* TierWord(v1::Tier tier);            // "full rig"
const char* ReasonPhrase(v1::Reason reason);    // "its detail can be read"
const char* FloorTermWord(v1::FloorTerm term);  // "ink line"

// The hold of poses, and of the path where it differs: "2"; "3, path 1"; "2, path wants 1" where feet would slip if it
// had it; "-" where nothing needs animating.
std::string HoldText(const v1::Decision& decision);

// The budgets of `options`: "400 animator-hours, 12.5 core-hours, 30 effects-hours and 16,000 MB a frame"; empty where
// there are none. `other_department` is the third department's name.
std::string BudgetsText(const v1::PlanOptions& options, const std::string& other_department);

using FrameRanges = google::protobuf::RepeatedPtrField<v1::FrameRange>;

// Frames in all ranges, which do not overlap.
int64_t FrameCount(const FrameRanges& ranges);

// "1001-1096 1120-1240"; at most `most` ranges, then "and 3 more"; empty where there are none.
std::string FramesText(const FrameRanges& ranges, int most);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_WORDS_H_
