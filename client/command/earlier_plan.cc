// Idea: both forms become a list of (line, object, tier), which one check looks through. JSON is checked strictly
// before protobuf reads it, as shot files are; the line of a decision in it is looked up only for a fault.
//
// A decision that was not understood must not be kept to, and must not be dropped in silence: so nothing is guessed.

#include "client/command/earlier_plan.h"

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "client/command/csv_read.h"
#include "client/command/plan_filter.h"
#include "client/library/faults.h"
#include "client/library/json_check.h"
#include "client/library/shot_file.h"
#include "client/library/utf8.h"
#include "google/protobuf/util/json_util.h"

namespace scantling::client {
namespace {

constexpr char kIdColumn[] = "object_id";
constexpr char kTierColumn[] = "tier";
constexpr char kTiers[] = "FULL_RIG, PROXY, COLOUR_PATCH or OMITTED";

absl::string_view Absl(std::string_view text) { return {text.data(), text.size()}; }

// Faults so far, each with its place.
class FaultList {
 public:
  explicit FaultList(std::string_view name) : name_(Printable(name)) {}

  void Add(int line, std::string_view field, std::string_view description) {
    Add(absl::StrCat(":", line, field.empty() ? "" : ": ", Absl(field)), description);
  }
  void Add(const std::string& place, std::string_view description) {
    if (++count_ > kMostEarlierFaults) return;
    auto* fault = faults_.add_field_violations();
    fault->set_field(name_ + place);
    fault->set_description(std::string(description));
  }

  bool empty() const { return count_ == 0; }
  // Whether a further fault would be listed; looking up its line is of use only then.
  bool has_room() const { return count_ < kMostEarlierFaults; }

  absl::Status Status() const {
    std::string said = absl::StrCat(name_, " is no earlier plan: ", count_, " fault(s)");
    if (count_ > kMostEarlierFaults) absl::StrAppend(&said, ", the first ", kMostEarlierFaults, " of them:");
    return WithFaults(absl::InvalidArgumentError(said), faults_);
  }

 private:
  std::string name_;
  size_t count_ = 0;
  google::rpc::BadRequest faults_;
};

void CheckIds(const EarlierDecisions& decisions, const std::vector<int>& lines, FaultList& faults) {
  std::map<std::string_view, size_t> first;
  for (int i = 0; i < decisions.size(); ++i) {
    const std::string& id = decisions[i].object_id();
    const auto at = static_cast<size_t>(i);
    const auto [place, is_new] = first.try_emplace(id, at);
    if (is_new) continue;
    faults.Add(lines[at], kIdColumn,
               absl::StrCat("got \"", Printable(id), "\" twice, first in line ", lines[place->second],
                            ", want each object once"));
  }
}

std::string Shown(std::string_view text) { return absl::StrCat("\"", Printable(text), "\""); }

// ---- Tables

// FormulaSafe undone.
std::string WithoutGuard(std::string cell) {
  constexpr std::string_view kRisky = "=+-@\t\r\n";
  const bool guarded = cell.size() > 1 && cell[0] == '\'' && kRisky.find(cell[1]) != kRisky.npos;
  return guarded ? cell.substr(1) : cell;
}

struct TableColumns {
  size_t id = 0, tier = 0, count = 0;
};

bool ReadHeading(CsvReader& reader, TableColumns& columns, FaultList& faults) {
  CsvRow row;
  if (!reader.Next(row)) row.cells = {""};
  const auto place = [&](const char* name) {
    return static_cast<size_t>(std::find(row.cells.begin(), row.cells.end(), name) - row.cells.begin());
  };
  columns = {place(kIdColumn), place(kTierColumn), row.cells.size()};
  if (!row.fault.empty()) faults.Add(row.line, "", row.fault);
  for (const char* name : {kIdColumn, kTierColumn}) {
    const auto times = std::count(row.cells.begin(), row.cells.end(), name);
    if (times == 1) continue;
    faults.Add(row.line, "",
               absl::StrCat("got ", times == 0 ? "no" : "more than one", " column ", name,
                            " in the heading, want a plan in JSON or a table with the columns object_id and tier"));
  }
  return faults.empty();
}

void ReadRow(CsvRow& row, const TableColumns& columns, EarlierDecisions& decisions, std::vector<int>& lines,
             FaultList& faults) {
  if (!row.fault.empty()) return faults.Add(row.line, "", row.fault);
  if (row.cells.size() != columns.count) {
    return faults.Add(row.line, "", absl::StrCat("got ", row.cells.size(), " cells, want ", columns.count));
  }
  const std::string id = WithoutGuard(std::move(row.cells[columns.id]));
  const auto tier = TierOf(row.cells[columns.tier]);
  if (id.empty()) faults.Add(row.line, kIdColumn, "got nothing, want an object's id");
  if (!IsUtf8(id)) faults.Add(row.line, kIdColumn, absl::StrCat("got ", Shown(id), ", want UTF-8"));
  if (!tier) faults.Add(row.line, kTierColumn, absl::StrCat("got ", Shown(row.cells[columns.tier]), ", want ", kTiers));
  if (id.empty() || !tier || !IsUtf8(id)) return;
  v1::EarlierDecision& decision = *decisions.Add();
  decision.set_object_id(id);
  decision.set_tier(*tier);
  lines.push_back(row.line);
}

EarlierDecisions ReadTable(std::string_view content, FaultList& faults) {
  EarlierDecisions decisions;
  std::vector<int> lines;
  CsvReader reader(content);
  TableColumns columns;
  if (!ReadHeading(reader, columns, faults)) return decisions;
  CsvRow row;
  while (reader.Next(row)) ReadRow(row, columns, decisions, lines, faults);
  CheckIds(decisions, lines, faults);
  return decisions;
}

// ---- JSON

int LineOf(std::string_view content, const std::string& field, const FaultList& faults) {
  JsonPlace place;
  if (faults.has_room()) FindInJson(content, *v1::Plan::descriptor(), field, place);
  return place.line;
}

void CheckDecisions(std::string_view content, const v1::Plan& plan, FaultList& faults) {
  std::map<std::string_view, int> first;
  for (int i = 0; i < plan.decisions_size(); ++i) {
    const v1::Decision& decision = plan.decisions(i);
    const std::string path = absl::StrCat("decisions[", i, "]");
    const auto fault = [&](const char* field, const std::string& description) {
      faults.Add(LineOf(content, path, faults), absl::StrCat(path, ".", field), description);
    };
    if (decision.object_id().empty()) fault(kIdColumn, "got nothing, want an object's id");
    if (decision.tier() < v1::OMITTED || decision.tier() > v1::FULL_RIG) {
      fault(kTierColumn, absl::StrCat("got ", v1::Tier_Name(decision.tier()), ", want ", kTiers));
    }
    const auto [place, is_new] = first.try_emplace(decision.object_id(), i);
    if (is_new || decision.object_id().empty()) continue;
    fault(kIdColumn, absl::StrCat("got ", Shown(decision.object_id()), " twice, first in decisions[", place->second,
                                  "], want each object once"));
  }
}

EarlierDecisions ReadJson(std::string_view content, FaultList& faults) {
  for (const JsonFault& fault : CheckJson(content, *v1::Plan::descriptor())) {
    faults.Add(absl::StrCat(":", fault.line, ":", fault.column, fault.field.empty() ? "" : ": ", fault.field),
               fault.description);
  }
  if (!faults.empty()) return {};
  v1::Plan plan;
  const auto parsed = google::protobuf::util::JsonStringToMessage({content.data(), content.size()}, &plan);
  if (!parsed.ok()) {
    faults.Add("", Printable({parsed.message().data(), parsed.message().size()}));
    return {};
  }
  CheckDecisions(content, plan, faults);
  EarlierDecisions decisions;
  decisions.Reserve(plan.decisions_size());
  for (v1::Decision& decision : *plan.mutable_decisions()) {
    v1::EarlierDecision& one = *decisions.Add();
    one.mutable_object_id()->swap(*decision.mutable_object_id());
    one.set_tier(decision.tier());
  }
  return decisions;
}

}  // namespace

absl::StatusOr<EarlierDecisions> ParseEarlier(std::string_view content, std::string_view name) {
  FaultList faults(name);
  const size_t first = content.find_first_not_of(" \t\r\n");
  const bool is_json = first != content.npos && content[first] == '{';
  EarlierDecisions decisions = is_json ? ReadJson(content, faults) : ReadTable(content, faults);
  if (faults.empty() && decisions.empty()) faults.Add("", "got no decisions, want at least one");
  if (!faults.empty()) return faults.Status();
  return decisions;
}

absl::StatusOr<EarlierDecisions> ReadEarlier(const std::string& name) {
  const absl::StatusOr<std::string> content = ReadContent(name);
  if (!content.ok()) return content.status();
  return ParseEarlier(*content, name);
}

}  // namespace scantling::client
