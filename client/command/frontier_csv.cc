// Idea: as plan_csv, a table of columns, each a name and a function of a point, so that header and records cannot fall
// apart. Records are made one by one, because points are printed as they arrive.
//
// Where no plan fits there are no figures: the cells are empty, for a 0 would be read as no loss.

#include "client/command/frontier_csv.h"

#include <functional>
#include <vector>

#include "client/command/csv.h"

namespace scantling::client {
namespace {

using Point = v1::FrontierPoint;

struct PointColumn {
  const char* name;
  std::function<std::string(const Point&)> cell;
};

std::string LimitCell(bool is_set, double hours) { return is_set ? CsvNumber(hours) : ""; }

PointColumn Figure(const char* name, double (Point::*figure)() const) {
  return {name, [figure](const Point& p) { return p.fits() ? CsvNumber((p.*figure)()) : std::string(); }};
}

PointColumn Number(const char* name, int64_t (Point::*number)() const) {
  return {name, [number](const Point& p) { return p.fits() ? std::to_string((p.*number)()) : std::string(); }};
}

const std::vector<PointColumn>& Columns() {
  static const auto& columns = *new std::vector<PointColumn>{
      {"index", [](const Point& p) { return std::to_string(p.index()); }},
      {"most_anim_hours", [](const Point& p) { return LimitCell(p.has_anim_hours(), p.anim_hours()); }},
      {"most_core_hours", [](const Point& p) { return LimitCell(p.has_core_hours(), p.core_hours()); }},
      {"most_other_hours", [](const Point& p) { return LimitCell(p.has_other_hours(), p.other_hours()); }},
      {"fits", [](const Point& p) { return std::string(p.fits() ? "true" : "false"); }},
      Figure("loss_frame_octaves", &Point::loss),
      Figure("loss_bound_frame_octaves", &Point::loss_bound),
      Figure("gap", &Point::gap),
      Figure("used_anim_hours", &Point::used_anim_hours),
      Figure("used_core_hours", &Point::used_core_hours),
      Figure("used_other_hours", &Point::used_other_hours),
      Figure("price_anim_hour", &Point::price_anim_hour),
      Figure("price_core_hour", &Point::price_core_hour),
      Figure("price_other_hour", &Point::price_other_hour),
      Figure("price_per_step", &Point::price_per_step),
      Number("full_rig", &Point::full_rig),
      Number("proxy", &Point::proxy),
      Number("colour_patch", &Point::colour_patch),
      Number("omitted", &Point::omitted),
      Number("needs_animation", &Point::needs_animation)};
  return columns;
}

}  // namespace

std::string FrontierCsvHeader() {
  std::vector<std::string> cells;
  for (const PointColumn& column : Columns()) cells.emplace_back(column.name);
  return CsvRecord(cells);
}

std::string FrontierCsvRecord(const v1::FrontierPoint& point) {
  std::vector<std::string> cells;
  for (const PointColumn& column : Columns()) cells.push_back(column.cell(point));
  return CsvRecord(cells);
}

}  // namespace scantling::client
