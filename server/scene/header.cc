// The head of a shot is small and read once, so every fault is worded at once. Two things wait for the objects: whether
// the target of a directive exists, and whether two directives contradict each other (a matter of tiers, decided where
// rows are made).
//
// Frame arithmetic is done in 64 bits: {-2147483648, 2147483647} is a range somebody will send.

#include "server/scene/header.h"

#include <string>
#include <string_view>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/faults.h"
#include "server/scene/text.h"

namespace scantling {
namespace {

void CheckName(std::string field, std::string_view name, size_t least_bytes, Violations& violations) {
  std::string fault = NameFault(name, least_bytes, kLongestNameBytes);
  if (!fault.empty()) violations.Add(std::move(field), std::move(fault));
}

void CheckRemark(std::string field, std::string_view remark, Violations& violations) {
  std::string fault = RemarkFault(remark, kLongestRemarkBytes);
  if (!fault.empty()) violations.Add(std::move(field), std::move(fault));
}

void CheckDirective(const Directive& directive, size_t index, const ClassCatalogue& catalogue, Violations& violations) {
  const std::string path = absl::StrCat("directives[", index, "]");
  CheckRemark(path + ".who", directive.who, violations);
  CheckRemark(path + ".why", directive.why, violations);
  const std::string field = TargetField(directive, index);
  std::string fault = NameFault(directive.target, 1, kLongestNameBytes);
  if (!fault.empty()) {
    violations.Add(field, std::move(fault));
  } else if (directive.scope == DirectiveScope::kClass && !catalogue.Find(directive.target)) {
    violations.Add(field, UnknownClass(directive.target, catalogue));
  }
}

}  // namespace

std::string TargetField(const Directive& directive, size_t index) {
  const char* field = directive.scope == DirectiveScope::kObject  ? "object_id"
                      : directive.scope == DirectiveScope::kAsset ? "asset_id"
                                                                  : "class_name";
  return absl::StrCat("directives[", index, "].", field);
}

int32_t CheckFrameRange(FrameRange frames, int32_t most, Violations& violations) {
  if (frames == FrameRange{}) {
    violations.Add("frames", "got no frames, want first and last, last not below first");
    return 0;
  }
  bool in_reach = true;
  for (const auto& [field, frame] : {std::pair{"frames.first", frames.first}, std::pair{"frames.last", frames.last}}) {
    if (frame >= -kLargestFrame && frame <= kLargestFrame) continue;
    violations.Add(field, GotInteger(frame, absl::StrCat("a frame within ", kLargestFrame, " of 0")));
    in_reach = false;
  }
  const int64_t count = int64_t{frames.last} - frames.first + 1;
  if (count <= 0) {
    violations.Add("frames", absl::StrCat("got ", frames.first, " to ", frames.last, ", want last not below first"));
    return 0;
  }
  if (count > most) {
    violations.Add("frames", absl::StrCat("got ", frames.first, " to ", frames.last, " (", count,
                                          " frames), want 1 to ", most, " frames"));
    return 0;
  }
  return in_reach ? static_cast<int32_t>(count) : 0;
}

void CheckHeader(const ShotHeader& header, const ClassCatalogue& catalogue, Violations& violations) {
  CheckName("shot_id", header.shot_id, 0, violations);
  CheckName("sequence_id", header.sequence_id, 0, violations);
  const FrameRate rate = header.rate;
  if (rate.numerator <= 0) violations.Add("rate.numerator", GotInteger(rate.numerator, "a number above 0"));
  if (rate.denominator <= 0) violations.Add("rate.denominator", GotInteger(rate.denominator, "a number above 0"));
  for (size_t i = 0; i < header.directives.size(); ++i) CheckDirective(header.directives[i], i, catalogue, violations);
}

}  // namespace scantling
