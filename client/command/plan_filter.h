// Which decisions a reader wants to see, and in what order. Totals are never touched: they are of the whole plan.

#ifndef SCANTLING_CLIENT_COMMAND_PLAN_FILTER_H_
#define SCANTLING_CLIENT_COMMAND_PLAN_FILTER_H_

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "scantling/v1/plan.pb.h"

namespace scantling::client {

enum class SortKey {
  kId,         // bytewise, as the daemon answers
  kHours,      // animator-hours, most first
  kCoreHours,  // most first
  kLoss,       // most first
  kHeight,     // largest height in the picture, most first
  kDepth,      // nearest first; what is never seen, last
  kFrame,      // first frame animated; what is not animated, last
  kClass,      // by name
  kTier,       // full rig first
};

// "id", "hours", "core-hours", "loss", "height", "depth", "frame", "class", "tier"; nothing for other texts.
std::optional<SortKey> SortKeyOf(std::string_view name);
std::vector<std::string> SortKeyNames();

// "full-rig", "proxy", "colour-patch", "omitted", in any case and with - or _; nothing for other texts.
std::optional<v1::Tier> TierOf(std::string_view name);

// A reason by its name in plan.proto, in any case and with - or _ ("hidden", "off-screen"); nothing for other texts.
std::optional<v1::Reason> ReasonOf(std::string_view name);

// Every given list must hold the decision's value; an empty list lets all through.
struct PlanFilter {
  std::vector<v1::Tier> tiers = {};
  std::vector<std::string> classes = {};
  std::vector<std::string> containers = {};  // what stands directly in one of them
  std::vector<std::string> bands = {};
  std::vector<v1::Reason> reasons = {};
  bool needs_animation = false;

  bool empty() const {
    return tiers.empty() && classes.empty() && containers.empty() && bands.empty() && reasons.empty() &&
           !needs_animation;
  }
  bool Accepts(const v1::Decision& decision) const;
};

// The filter in words: "needing animation; class person or gull". Empty where nothing is filtered.
std::string FilterText(const PlanFilter& filter);

// Drops the decisions that `filter` does not accept and sorts the rest; equals stay in the order of their ids. Reversed
// turns the whole order round. O(n log n).
void SelectDecisions(const PlanFilter& filter, SortKey key, bool reversed, v1::Plan& plan);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_PLAN_FILTER_H_
