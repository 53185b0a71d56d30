// Idea: a table of columns, each a name and a function of a decision, so that header and records cannot fall apart.
//
// Enum values carry the names of the proto file, for programs; numbers carry all their digits.

#include "client/command/plan_csv.h"

#include <functional>
#include <limits>
#include <utility>
#include <vector>

#include "client/command/csv.h"
#include "client/command/units.h"
#include "client/command/words.h"

namespace scantling::client {
namespace {

struct CsvColumn {
  const char* name;
  std::function<std::string(const v1::Decision&)> cell;  // quoted
};

constexpr int kAllRanges = std::numeric_limits<int>::max();

std::vector<CsvColumn> IdentityColumns(bool raw_text) {
  const auto text = [raw_text](const std::string& value) { return CsvCell(raw_text ? value : FormulaSafe(value)); };
  return {{"object_id", [text](const v1::Decision& d) { return text(d.object_id()); }},
          {"class_name", [text](const v1::Decision& d) { return text(d.class_name()); }},
          {"asset_id", [text](const v1::Decision& d) { return text(d.asset_id()); }},
          {"container_id", [text](const v1::Decision& d) { return text(d.container_id()); }},
          {"tier", [](const v1::Decision& d) { return v1::Tier_Name(d.tier()); }},
          {"reason", [](const v1::Decision& d) { return v1::Reason_Name(d.reason()); }},
          {"reason_text", [text](const v1::Decision& d) { return text(d.reason_text()); }}};
}

std::vector<CsvColumn> WorkColumns(const WorkRates& rates) {
  const auto amount = [rates](const v1::Decision& d, WorkUnit unit) { return CsvNumber(AmountOf(d, unit, rates)); };
  return {
      {"needs_animation", [](const v1::Decision& d) { return std::string(d.needs_animation() ? "true" : "false"); }},
      {"animated_frames", [](const v1::Decision& d) { return CsvCell(FramesText(d.animated(), kAllRanges)); }},
      {"hold_frames", [](const v1::Decision& d) { return std::to_string(d.hold()); }},
      {"anim_hours", [amount](const v1::Decision& d) { return amount(d, WorkUnit::kHours); }},
      {"animator_weeks", [amount](const v1::Decision& d) { return amount(d, WorkUnit::kWeeks); }},
      {"animated_seconds", [amount](const v1::Decision& d) { return amount(d, WorkUnit::kSeconds); }},
      {"animated_feet", [amount](const v1::Decision& d) { return amount(d, WorkUnit::kFeet); }},
      {"core_hours", [](const v1::Decision& d) { return CsvNumber(d.core_hours()); }}};
}

std::vector<CsvColumn> PictureColumns() {
  return {{"loss_frame_octaves", [](const v1::Decision& d) { return CsvNumber(d.loss()); }},
          {"seen_frames", [](const v1::Decision& d) { return CsvCell(FramesText(d.seen(), kAllRanges)); }},
          {"height_px", [](const v1::Decision& d) { return CsvNumber(d.height_px()); }},
          {"floor_px", [](const v1::Decision& d) { return CsvNumber(d.floor_px()); }},
          {"floor_term", [](const v1::Decision& d) { return v1::FloorTerm_Name(d.floor_term()); }},
          {"largest_frame", [](const v1::Decision& d) { return std::to_string(d.largest_frame()); }},
          {"near_m", [](const v1::Decision& d) { return CsvNumber(d.near_m()); }},
          {"apparent_m", [](const v1::Decision& d) { return CsvNumber(d.apparent_m()); }}};
}

// What is seen, and on which hold. Behind the columns of earlier versions, so that none of those moves.
std::vector<CsvColumn> SightColumns() {
  return {{"path_hold_frames", [](const v1::Decision& d) { return std::to_string(d.path_hold()); }},
          {"path_split", [](const v1::Decision& d) { return v1::PathSplit_Name(d.path_split()); }},
          {"phase_frames", [](const v1::Decision& d) { return std::to_string(d.phase()); }},
          {"poses_per_cycle", [](const v1::Decision& d) { return CsvNumber(d.poses_per_cycle()); }},
          {"path_jump_px", [](const v1::Decision& d) { return CsvNumber(d.path_jump_px()); }},
          {"contact_slip_px", [](const v1::Decision& d) { return CsvNumber(d.contact_slip_px()); }},
          {"still", [](const v1::Decision& d) { return std::string(d.still() ? "true" : "false"); }},
          {"kept_alive", [](const v1::Decision& d) { return std::string(d.kept_alive() ? "true" : "false"); }},
          {"saved_by_span_anim_hours", [](const v1::Decision& d) { return CsvNumber(d.by_span().saved_anim_hours()); }},
          {"saved_by_span_core_hours", [](const v1::Decision& d) { return CsvNumber(d.by_span().saved_core_hours()); }},
          {"indirect_frames", [](const v1::Decision& d) { return CsvCell(FramesText(d.indirect(), kAllRanges)); }},
          {"hidden_frames", [](const v1::Decision& d) { return std::to_string(d.hidden_frames()); }},
          {"visible_fraction", [](const v1::Decision& d) { return CsvNumber(d.visible_fraction()); }},
          {"band", [](const v1::Decision& d) { return CsvCell(d.band()); }}};
}

// Behind those again: the third department, and the earlier plan (empty where the object was not in it).
std::vector<CsvColumn> LaterColumns() {
  return {{"other_hours", [](const v1::Decision& d) { return CsvNumber(d.other_hours()); }},
          {"earlier_tier", [](const v1::Decision& d) {
             return d.earlier() == v1::TIER_UNSPECIFIED ? std::string() : v1::Tier_Name(d.earlier());
           }}};
}

}  // namespace

std::string PlanCsv(const v1::Plan& plan, bool raw_text) {
  std::vector<CsvColumn> columns = IdentityColumns(raw_text);
  for (auto& column : WorkColumns(RatesOf(plan))) columns.push_back(std::move(column));
  for (auto& column : PictureColumns()) columns.push_back(std::move(column));
  for (auto& column : SightColumns()) columns.push_back(std::move(column));
  for (auto& column : LaterColumns()) columns.push_back(std::move(column));
  std::vector<std::string> cells;
  for (const CsvColumn& column : columns) cells.emplace_back(column.name);
  std::string out = CsvRecord(cells);
  for (const v1::Decision& decision : plan.decisions()) {
    cells.clear();
    for (const CsvColumn& column : columns) cells.push_back(column.cell(decision));
    out += CsvRecord(cells);
  }
  return out;
}

}  // namespace scantling::client
