// The second half of a plan's report: ranges of cost, what is saved unseen and bought, memory, prices and proof in
// words.
//
// Savings are printed as the daemon computed them, with the same draws on both sides; differences of the printed ranges
// would be wrong, so none are taken here.

#include <string>
#include <vector>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "client/command/plan_text.h"
#include "client/command/table.h"
#include "client/command/words.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr int kNamedRanges = 6;
constexpr char kBySpanLabel[] = "would be saved by tier and hold of each span";

void AddRange(const std::string& what, const v1::CostRange& range, TextTable& table) {
  const v1::Range& anim = range.anim_hours();
  const v1::Range& core = range.core_hours();
  table.AddRow({what, Figure(anim.p10()), Figure(anim.p50()), Figure(anim.p90()), Figure(core.p10()),
                Figure(core.p50()), Figure(core.p90())});
}

struct CostRow {
  std::string what;
  v1::CostRange range;
};

std::string UnseenLabel(double phi_scale) {
  if (phi_scale == 1) return "  of it unseen: no visible loss";
  return absl::StrCat("    were kept features ", phi_scale, " times that size");
}

std::string ShareText(const v1::Totals& totals) {
  const double full = totals.everything_full().anim_hours().mean();
  if (!(full > 0)) return "";
  const double share = 100 * totals.plan().anim_hours().mean() / full;
  return absl::StrCat(", ", Figure(share), "% of everything in full rig");
}

std::string PriceText(double price, const std::string& hour, bool has_budget) {
  if (!has_budget) return "";
  if (price == 0) return absl::StrCat(" One more ", hour, " would change nothing: that budget does not bind.");
  return absl::StrCat(" One more ", hour, " would win back about ", Measured(price), " frame-octaves.");
}

// The lines of both tables.
std::vector<CostRow> CostRows(const v1::Plan& plan) {
  const v1::Totals& totals = plan.totals();
  std::vector<CostRow> rows = {
      {"everything in full rig", totals.everything_full()}, {"this plan", totals.plan()}, {"saved", totals.saving()}};
  // As given first, then what the judgement of kept detail does to it.
  for (const auto& unseen : totals.unseen_saving()) {
    if (unseen.phi_scale() == 1) rows.push_back({UnseenLabel(1), unseen.saving()});
  }
  for (const auto& unseen : totals.unseen_saving()) {
    if (unseen.phi_scale() != 1) rows.push_back({UnseenLabel(unseen.phi_scale()), unseen.saving()});
  }
  if (plan.mode() != "unseen") rows.push_back({"  of it bought: some visible loss", totals.bought_saving()});
  const v1::CostRange& by_span = totals.saved_by_span();
  if (by_span.anim_hours().mean() > 0 || by_span.core_hours().mean() > 0 || by_span.other_hours().mean() > 0) {
    rows.push_back({kBySpanLabel, by_span});
  }
  return rows;
}

// The third department stands in a table of its own: beside the others the lines would not fit a screen.
std::string OtherCostText(const std::vector<CostRow>& rows, const std::string& department) {
  if (department.empty()) return "";
  TextTable table({{absl::StrCat("COST OF ", absl::AsciiStrToUpper(department), ", estimated")},
                   {absl::StrCat(department, "-hours P10"), Align::kRight},
                   {"P50", Align::kRight},
                   {"P90", Align::kRight}});
  for (const CostRow& row : rows) {
    const v1::Range& hours = row.range.other_hours();
    if (row.what == kBySpanLabel && hours.mean() == 0) continue;
    table.AddRow({row.what, Figure(hours.p10()), Figure(hours.p50()), Figure(hours.p90())});
  }
  return absl::StrCat("\n", table.Text());
}

}  // namespace

std::string CostText(const v1::Plan& plan, const PlanTextOptions& options) {
  const v1::Totals& totals = plan.totals();
  TextTable table({{"COST, estimated"},
                   {"animator-hours P10", Align::kRight},
                   {"P50", Align::kRight},
                   {"P90", Align::kRight},
                   {"core-hours P10", Align::kRight},
                   {"P50", Align::kRight},
                   {"P90", Align::kRight}});
  const std::vector<CostRow> rows = CostRows(plan);
  for (const CostRow& row : rows) AddRange(row.what, row.range, table);
  const WorkRates rates = RatesOf(plan);
  std::string text = absl::StrCat("\n", table.Text());
  absl::StrAppend(&text, "  Animation in this plan, mean: ", Figure(AmountOf(totals, WorkUnit::kHours, rates)),
                  " animator-hours = ", Figure(totals.animator_weeks()), " animator-weeks of ",
                  Measured(rates.hours_per_week), " h", ShareText(totals), "\n");
  if (totals.shared_anim_hours() > 0) {
    absl::StrAppend(&text, "  Of these ", Figure(totals.shared_anim_hours()),
                    " animator-hours are set-ups that are paid once an asset, however many use it\n");
  }
  if (options.unit == WorkUnit::kSeconds || options.unit == WorkUnit::kFeet) {
    absl::StrAppend(&text, "  Counted over all objects: ", Measured(totals.animated_seconds()),
                    " seconds of animation = ", Measured(AmountOf(totals, WorkUnit::kFeet, rates)), " feet of film at ",
                    kFramesPerFoot, " frames to the foot\n");
  }
  return text + OtherCostText(rows, totals.other_department());
}

std::string MemoryText(const v1::Plan& plan) {
  const v1::Totals& totals = plan.totals();
  if (!(totals.peak_memory_mb() > 0)) return "";
  std::string said = absl::StrCat("Most memory in one frame: ", Measured(totals.peak_memory_mb()), " MB, in frame ",
                                  totals.peak_memory_frame());
  if (plan.options().has_memory_mb()) {
    absl::StrAppend(&said, "; allowed ", Measured(plan.options().memory_mb()), " MB");
  }
  absl::StrAppend(&said, " (what an asset needs counts once a frame).");
  if (!totals.over_memory().empty()) {
    const int64_t frames = FrameCount(totals.over_memory());
    absl::StrAppend(&said, " Over the limit in ", frames == 1 ? "frame " : "frames ",
                    FramesText(totals.over_memory(), kNamedRanges), ": no plan was found that stays within it there.");
  }
  return "\nMEMORY\n" + Paragraph(said);
}

std::string ProofText(const v1::Plan& plan) {
  const v1::Totals& totals = plan.totals();
  const bool unseen = plan.mode() == "unseen";
  std::string text = "\nLOSS AND PROOF\n";
  std::string said;
  if (totals.loss() == 0) {
    said = "No visible loss: whatever was left out is below the legibility floor in every frame.";
  } else {
    said = absl::StrCat("Visible loss ", Measured(totals.loss()),
                        " frame-octaves (one: a whole picture, one octave too coarse, for one frame).");
  }
  const char* within = unseen ? "that keeps to the directives" : "within these budgets";
  if (totals.proved_optimal()) {
    absl::StrAppend(&said, " Proved: no plan ", within, " loses less.");
  } else {
    absl::StrAppend(&said, " Proved: no plan ", within, " loses less than ", Measured(totals.loss_bound()),
                    ", so this one is at most ", Measured(100 * totals.gap()), "% from the best.");
  }
  if (totals.interrupted())
    absl::StrAppend(&said, " Cut short by the time limit: this is the best plan found by then.");
  absl::StrAppend(&said, PriceText(totals.price_anim_hour(), "animator-hour", plan.options().has_anim_hours()));
  absl::StrAppend(&said, PriceText(totals.price_core_hour(), "core-hour", plan.options().has_core_hours()));
  absl::StrAppend(&said,
                  PriceText(totals.price_other_hour(), absl::StrCat(Printable(totals.other_department()), "-hour"),
                            plan.options().has_other_hours()));
  return text + Paragraph(said);
}

}  // namespace scantling::client
