// Idea: the table is the answer, the chart its shape, and the last sentences what to take from both. The swept budgets
// stand in the first columns, each with what the plan there really uses.
//
// Along both budgets a price per hour would be two numbers of which neither is the slope: the price of a step is told
// instead.

#include "client/command/frontier_text.h"

#include <algorithm>
#include <optional>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/command/frontier_chart.h"
#include "client/command/table.h"
#include "client/command/units.h"
#include "client/command/words.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

using Point = v1::FrontierPoint;
using Request = v1::TraceFrontierRequest;

// One swept budget: its name, the limit at a point, what the plan there uses, and the price of an hour.
struct Swept {
  std::string unit;
  double (Point::*limit)() const;
  double (Point::*used)() const;
  double (Point::*price)() const;
  std::optional<double> nothing_lost;
};

std::vector<Swept> SweptOf(const v1::FrontierSummary& summary) {
  const auto told = [](bool has, double hours) { return has ? std::optional<double>(hours) : std::nullopt; };
  Swept anim = {"animator-hours", &Point::anim_hours, &Point::used_anim_hours, &Point::price_anim_hour,
                told(summary.has_nothing_lost_anim_hours(), summary.nothing_lost_anim_hours())};
  Swept core = {"core-hours", &Point::core_hours, &Point::used_core_hours, &Point::price_core_hour,
                told(summary.has_nothing_lost_core_hours(), summary.nothing_lost_core_hours())};
  Swept other = {absl::StrCat(Printable(summary.other_department()), "-hours"), &Point::other_hours,
                 &Point::used_other_hours, &Point::price_other_hour,
                 told(summary.has_nothing_lost_other_hours(), summary.nothing_lost_other_hours())};
  switch (summary.along()) {
    case Request::CORE_HOURS:
      return {std::move(core)};
    case Request::OTHER_HOURS:
      return {std::move(other)};
    case Request::BOTH:
      return {std::move(anim), std::move(core)};
    default:
      return {std::move(anim)};
  }
}

int KneeOf(const v1::FrontierSummary& summary) { return summary.has_knee() ? summary.knee() : -1; }

// A loss or price, which may be next to nothing: no reader tells such numbers apart.
std::string Small(double value) {
  constexpr double kLeastTold = 1e-4;
  return value > 0 && value < kLeastTold ? "<0.0001" : Measured(value);
}

// "5,120 animator-hours and 900 core-hours".
std::string LimitsAt(const std::vector<Swept>& swept, const Point& point) {
  std::string text;
  for (const Swept& one : swept) {
    absl::StrAppend(&text, text.empty() ? "" : " and ", Measured((point.*one.limit)()), " ", one.unit);
  }
  return text;
}

std::string PriceAt(const std::vector<Swept>& swept, const Point& point) {
  if (swept.size() == 1) return Small((point.*swept[0].price)());
  return point.index() == 0 ? "-" : Small(point.price_per_step());
}

std::string GapText(double gap) { return gap == 0 ? "0" : absl::StrCat(Small(100 * gap), "%"); }

std::vector<std::string> CellsOf(const std::vector<Swept>& swept, const Point& point, bool is_knee) {
  std::vector<std::string> cells;
  for (const Swept& one : swept) {
    cells.push_back(Measured((point.*one.limit)()));
    cells.push_back(point.fits() ? Measured((point.*one.used)()) : "");
  }
  if (!point.fits()) {
    cells.insert(cells.end(), 7, "");
    cells.push_back("no plan fits");
    return cells;
  }
  for (std::string cell :
       {Small(point.loss()), GapText(point.gap()), PriceAt(swept, point), Count(point.full_rig()), Count(point.proxy()),
        Count(point.colour_patch()), Count(point.omitted()), Count(point.needs_animation())}) {
    cells.push_back(std::move(cell));
  }
  cells.push_back(is_knee ? "knee" : "");
  return cells;
}

}  // namespace

std::vector<size_t> ShownLines(size_t count, size_t most, int must) {
  std::vector<size_t> lines;
  if (count <= most) {
    for (size_t i = 0; i < count; ++i) lines.push_back(i);
    return lines;
  }
  for (size_t i = 0; i < most; ++i) lines.push_back(i * (count - 1) / (most - 1));
  const auto wanted = static_cast<size_t>(must);
  if (must < 0 || wanted >= count || std::binary_search(lines.begin(), lines.end(), wanted)) return lines;
  // It takes the place of its nearest neighbour that is not an end.
  const auto after = static_cast<size_t>(std::upper_bound(lines.begin(), lines.end(), wanted) - lines.begin());
  const size_t place = std::clamp<size_t>(after, 1, most - 2);
  lines[place] = wanted;
  std::sort(lines.begin(), lines.end());
  return lines;
}

std::string FrontierHeader(const TracedFrontier& frontier) {
  const std::vector<Swept> swept = SweptOf(frontier.summary);
  std::string text = absl::StrCat("Shot ", Printable(frontier.summary.shot_id()), "   style ",
                                  Printable(frontier.summary.style()), "\n");
  if (frontier.points.empty()) return text;
  const Point& loosest = frontier.points.front();
  const std::string staying = BudgetsText(frontier.options, frontier.summary.other_department());
  const std::string most = swept.size() == 1 ? Measured((loosest.*swept[0].limit)()) : LimitsAt(swept, loosest);
  return absl::StrCat(text, Count(static_cast<int64_t>(frontier.points.size())), " budgets, from ", most, " down to ",
                      LimitsAt(swept, frontier.points.back()), staying.empty() ? "" : ", each within ", staying, "\n");
}

std::string FrontierTable(const TracedFrontier& frontier, bool all) {
  const std::vector<Swept> swept = SweptOf(frontier.summary);
  std::vector<Column> columns;
  for (const Swept& one : swept) {
    columns.push_back({one.unit, Align::kRight});
    columns.push_back({"used", Align::kRight});
  }
  for (const char* heading : {"loss", "gap", "price", "full", "proxy", "patch", "omitted", "animate"}) {
    columns.push_back({heading, Align::kRight});
  }
  columns.push_back({""});
  TextTable table(columns);
  const int knee = KneeOf(frontier.summary);
  const size_t most = all ? frontier.points.size() : kShownPoints;
  const std::vector<size_t> lines = ShownLines(frontier.points.size(), most, knee);
  for (const size_t line : lines) {
    const Point& point = frontier.points[line];
    table.AddRow(CellsOf(swept, point, point.index() == knee));
  }
  std::string text = absl::StrCat("\n", table.Text());
  if (lines.size() < frontier.points.size()) {
    absl::StrAppend(&text, "  ", lines.size(), " of ", frontier.points.size(), " budgets; all with --all\n");
  }
  return text + Paragraph(absl::StrCat(
                    "Loss in frame-octaves; gap: how far from the best at most; price: loss won back ",
                    swept.size() == 1 ? "per hour more" : "by a step to the next larger budgets",
                    "; then how many objects are made in full, as proxy, as colour patch, or omitted, and how many "
                    "need animating."));
}

std::string FrontierPicture(const TracedFrontier& frontier) {
  const Swept swept = SweptOf(frontier.summary)[0];
  const int knee = KneeOf(frontier.summary);
  std::vector<BudgetMark> marks;
  for (const Point& point : frontier.points) {
    marks.push_back({(point.*swept.limit)(), point.fits(), point.loss(), point.index() == knee});
  }
  const std::string chart = FrontierChart(std::move(marks), swept.unit, FrontierChartSize());
  return chart.empty() ? "" : "\n" + chart;
}

std::string FindingsText(const v1::FrontierSummary& summary, const std::vector<v1::FrontierPoint>& points) {
  const std::vector<Swept> swept = SweptOf(summary);
  std::string text = "\n";
  const auto at =
      std::find_if(points.begin(), points.end(), [&](const Point& point) { return point.index() == KneeOf(summary); });
  const bool any_fits = std::any_of(points.begin(), points.end(), [](const Point& point) { return point.fits(); });
  if (!any_fits) {
    text += Paragraph("No plan fits any of these budgets.");
  } else if (at == points.end()) {
    text += Paragraph("No knee: the price of a step drops nowhere.");
  } else {
    text += Paragraph(absl::StrCat("Knee at ", LimitsAt(swept, *at),
                                   ": of two neighbouring budgets between which the price of a step drops most, the "
                                   "larger. More than that buys much less."));
  }
  std::string said;
  for (const Swept& one : swept) {
    if (one.nothing_lost) {
      absl::StrAppend(&said, said.empty() ? "" : " and ", Measured(*one.nothing_lost), " ", one.unit);
    }
  }
  text += Paragraph(said.empty() ? "A limit that stays keeps something visible lost, whatever this budget."
                                 : absl::StrCat("Nothing visible is lost any more from ", said, " on."));
  return text;
}

std::string FrontierText(const TracedFrontier& frontier, bool all) {
  std::string text = FrontierHeader(frontier) + FrontierTable(frontier, all) + FrontierPicture(frontier) +
                     FindingsText(frontier.summary, frontier.points);
  return text + "\n" +
         Paragraph(absl::StrCat(Printable(frontier.summary.estimate_note()),
                                " They decide nobody's job or schedule by themselves."));
}

}  // namespace scantling::client
