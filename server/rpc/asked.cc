// PlanOptions -> Asked.
//
// Hours end at 1e9: a hundred thousand working years, and still far from where their integers (2^63 quanta of 1e-6 h)
// would overflow.

#include "server/rpc/asked.h"

#include <cmath>
#include <optional>
#include <string>

#include "absl/strings/str_cat.h"

namespace scantling {
namespace {

constexpr double kMostHours = 1e9;

void CheckRange(std::string_view field, double value, double most, Violations& violations) {
  if (value >= 0 && value <= most) return;  // false for NaN
  violations.Add(std::string(field), absl::StrCat("got ", value, ", want a number from 0 to ", most));
}

std::string KnownStyles(const Policy& policy) {
  std::string names;
  for (const Style& style : policy.styles) absl::StrAppend(&names, names.empty() ? "" : ", ", style.name);
  return names;
}

const Style* FindAsked(const v1::PlanOptions& options, std::string_view shot_style, const Policy& policy,
                       Violations& violations) {
  const bool overridden = !options.style().empty();
  std::string_view name = overridden ? std::string_view(options.style()) : shot_style;
  if (name.empty()) name = policy.default_style;
  const Style* style = policy.FindStyle(name);
  if (style == nullptr) {
    violations.Add(
        overridden ? "options.style" : "shot.style",
        absl::StrCat("got \"", absl::string_view(name.data(), name.size()), "\", want one of ", KnownStyles(policy)));
  }
  return style;
}

}  // namespace

Asked ReadAsked(const v1::PlanOptions& options, std::string_view shot_style, const Policy& policy,
                Violations& violations) {
  const size_t before = violations.count();
  Asked asked;
  if (options.has_anim_hours()) {
    asked.budgets.anim_hours = options.anim_hours();
    CheckRange("options.anim_hours", options.anim_hours(), kMostHours, violations);
  }
  if (options.has_core_hours()) {
    asked.budgets.core_hours = options.core_hours();
    CheckRange("options.core_hours", options.core_hours(), kMostHours, violations);
  }
  if (options.has_target_gap()) {
    asked.target_gap = options.target_gap();
    CheckRange("options.target_gap", options.target_gap(), 1, violations);
  }
  asked.holds.share_in_containers = options.share_holds_in_containers();
  if (violations.count() > before) asked.reason = "OPTIONS_INVALID";
  asked.style = FindAsked(options, shot_style, policy, violations);
  if (asked.style == nullptr && asked.reason.empty()) asked.reason = "STYLE_UNKNOWN";
  asked.faults = violations.count() - before;
  return asked;
}

std::string_view ReasonFor(const Violations& violations, const Asked& asked) {
  return violations.count() > asked.faults ? "SHOT_INVALID" : asked.reason;
}

}  // namespace scantling
