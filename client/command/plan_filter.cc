// Idea: a decision's sort key is one number or its class name; sort positions by it, ids deciding ties, then move the
// decisions into place.
//
// Keys that read "most first" are negated, so that there is one comparison.

#include "client/command/plan_filter.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "client/command/words.h"

namespace scantling::client {
namespace {

constexpr std::array<std::pair<std::string_view, SortKey>, 9> kKeys = {{{"id", SortKey::kId},
                                                                        {"hours", SortKey::kHours},
                                                                        {"core-hours", SortKey::kCoreHours},
                                                                        {"loss", SortKey::kLoss},
                                                                        {"height", SortKey::kHeight},
                                                                        {"depth", SortKey::kDepth},
                                                                        {"frame", SortKey::kFrame},
                                                                        {"class", SortKey::kClass},
                                                                        {"tier", SortKey::kTier}}};

constexpr double kLast = std::numeric_limits<double>::infinity();

double RawNumberOf(const v1::Decision& decision, SortKey key) {
  switch (key) {
    case SortKey::kHours:
      return -decision.anim_hours();
    case SortKey::kCoreHours:
      return -decision.core_hours();
    case SortKey::kLoss:
      return -decision.loss();
    case SortKey::kHeight:
      return -decision.height_px();
    case SortKey::kDepth:
      return decision.near_m() > 0 ? decision.near_m() : kLast;
    case SortKey::kFrame:
      return decision.animated_size() > 0 ? decision.animated(0).first() : kLast;
    case SortKey::kTier:
      return -decision.tier();
    default:
      return 0;
  }
}

// What is no number would break the order of everything else, so it goes last.
double NumberOf(const v1::Decision& decision, SortKey key) {
  const double number = RawNumberOf(decision, key);
  return std::isnan(number) ? kLast : number;
}

template <typename Value>
bool IsAmong(const std::vector<Value>& list, const Value& value) {
  return list.empty() || std::find(list.begin(), list.end(), value) != list.end();
}

}  // namespace

std::optional<SortKey> SortKeyOf(std::string_view name) {
  for (const auto& [word, key] : kKeys) {
    if (word == name) return key;
  }
  return std::nullopt;
}

std::vector<std::string> SortKeyNames() {
  std::vector<std::string> names;
  for (const auto& key : kKeys) names.emplace_back(key.first);
  return names;
}

std::optional<v1::Tier> TierOf(std::string_view name) {
  std::string word = absl::AsciiStrToLower({name.data(), name.size()});
  std::replace(word.begin(), word.end(), '_', '-');
  if (word == "full-rig") return v1::FULL_RIG;
  if (word == "proxy") return v1::PROXY;
  if (word == "colour-patch") return v1::COLOUR_PATCH;
  if (word == "omitted") return v1::OMITTED;
  return std::nullopt;
}

std::optional<v1::Reason> ReasonOf(std::string_view name) {
  std::string word = absl::AsciiStrToUpper({name.data(), name.size()});
  std::replace(word.begin(), word.end(), '-', '_');
  v1::Reason reason = v1::REASON_UNSPECIFIED;
  if (!v1::Reason_Parse(word, &reason) || reason == v1::REASON_UNSPECIFIED) return std::nullopt;
  return reason;
}

bool PlanFilter::Accepts(const v1::Decision& decision) const {
  return IsAmong(tiers, decision.tier()) && IsAmong(classes, decision.class_name()) &&
         IsAmong(containers, decision.container_id()) && IsAmong(bands, decision.band()) &&
         IsAmong(reasons, decision.reason()) && (!needs_animation || decision.needs_animation());
}

std::string FilterText(const PlanFilter& filter) {
  std::vector<std::string> parts;
  if (filter.needs_animation) parts.push_back("needing animation");
  if (!filter.tiers.empty()) {
    std::vector<std::string> words;
    for (const v1::Tier tier : filter.tiers) words.push_back(TierWord(tier));
    parts.push_back(absl::StrCat("tier ", absl::StrJoin(words, " or ")));
  }
  if (!filter.classes.empty()) parts.push_back(absl::StrCat("class ", absl::StrJoin(filter.classes, " or ")));
  if (!filter.containers.empty()) parts.push_back(absl::StrCat("held by ", absl::StrJoin(filter.containers, " or ")));
  if (!filter.bands.empty()) parts.push_back(absl::StrCat("in the ", absl::StrJoin(filter.bands, " or ")));
  if (!filter.reasons.empty()) {
    std::vector<std::string> words;
    for (const v1::Reason reason : filter.reasons) words.push_back(ReasonPhrase(reason));
    parts.push_back(absl::StrCat("because ", absl::StrJoin(words, " or ")));
  }
  return absl::StrJoin(parts, "; ");
}

void SelectDecisions(const PlanFilter& filter, SortKey key, bool reversed, v1::Plan& plan) {
  std::vector<std::pair<double, v1::Decision*>> kept;
  for (v1::Decision& decision : *plan.mutable_decisions()) {
    if (filter.Accepts(decision)) kept.emplace_back(NumberOf(decision, key), &decision);
  }
  std::sort(kept.begin(), kept.end(), [key](const auto& a, const auto& b) {
    if (a.first != b.first) return a.first < b.first;
    if (key == SortKey::kClass && a.second->class_name() != b.second->class_name()) {
      return a.second->class_name() < b.second->class_name();
    }
    return a.second->object_id() < b.second->object_id();
  });
  if (reversed) std::reverse(kept.begin(), kept.end());
  google::protobuf::RepeatedPtrField<v1::Decision> sorted;
  sorted.Reserve(static_cast<int>(kept.size()));
  for (const auto& entry : kept) sorted.Add()->Swap(entry.second);
  plan.mutable_decisions()->Swap(&sorted);
}

}  // namespace scantling::client
