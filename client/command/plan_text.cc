// Idea: an artist looks for names, a supervisor for sums. So what needs animating is listed by name, most hours first
// (or as the reader sorted it), and only the alike, same class, tier, reason and hold, are drawn together once there
// are more than a few of them. The rest is counted: tier by tier, reason by reason, class by class.
//
// Groups keep the order in which their first member stands in the plan, so that sorting means the same for both.

#include "client/command/plan_text.h"

#include <algorithm>
#include <map>
#include <tuple>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "client/command/table.h"
#include "client/command/words.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

// Up to so many alike objects stand each on a line of their own.
constexpr size_t kFewAlike = 3;
// Classes named in one line of the summary.
constexpr size_t kNamedClasses = 4;
constexpr int kIdColumns = 36;
constexpr int kClassColumns = 20;
constexpr int kNamedRanges = 2;

constexpr char kWhatFiguresAreNot[] = "They decide nobody's job or schedule by themselves.";

using Alike = std::vector<const v1::Decision*>;

// Decisions with equal keys together, groups in the order of their first member.
template <typename KeyOf>
std::vector<Alike> Grouped(const Alike& decisions, const KeyOf& key_of) {
  std::vector<Alike> groups;
  std::map<decltype(key_of(*decisions[0])), size_t> place;
  for (const v1::Decision* decision : decisions) {
    const auto [at, is_new] = place.try_emplace(key_of(*decision), groups.size());
    if (is_new) groups.emplace_back();
    groups[at->second].push_back(decision);
  }
  return groups;
}

Alike Those(const v1::Plan& plan, bool needing_animation) {
  Alike those;
  for (const v1::Decision& decision : plan.decisions()) {
    if (decision.needs_animation() == needing_animation) those.push_back(&decision);
  }
  return those;
}

std::string WhyText(const v1::Decision& decision) {
  return decision.reason_text().empty() ? ReasonPhrase(decision.reason()) : decision.reason_text();
}

// From the first to the last frame that any of them is animated in.
std::string SpanText(const Alike& group) {
  if (group.size() == 1) return FramesText(group[0]->animated(), kNamedRanges);
  bool any = false;
  int32_t first = 0, last = 0;
  for (const v1::Decision* decision : group) {
    for (const v1::FrameRange& range : decision->animated()) {
      first = any ? std::min(first, range.first()) : range.first();
      last = any ? std::max(last, range.last()) : range.last();
      any = true;
    }
  }
  return any ? absl::StrCat("in ", first, "-", last) : "";
}

void AddGroup(const Alike& group, const PlanTextOptions& options, const WorkRates& rates, TextTable& table) {
  double amount = 0;
  for (const v1::Decision* decision : group) amount += AmountOf(*decision, options.unit, rates);
  const v1::Decision& one = *group[0];
  const bool alone = group.size() == 1;
  const std::string id = alone ? one.object_id()
                               : absl::StrCat(CutToColumns(Printable(one.object_id()), kIdColumns - 12), " + ",
                                              Count(static_cast<int64_t>(group.size()) - 1));
  table.AddRow({id, one.class_name(), TierWord(one.tier()), SpanText(group), HoldText(one), Figure(amount),
                alone ? WhyText(one) : ReasonPhrase(one.reason())});
}

// "person 280, gull 21, 3 other classes 12".
std::string ClassesText(const Alike& group) {
  std::map<std::string, int64_t> counts;
  for (const v1::Decision* decision : group) ++counts[decision->class_name()];
  std::vector<std::pair<int64_t, std::string>> order;
  for (const auto& [name, count] : counts) order.emplace_back(-count, name);
  std::sort(order.begin(), order.end());
  std::string text;
  int64_t others = 0;
  for (size_t i = 0; i < order.size(); ++i) {
    if (i >= kNamedClasses) {
      others -= order[i].first;
      continue;
    }
    absl::StrAppend(&text, i == 0 ? "" : ", ", order[i].second, " ", Count(-order[i].first));
  }
  if (others > 0) {
    const size_t unnamed = order.size() - kNamedClasses;
    absl::StrAppend(&text, ", ", unnamed, unnamed == 1 ? " other class " : " other classes ", Count(others));
  }
  return text;
}

std::string RestListed(const Alike& rest) {
  TextTable table({{"object", Align::kLeft, kIdColumns},
                   {"class", Align::kLeft, kClassColumns},
                   {"tier"},
                   {"core-hours", Align::kRight},
                   {"loss", Align::kRight},
                   {"why"}});
  for (const v1::Decision* decision : rest) {
    table.AddRow({decision->object_id(), decision->class_name(), TierWord(decision->tier()),
                  Figure(decision->core_hours()), Figure(decision->loss()), WhyText(*decision)});
  }
  return table.Text();
}

std::string RestCounted(const Alike& rest) {
  auto groups = Grouped(rest, [](const v1::Decision& one) { return std::pair(-one.tier(), one.reason()); });
  std::stable_sort(groups.begin(), groups.end(), [](const Alike& a, const Alike& b) {
    return std::pair(-a[0]->tier(), -static_cast<int64_t>(a.size())) <
           std::pair(-b[0]->tier(), -static_cast<int64_t>(b.size()));
  });
  TextTable table({{"tier"},
                   {"objects", Align::kRight},
                   {"core-hours", Align::kRight},
                   {"loss", Align::kRight},
                   {"why", Align::kLeft, 44},
                   {"classes"}});
  for (const Alike& group : groups) {
    double core_hours = 0, loss = 0;
    for (const v1::Decision* decision : group) {
      core_hours += decision->core_hours();
      loss += decision->loss();
    }
    table.AddRow({TierWord(group[0]->tier()), Count(static_cast<int64_t>(group.size())), Figure(core_hours),
                  Figure(loss), ReasonPhrase(group[0]->reason()), ClassesText(group)});
  }
  return table.Text();
}

std::string FrameRateText(const v1::FrameRate& rate) {
  return rate.denominator() == 1 ? absl::StrCat(rate.numerator())
                                 : absl::StrCat(rate.numerator(), "/", rate.denominator());
}

std::string ModeText(const v1::Plan& plan) {
  if (plan.mode() == "unseen") return "nothing visible given up";
  return absl::StrCat("within ", BudgetsText(plan.options(), plan.totals().other_department()));
}

}  // namespace

std::string HeaderText(const v1::Plan& plan, const PlanTextOptions& options) {
  const v1::Totals& totals = plan.totals();
  std::string text = absl::StrCat("Shot ", Printable(plan.shot_id()), "   style ", Printable(plan.style()), "   ",
                                  ModeText(plan), "   frames ", plan.frames().first(), "-", plan.frames().last(),
                                  " at ", FrameRateText(plan.rate()), " fps\n");
  absl::StrAppend(&text, Count(totals.objects()), " objects: ", Count(totals.full_rig()), " full rig, ",
                  Count(totals.proxy()), " proxy, ", Count(totals.colour_patch()), " colour patch (",
                  Count(totals.painted_in()), " of them painted in), ", Count(totals.omitted()), " omitted\n");
  absl::StrAppend(&text, "Never in frame ", Count(totals.off_screen()), ", always hidden ", Count(totals.hidden()),
                  ", standing still ", Count(totals.still()), ", held longer than the hours are quoted on ",
                  Count(totals.held_longer()), "\n");
  if (!options.filter_text.empty()) {
    absl::StrAppend(&text, "Shown: ", Count(plan.decisions_size()), " of ", Count(totals.objects()), " (",
                    Printable(options.filter_text), "); totals are of the whole plan\n");
  }
  return text;
}

std::string AnimationListText(const v1::Plan& plan, const PlanTextOptions& options) {
  const Alike those = Those(plan, true);
  std::string text = absl::StrCat("\nNEEDS ANIMATING: ", Count(static_cast<int64_t>(those.size())), " of ",
                                  Count(plan.totals().objects()), "\n");
  if (those.empty()) return text;
  TextTable table({{"object", Align::kLeft, kIdColumns},
                   {"class", Align::kLeft, kClassColumns},
                   {"tier"},
                   {"frames"},
                   {"hold", Align::kRight},
                   {HeadingOf(options.unit), Align::kRight},
                   {"why"}});
  const auto alike = Grouped(those, [](const v1::Decision& one) {
    return std::tuple(one.class_name(), one.tier(), one.reason(), HoldText(one));
  });
  const WorkRates rates = RatesOf(plan);
  if (options.all) {
    for (const v1::Decision* decision : those) AddGroup({decision}, options, rates, table);
    return text + table.Text();
  }
  for (const Alike& group : alike) {
    if (group.size() > kFewAlike) {
      AddGroup(group, options, rates, table);
      continue;
    }
    for (const v1::Decision* decision : group) AddGroup({decision}, options, rates, table);
  }
  return text + table.Text();
}

std::string RestText(const v1::Plan& plan, const PlanTextOptions& options) {
  const Alike rest = Those(plan, false);
  if (rest.empty()) return "";
  return absl::StrCat("\nTHE REST, not animated: ", Count(static_cast<int64_t>(rest.size())), "\n",
                      options.all ? RestListed(rest) : RestCounted(rest));
}

std::string PlanText(const v1::Plan& plan, const PlanTextOptions& options) {
  return HeaderText(plan, options) + AnimationListText(plan, options) + RestText(plan, options) +
         ChangeText(plan, options) + CostText(plan, options) + MemoryText(plan) + LimitsText(plan, options) +
         CrowdsText(plan) + ProofText(plan) + "\n" +
         Paragraph(absl::StrCat(Printable(plan.estimate_note()), " ", kWhatFiguresAreNot));
}

}  // namespace scantling::client
