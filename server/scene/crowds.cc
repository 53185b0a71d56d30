// Crowds are checked with the head of the shot and gathered when all objects are known.
//
// A crowd is a bit: every name marks with it the class, asset, object or container that it stands for, and the crowds
// of an object are the marks of its own class, asset, row and container put together. One pass over the objects counts
// the members of all crowds and one lists them, so the time is that of objects, names and members, whatever the number
// of crowds.

#include "server/scene/crowds.h"

#include <algorithm>
#include <bit>
#include <numeric>
#include <optional>
#include <string>
#include <unordered_set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/builder_state.h"
#include "server/scene/faults.h"
#include "server/scene/text.h"

namespace scantling {
namespace {

// As many as there are bits in a mark.
size_t MostCrowds(const SceneLimits& limits) { return std::min<size_t>(limits.crowds, 64); }

void CheckShare(const std::string& field, const std::optional<double>& share, Violations& violations) {
  if (share && !(*share >= 0 && *share <= 1)) violations.Add(field, GotNumber(*share, "a share from 0 to 1"));
}

void CheckCells(const std::string& path, const CrowdSpec& crowd, Violations& violations) {
  bool good = true;
  for (const auto& [field, count] : {std::pair{".cell_columns", crowd.columns}, std::pair{".cell_rows", crowd.rows}}) {
    if (count >= 0 && count <= kMostCells) continue;
    violations.Add(path + field, GotInteger(count, absl::StrCat("0 to ", kMostCells)));
    good = false;
  }
  if (!good) return;
  if ((crowd.columns == 0) != (crowd.rows == 0)) {
    violations.Add(path + (crowd.columns == 0 ? ".cell_columns" : ".cell_rows"),
                   "got 0, want both numbers of cells above 0, or neither");
  } else if (crowd.columns * crowd.rows > kMostCells) {
    violations.Add(path + ".cell_columns",
                   absl::StrCat("got ", crowd.columns, " x ", crowd.rows, " (", crowd.columns * crowd.rows,
                                " cells), want at most ", kMostCells, " cells"));
  }
  if (crowd.columns == 0 && crowd.rows == 0 && crowd.least_covered_share) {
    violations.Add(path + ".least_covered_share",
                   GotNumber(*crowd.least_covered_share, "cell_columns and cell_rows beside it"));
  }
}

void CheckNames(const std::string& path, const std::vector<std::string>& names, Violations& violations) {
  for (size_t i = 0; i < names.size(); ++i) {
    std::string fault = NameFault(names[i], 1, kLongestNameBytes);
    if (!fault.empty()) violations.Add(absl::StrCat(path, "[", i, "]"), std::move(fault));
  }
}

// What is being named, and by whom.
struct Naming {
  uint64_t crowd = 0;  // its bit
  const std::string& path;
  const char* want;
  bool silent;  // what is not found may be among what could not be read
};

// Marks what the names stand for with the crowd's bit; faults for those that stand for nothing. `find` says the place,
// kNone where there is none, nullopt where that was reported already.
template <typename Find>
void Mark(const std::vector<std::string>& names, const Naming& naming, const Find& find, std::vector<uint64_t>& marks,
          Violations& violations) {
  for (size_t i = 0; i < names.size(); ++i) {
    const std::optional<uint32_t> place = find(names[i]);
    if (!place) continue;
    if (*place != kNone) {
      marks[*place] |= naming.crowd;
    } else if (!naming.silent) {
      AddFault(
          violations, [&] { return absl::StrCat(naming.path, "[", i, "]"); },
          [&] { return GotText(names[i], naming.want); });
    }
  }
}

// Crowds that name an object, a bit each, by what they name.
struct Marks {
  std::vector<uint64_t> of_class, of_asset, of_object, of_container;

  uint64_t Of(const Objects& objects, uint32_t row) const {
    uint64_t crowds = of_object[row] | of_class[objects.class_index[row]];
    if (objects.asset[row] != kNone) crowds |= of_asset[objects.asset[row]];
    if (objects.container[row] != kNone) crowds |= of_container[objects.container[row]];
    return crowds;
  }
};

// Rows are gone through in order, so members rise.
std::vector<std::vector<uint32_t>> MembersOf(const Marks& marks, const Objects& objects,
                                             const std::vector<int64_t>& counts) {
  std::vector<std::vector<uint32_t>> members(counts.size());
  for (size_t crowd = 0; crowd < counts.size(); ++crowd) members[crowd].reserve(static_cast<size_t>(counts[crowd]));
  for (uint32_t row = 0; row < objects.size(); ++row) {
    for (uint64_t left = marks.Of(objects, row); left != 0; left &= left - 1) {
      members[static_cast<size_t>(std::countr_zero(left))].push_back(row);
    }
  }
  return members;
}

std::vector<int64_t> CountMembers(const Marks& marks, const Objects& objects, size_t crowds) {
  std::vector<int64_t> counts(crowds, 0);
  for (uint32_t row = 0; row < objects.size(); ++row) {
    for (uint64_t left = marks.Of(objects, row); left != 0; left &= left - 1) {
      ++counts[static_cast<size_t>(std::countr_zero(left))];
    }
  }
  return counts;
}

Crowd CrowdOf(const CrowdSpec& spec, std::vector<uint32_t> members) {
  Crowd crowd;
  crowd.name = spec.name;
  crowd.members = std::move(members);
  crowd.keep_share = spec.keep_share.value_or(0);
  crowd.columns = spec.columns;
  crowd.rows = spec.rows;
  crowd.least_covered_share = spec.least_covered_share.value_or(0);
  return crowd;
}

}  // namespace

void CheckCrowds(const std::vector<CrowdSpec>& crowds, const SceneLimits& limits, const ClassCatalogue& catalogue,
                 Violations& violations) {
  if (crowds.size() > MostCrowds(limits)) {
    violations.Add("crowds", GotCount(crowds.size(), absl::StrCat("at most ", MostCrowds(limits))));
  }
  std::unordered_set<std::string> names;
  size_t named = 0;
  for (size_t i = 0; i < crowds.size(); ++i) {
    const CrowdSpec& crowd = crowds[i];
    const std::string path = absl::StrCat("crowds[", i, "]");
    std::string fault = NameFault(crowd.name, 1, kLongestNameBytes);
    if (fault.empty() && !names.insert(crowd.name).second) {
      fault = GotText(crowd.name, "a name that no other crowd has");
    }
    if (!fault.empty()) violations.Add(path + ".name", std::move(fault));
    CheckNames(path + ".object_ids", crowd.object_ids, violations);
    CheckNames(path + ".asset_ids", crowd.asset_ids, violations);
    CheckNames(path + ".container_ids", crowd.container_ids, violations);
    for (size_t c = 0; c < crowd.class_names.size(); ++c) {
      if (catalogue.Find(crowd.class_names[c])) continue;
      violations.Add(absl::StrCat(path, ".class_names[", c, "]"), UnknownClass(crowd.class_names[c], catalogue));
    }
    const size_t own =
        crowd.object_ids.size() + crowd.asset_ids.size() + crowd.class_names.size() + crowd.container_ids.size();
    if (own == 0)
      violations.Add(path, "got no names of members, want object_ids, asset_ids, class_names or container_ids");
    named += own;
    CheckShare(path + ".keep_share", crowd.keep_share, violations);
    CheckShare(path + ".least_covered_share", crowd.least_covered_share, violations);
    CheckCells(path, crowd, violations);
  }
  if (named > limits.crowd_names) {
    violations.Add("crowds", GotCount(named, absl::StrCat("at most ", limits.crowd_names, " names of members")));
  }
}

void SceneBuilder::State::ResolveCrowds(Scene& of, const NameLookup& names) {
  crowds.resize(std::min(crowds.size(), MostCrowds(limits)));
  if (crowds.empty()) return;
  const Objects& objects = of.objects;
  std::vector<uint8_t> has_class(catalogue.classes.size(), 0), holds(objects.size(), 0);
  for (uint32_t row = 0; row < objects.size(); ++row) {
    has_class[objects.class_index[row]] = 1;
    if (objects.container[row] != kNone) holds[objects.container[row]] = 1;
  }
  using Found = std::optional<uint32_t>;
  const auto is_name = [](const std::string& name) { return NameFault(name, 1, kLongestNameBytes).empty(); };
  const auto of_object = [&](const std::string& id) { return is_name(id) ? Found(names.object(id)) : std::nullopt; };
  const auto of_asset = [&](const std::string& name) {
    return is_name(name) ? Found(names.asset(name)) : std::nullopt;
  };
  const auto of_class = [&](const std::string& name) {
    const std::optional<uint16_t> known = catalogue.Find(name);
    if (!known) return Found();
    return Found(has_class[*known] != 0 ? *known : kNone);
  };
  const auto of_container = [&](const std::string& id) {
    const Found row = of_object(id);
    return row && *row != kNone && holds[*row] == 0 ? Found(kNone) : row;
  };
  Marks marks = {std::vector<uint64_t>(catalogue.classes.size(), 0), std::vector<uint64_t>(of.assets.size(), 0),
                 std::vector<uint64_t>(objects.size(), 0), std::vector<uint64_t>(objects.size(), 0)};
  for (size_t i = 0; i < crowds.size(); ++i) {
    const CrowdSpec& spec = crowds[i];
    const uint64_t bit = uint64_t{1} << i;
    const std::string path = absl::StrCat("crowds[", i, "]");
    Mark(spec.object_ids, {bit, path + ".object_ids", "the id of an object of the shot", incomplete}, of_object,
         marks.of_object, violations);
    Mark(spec.asset_ids, {bit, path + ".asset_ids", "an asset that an object of the shot names", incomplete}, of_asset,
         marks.of_asset, violations);
    Mark(spec.class_names, {bit, path + ".class_names", "the class of an object of the shot", incomplete || odd_class},
         of_class, marks.of_class, violations);
    Mark(spec.container_ids, {bit, path + ".container_ids", "the id of an object that holds others", incomplete},
         of_container, marks.of_container, violations);
  }
  const std::vector<int64_t> counts = CountMembers(marks, objects, crowds.size());
  const int64_t all = std::accumulate(counts.begin(), counts.end(), int64_t{0});
  if (all > limits.crowd_members) {
    violations.Add("crowds", GotInteger(all, absl::StrCat("at most ", limits.crowd_members, " members of all crowds")));
    return;
  }
  std::vector<std::vector<uint32_t>> members = MembersOf(marks, objects, counts);
  for (size_t i = 0; i < crowds.size(); ++i) of.crowds.push_back(CrowdOf(crowds[i], std::move(members[i])));
}

}  // namespace scantling
