// What became of an earlier plan: how much changed, what it cost not to change more, and what changed, by name.
//
// Whoever signed the earlier plan reads this first, so the changes that lose most stand on top.

#include <algorithm>
#include <cmath>
#include <vector>

#include "absl/strings/str_cat.h"
#include "client/command/plan_text.h"
#include "client/command/table.h"
#include "client/command/words.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr size_t kShownChanges = 15;
constexpr int kIdColumns = 36;

std::string KeepingText(const v1::Steadiness& steadiness) {
  if (!(std::abs(steadiness.loss()) > 0)) return " Keeping to it costs no loss.";
  // Below nothing by no more than its gap: the plan that keeps nothing is only as good as it was proved.
  if (steadiness.loss() < 0) return " Keeping to it costs no loss that was proved.";
  return absl::StrCat(" Keeping to it costs ", Measured(steadiness.loss()), " frame-octaves.");
}

std::string SteadinessText(const v1::Totals& totals) {
  const v1::Steadiness& steadiness = totals.steadiness();
  std::string said =
      absl::StrCat(Count(steadiness.changed()), " of ", Count(steadiness.earlier()), " decisions changed; ",
                   Count(steadiness.changed_freely()), " would have, had nothing been kept.", KeepingText(steadiness));
  if (const int64_t unknown = steadiness.unknown(); unknown > 0) {
    absl::StrAppend(&said, " ", Count(unknown), unknown == 1 ? " earlier decision is" : " earlier decisions are",
                    " on objects that this shot does not have.");
  }
  if (const int64_t added = totals.objects() - steadiness.earlier(); added > 0) {
    absl::StrAppend(&said, " ", Count(added), added == 1 ? " object was" : " objects were", " not in it.");
  }
  return said;
}

}  // namespace

std::string ChangeText(const v1::Plan& plan, const PlanTextOptions& options) {
  if (!plan.totals().has_steadiness()) return "";
  std::vector<const v1::Decision*> changed;
  for (const v1::Decision& decision : plan.decisions()) {
    if (decision.earlier() != v1::TIER_UNSPECIFIED && decision.earlier() != decision.tier()) {
      changed.push_back(&decision);
    }
  }
  std::string text =
      absl::StrCat("\nCHANGED since the earlier plan: ", Count(plan.totals().steadiness().changed()), "\n");
  if (!changed.empty()) {
    std::stable_sort(changed.begin(), changed.end(),
                     [](const v1::Decision* a, const v1::Decision* b) { return a->loss() > b->loss(); });
    TextTable table({{"object", Align::kLeft, kIdColumns},
                     {"was"},
                     {"is"},
                     {"hours", Align::kRight},
                     {"loss", Align::kRight},
                     {"why"}});
    const size_t listed = options.all ? changed.size() : std::min(changed.size(), kShownChanges);
    for (size_t i = 0; i < listed; ++i) {
      const v1::Decision& one = *changed[i];
      table.AddRow({one.object_id(), TierWord(one.earlier()), TierWord(one.tier()), Figure(one.anim_hours()),
                    Measured(one.loss()), ReasonPhrase(one.reason())});
    }
    text += table.Text();
    if (changed.size() > listed) absl::StrAppend(&text, "  and ", changed.size() - listed, " more; all with --all\n");
  }
  return text + Paragraph(SteadinessText(plan.totals()));
}

}  // namespace scantling::client
