// What bounded a plan, and what became of its crowds.
//
// Of the limits a reader wants to see what he asked for and what presses. A shot can have hundreds that do neither (a
// frame's memory each): those are counted, not listed.

#include <algorithm>
#include <vector>

#include "absl/strings/str_cat.h"
#include "client/command/plan_text.h"
#include "client/command/table.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr size_t kShownLimits = 12;
constexpr int kLimitColumns = 52;

// A budget in hours; whatever else there is was asked for by the shot, or is one of many frames.
bool IsBudget(const v1::Totals& totals, const v1::Limit& limit) {
  return limit.what() == "animator-hours" || limit.what() == "core-hours" ||
         (!limit.what().empty() && limit.what() == totals.other_department());
}

std::string NameOf(const v1::Totals& totals, const v1::Limit& limit) {
  return limit.what() == totals.other_department() ? absl::StrCat(limit.what(), "-hours") : limit.what();
}

std::string Per100(double share) { return absl::StrCat(Figure(100 * share), "%"); }

std::string CrowdText(const v1::CrowdFigures& crowd) {
  std::string said =
      absl::StrCat(Printable(crowd.name()), ": ", Count(crowd.kept()), " kept of ", Count(crowd.seen()), " seen");
  if (crowd.seen() > 0) {
    absl::StrAppend(&said, ", ", Per100(static_cast<double>(crowd.kept()) / static_cast<double>(crowd.seen())));
  }
  if (crowd.keep_share() > 0) absl::StrAppend(&said, " (asked for: at least ", Per100(crowd.keep_share()), ")");
  if (crowd.members() > crowd.seen()) {
    absl::StrAppend(&said, "; ", Count(crowd.members() - crowd.seen()), " more are never seen");
  }
  said += ".";
  if (crowd.emptiest_column() > 0 && crowd.emptiest_share() >= 1) {
    absl::StrAppend(&said, " In every cell of the picture all that it covers is kept.");
  } else if (crowd.emptiest_column() > 0) {
    absl::StrAppend(&said, " Emptiest cell: column ", crowd.emptiest_column(), ", row ", crowd.emptiest_row(),
                    ", where ", Per100(crowd.emptiest_share()), " of what it covers is kept");
    if (crowd.least_covered_share() > 0) {
      absl::StrAppend(&said, " (asked for: at least ", Per100(crowd.least_covered_share()), ")");
    }
    said += ".";
  }
  if (!crowd.twin_a().empty()) {
    absl::StrAppend(&said, " Nearest twins: ", Printable(crowd.twin_a()), " and ", Printable(crowd.twin_b()), ", ",
                    Measured(crowd.twins_px()), " px apart in frame ", crowd.twins_frame(), ".");
  }
  return said;
}

}  // namespace

std::string LimitsText(const v1::Plan& plan, const PlanTextOptions& options) {
  std::vector<const v1::Limit*> shown;
  size_t slack = 0;
  const v1::Totals& totals = plan.totals();
  for (const v1::Limit& limit : totals.limits()) {
    if (IsBudget(totals, limit) || limit.price() > 0 || options.all) {
      shown.push_back(&limit);
    } else {
      ++slack;
    }
  }
  if (shown.empty()) return "";
  const auto budgets_end = std::stable_partition(
      shown.begin(), shown.end(), [&totals](const v1::Limit* limit) { return IsBudget(totals, *limit); });
  std::stable_sort(budgets_end, shown.end(),
                   [](const v1::Limit* a, const v1::Limit* b) { return a->price() > b->price(); });
  TextTable table({{"WHAT BOUNDED IT", Align::kLeft, kLimitColumns},
                   {"at most", Align::kRight},
                   {"used", Align::kRight},
                   {"loss won back per unit more", Align::kRight}});
  const size_t listed = options.all ? shown.size() : std::min(shown.size(), kShownLimits);
  for (size_t i = 0; i < listed; ++i) {
    const v1::Limit& limit = *shown[i];
    table.AddRow({NameOf(totals, limit), Measured(limit.most()), Measured(limit.used()),
                  limit.price() > 0 ? Measured(limit.price()) : "does not bind"});
  }
  std::string text = absl::StrCat("\n", table.Text());
  if (shown.size() > listed) absl::StrAppend(&text, "  and ", shown.size() - listed, " more; all with --all\n");
  if (slack > 0) absl::StrAppend(&text, "  ", slack, " more of crowds or frames were held to and do not bind\n");
  return text;
}

std::string CrowdsText(const v1::Plan& plan) {
  if (plan.totals().crowds().empty()) return "";
  std::string text = "\nCROWDS\n";
  for (const v1::CrowdFigures& crowd : plan.totals().crowds()) text += Paragraph(CrowdText(crowd));
  return text;
}

}  // namespace scantling::client
