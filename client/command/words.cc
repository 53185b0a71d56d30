// The words are those of the project's own glossary; a value this program does not know (a later daemon's) is said to
// be so rather than guessed at.
//
// Reasons are clauses that stand in a column headed "why", so they begin in lower case and end without a stop.

#include "client/command/words.h"

#include <algorithm>
#include <vector>

#include "absl/strings/str_cat.h"
#include "client/command/units.h"
#include "client/library/utf8.h"

namespace scantling::client {

const char* TierWord(v1::Tier tier) {
  switch (tier) {
    case v1::FULL_RIG:
      return "full rig";
    case v1::PROXY:
      return "proxy";
    case v1::COLOUR_PATCH:
      return "colour patch";
    case v1::OMITTED:
      return "omitted";
    default:
      return "unknown tier";
  }
}

const char* ReasonPhrase(v1::Reason reason) {
  switch (reason) {
    case v1::READ_IN_FULL:
      return "its detail can be read";
    case v1::OFF_SCREEN:
      return "no shot camera ever sees it";
    case v1::HIDDEN:
      return "wholly behind something or under a mask";
    case v1::UNREADABLE:
      return "what is left out is too small to be read";
    case v1::TRADED:
      return "given up for the budget";
    case v1::DIRECTIVE:
      return "ruled";
    case v1::PAINTED_IN:
      return "drawn into its container";
    case v1::INDIRECTLY_SEEN:
      return "its shadow, reflection or light is seen";
    case v1::WORK_DONE:
      return "its hours are already spent";
    case v1::TOO_SMALL:
      return "in frame, but covers too little of it";
    case v1::CONTAINER_OMITTED:
      return "what held it is omitted";
    case v1::HOLDS_CONTENTS:
      return "kept for what it holds";
    case v1::REPLACED:
      return "a drawing stands for it";
    case v1::KEPT_AS_BEFORE:
      return "as in the earlier plan: a change would gain too little";
    case v1::CROWD_SHARE:
      return "kept because enough of its crowd must be";
    case v1::LIKE_ITS_TWINS:
      return "takes the tier its twins take";
    default:
      return "unknown reason";
  }
}

const char* FloorTermWord(v1::FloorTerm term) {
  switch (term) {
    case v1::ACUITY:
      return "acuity";
    case v1::INK_LINE:
      return "ink line";
    case v1::PLATE_SHIFT:
      return "plate shift";
    case v1::MOTION_BLUR:
      return "motion blur";
    case v1::DEFOCUS:
      return "defocus";
    case v1::ATTENTION:
      return "attention";
    default:
      return "-";
  }
}

std::string HoldText(const v1::Decision& decision) {
  if (decision.hold() <= 0) return "-";
  switch (decision.path_split()) {
    case v1::SPLIT:
      return absl::StrCat(decision.hold(), ", path ", decision.path_hold());
    case v1::WOULD_SLIP:
      return absl::StrCat(decision.hold(), ", path wants ", decision.path_hold());
    default:
      return absl::StrCat(decision.hold());
  }
}

std::string BudgetsText(const v1::PlanOptions& options, const std::string& other_department) {
  std::vector<std::string> parts;
  const auto add = [&parts](bool given, double most, const std::string& unit) {
    if (given) parts.push_back(absl::StrCat(Measured(most), " ", unit));
  };
  add(options.has_anim_hours(), options.anim_hours(), "animator-hours");
  add(options.has_core_hours(), options.core_hours(), "core-hours");
  add(options.has_other_hours(), options.other_hours(), Printable(other_department) + "-hours");
  add(options.has_memory_mb(), options.memory_mb(), "MB a frame");
  std::string text;
  for (size_t i = 0; i < parts.size(); ++i) {
    absl::StrAppend(&text, i == 0 ? "" : i + 1 == parts.size() ? " and " : ", ", parts[i]);
  }
  return text;
}

int64_t FrameCount(const FrameRanges& ranges) {
  int64_t frames = 0;
  for (const v1::FrameRange& range : ranges) frames += int64_t{range.last()} - range.first() + 1;
  return frames;
}

std::string FramesText(const FrameRanges& ranges, int most) {
  std::string text;
  for (int i = 0; i < std::min(ranges.size(), most); ++i) {
    absl::StrAppend(&text, i == 0 ? "" : " ", ranges[i].first());
    if (ranges[i].last() != ranges[i].first()) absl::StrAppend(&text, "-", ranges[i].last());
  }
  if (ranges.size() > most) absl::StrAppend(&text, " and ", ranges.size() - most, " more");
  return text;
}

}  // namespace scantling::client
