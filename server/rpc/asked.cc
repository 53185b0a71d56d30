// PlanOptions -> Asked; TraceFrontierRequest -> AskedFrontier.
//
// Hours end at 1e9: a hundred thousand working years, and still far from where their integers (2^63 quanta of 1e-6 h)
// would overflow. Memory ends at 1e12 MB, whose quanta of 1e-3 MB are as far from it.
//
// Earlier decisions may be as many as a large shot has objects, so no path is put together that no fault needs.

#include "server/rpc/asked.h"

#include <cmath>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>

#include "absl/strings/str_cat.h"
#include "server/rpc/convert_read.h"
#include "server/scene/faults.h"

namespace scantling {
namespace {

constexpr double kMostHours = 1e9;
constexpr double kMostMemoryMb = 1e12;
constexpr double kMostLoss = 1e9;  // frame-octaves; the largest total is 2.3e8
constexpr int32_t kPointsByDefault = 32;

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

void ReadLimits(const v1::PlanOptions& options, const Policy& policy, Budgets& budgets, Violations& violations) {
  const auto read = [&](std::string_view field, bool given, double value, double most, std::optional<double>& to) {
    if (!given) return;
    to = value;
    CheckRange(field, value, most, violations);
  };
  read("options.anim_hours", options.has_anim_hours(), options.anim_hours(), kMostHours, budgets.anim_hours);
  read("options.core_hours", options.has_core_hours(), options.core_hours(), kMostHours, budgets.core_hours);
  read("options.other_hours", options.has_other_hours(), options.other_hours(), kMostHours, budgets.other_hours);
  read("options.memory_mb", options.has_memory_mb(), options.memory_mb(), kMostMemoryMb, budgets.memory_mb);
  if (options.has_other_hours() && policy.rates.other_department.empty()) {
    violations.Add("options.other_hours",
                   absl::StrCat("got ", options.other_hours(), ", want none: the rate card has no third department"));
  }
}

void ReadEarlier(const v1::PlanOptions& options, PlanRequest& plan, Violations& violations) {
  std::unordered_map<std::string_view, int> first_of;
  plan.earlier.reserve(static_cast<size_t>(options.earlier_size()));
  for (int i = 0; i < options.earlier_size(); ++i) {
    const v1::EarlierDecision& decision = options.earlier(i);
    const std::string& id = decision.object_id();
    const auto field = [i] { return absl::StrCat("options.earlier[", i, "].object_id"); };
    if (id.empty()) {
      AddFault(violations, field, [] { return "got nothing, want an object's id"; });
    } else if (const auto [first, is_new] = first_of.emplace(id, i); !is_new) {
      AddFault(violations, field, [&, at = first->second] {
        return GotText(id, absl::StrCat("an object that options.earlier[", at, "] does not name already"));
      });
    }
    const bool known = v1::Tier_IsValid(decision.tier()) && decision.tier() != v1::TIER_UNSPECIFIED;
    const std::string path = known ? "" : absl::StrCat("options.earlier[", i, "].tier");
    plan.earlier.push_back({id, ReadTier(decision.tier(), path, violations).value_or(Tier::kFullRig)});
  }
}

void ReadMargins(const v1::PlanOptions& options, PlanRequest& plan, Violations& violations) {
  if (options.has_change_margin()) {
    plan.change_margin = options.change_margin();
    CheckRange("options.change_margin", options.change_margin(), 1, violations);
  }
  if (options.has_change_margin_least()) {
    plan.change_margin_least = options.change_margin_least();
    CheckRange("options.change_margin_least", options.change_margin_least(), kMostLoss, violations);
  }
}

Along ReadAlong(v1::TraceFrontierRequest::Along along, const Policy& policy, Violations& violations) {
  switch (along) {
    case v1::TraceFrontierRequest::ALONG_UNSPECIFIED:
    case v1::TraceFrontierRequest::ANIM_HOURS:
      return Along::kAnimHours;
    case v1::TraceFrontierRequest::CORE_HOURS:
      return Along::kCoreHours;
    case v1::TraceFrontierRequest::OTHER_HOURS:
      if (policy.rates.other_department.empty()) {
        violations.Add("along", "got OTHER_HOURS, want another: the rate card has no third department");
      }
      return Along::kOtherHours;
    case v1::TraceFrontierRequest::BOTH:
      return Along::kBoth;
    default:  // a number this version does not know
      violations.Add("along", GotInteger(along, "ANIM_HOURS, CORE_HOURS, OTHER_HOURS or BOTH"));
      return Along::kAnimHours;
  }
}

// Where a sweep begins and ends.
void ReadEnds(const v1::TraceFrontierRequest& request, FrontierRequest& to, Violations& violations) {
  const auto read = [&](const char* field, bool given, double value, std::optional<double>& end) {
    if (!given) return;
    end = value;
    if (to.along == Along::kBoth) {
      violations.Add(field, absl::StrCat("got ", value, ", want none: BOTH sweeps two budgets"));
    } else {
      CheckRange(field, value, kMostHours, violations);
    }
  };
  const size_t before = violations.count();
  read("most_hours", request.has_most_hours(), request.most_hours(), to.most_hours);
  read("least_hours", request.has_least_hours(), request.least_hours(), to.least_hours);
  if (violations.count() > before || !to.most_hours || !to.least_hours || *to.most_hours > *to.least_hours) return;
  violations.Add("most_hours", absl::StrCat("got ", *to.most_hours, ", want more than least_hours, ", *to.least_hours));
}

}  // namespace

Asked ReadAsked(const v1::PlanOptions& options, std::string_view shot_style, const Policy& policy,
                Violations& violations) {
  const size_t before = violations.count();
  Asked asked;
  ReadLimits(options, policy, asked.plan.budgets, violations);
  ReadEarlier(options, asked.plan, violations);
  ReadMargins(options, asked.plan, violations);
  if (options.has_target_gap()) {
    asked.plan.target_gap = options.target_gap();
    CheckRange("options.target_gap", options.target_gap(), 1, violations);
  }
  asked.plan.holds.share_in_containers = options.share_holds_in_containers();
  asked.plan.alike = options.alike();
  if (violations.count() > before) asked.reason = "OPTIONS_INVALID";
  asked.style = FindAsked(options, shot_style, policy, violations);
  if (asked.style == nullptr && asked.reason.empty()) asked.reason = "STYLE_UNKNOWN";
  asked.faults = violations.count() - before;
  return asked;
}

AskedFrontier ReadFrontier(const v1::TraceFrontierRequest& request, const Policy& policy, Violations& violations) {
  AskedFrontier frontier{ReadAsked(request.options(), request.shot().style(), policy, violations), {}};
  const size_t before = violations.count();
  frontier.sweep.plan = frontier.asked.plan;
  frontier.sweep.along = ReadAlong(request.along(), policy, violations);
  frontier.sweep.points = request.points() == 0 ? kPointsByDefault : request.points();
  if (frontier.sweep.points < 2 || frontier.sweep.points > kMostFrontierPoints) {
    violations.Add("points", GotInteger(request.points(),
                                        absl::StrCat("2 to ", kMostFrontierPoints, ", or 0 for ", kPointsByDefault)));
  }
  ReadEnds(request, frontier.sweep, violations);
  if (violations.count() == before) return frontier;
  frontier.asked.faults += violations.count() - before;
  frontier.asked.reason = "OPTIONS_INVALID";
  return frontier;
}

std::string_view ReasonFor(const Violations& violations, const Asked& asked) {
  return violations.count() > asked.faults ? "SHOT_INVALID" : asked.reason;
}

}  // namespace scantling
