// Crowds are checked with the head of the shot and gathered when all objects are known: for each crowd one pass over
// the objects, which asks of four small tables whether an object is named.

#include "server/scene/crowds.h"

#include <string>
#include <unordered_set>

#include "absl/strings/str_cat.h"
#include "server/scene/builder_state.h"
#include "server/scene/faults.h"
#include "server/scene/text.h"

namespace scantling {
namespace {

void CheckShare(const std::string& field, const std::optional<double>& share, Violations& violations) {
  if (share && !(*share >= 0 && *share <= 1)) violations.Add(field, GotNumber(*share, "a share from 0 to 1"));
}

void CheckCells(const std::string& path, const CrowdSpec& crowd, Violations& violations) {
  for (const auto& [field, count] : {std::pair{".cell_columns", crowd.columns}, std::pair{".cell_rows", crowd.rows}}) {
    if (count < 0 || count > kMostCells) {
      violations.Add(path + field, GotInteger(count, absl::StrCat("0 to ", kMostCells)));
      return;
    }
  }
  if ((crowd.columns == 0) != (crowd.rows == 0)) {
    violations.Add(path + (crowd.columns == 0 ? ".cell_columns" : ".cell_rows"),
                   "got 0, want both numbers of cells above 0, or neither");
  } else if (crowd.columns * crowd.rows > kMostCells) {
    violations.Add(path + ".cell_columns",
                   GotInteger(crowd.columns * crowd.rows, absl::StrCat("at most ", kMostCells, " cells in all")));
  }
  if (crowd.columns == 0 && crowd.least_covered_share) {
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

// Rows of the names that are found, faults for those that are not.
template <typename Find>
std::unordered_set<uint32_t> Rows(const std::vector<std::string>& names, const std::string& path, const char* want,
                                  bool incomplete, Violations& violations, Find find) {
  std::unordered_set<uint32_t> rows;
  for (size_t i = 0; i < names.size(); ++i) {
    const uint32_t row = find(names[i]);
    if (row != kNone) {
      rows.insert(row);
    } else if (!incomplete && NameFault(names[i], 1, kLongestNameBytes).empty()) {
      violations.Add(absl::StrCat(path, "[", i, "]"), GotText(names[i], want));
    }
  }
  return rows;
}

}  // namespace

void CheckCrowds(const std::vector<CrowdSpec>& crowds, const SceneLimits& limits, const ClassCatalogue& catalogue,
                 Violations& violations) {
  if (crowds.size() > limits.crowds) {
    violations.Add("crowds", GotCount(crowds.size(), absl::StrCat("at most ", limits.crowds)));
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
    if (own == 0) violations.Add(path, "names nobody, want object_ids, asset_ids, class_names or container_ids");
    named += own;
    CheckShare(path + ".keep_share", crowd.keep_share, violations);
    CheckShare(path + ".least_covered_share", crowd.least_covered_share, violations);
    CheckCells(path, crowd, violations);
  }
  if (named > limits.crowd_names) {
    violations.Add("crowds", GotCount(named, absl::StrCat("at most ", limits.crowd_names, " names of members")));
  }
}

void SceneBuilder::State::ResolveCrowds() {
  const Objects& objects = scene.objects;
  for (size_t i = 0; i < crowds.size() && i < limits.crowds; ++i) {
    const CrowdSpec& spec = crowds[i];
    const std::string path = absl::StrCat("crowds[", i, "]");
    const auto of_id = [this](const std::string& id) { return ids.Find(id); };
    const auto named =
        Rows(spec.object_ids, path + ".object_ids", "the id of an object of the shot", incomplete, violations, of_id);
    const auto holders = Rows(spec.container_ids, path + ".container_ids", "the id of an object of the shot",
                              incomplete, violations, of_id);
    const auto of_asset = Rows(spec.asset_ids, path + ".asset_ids", "an asset that an object of the shot names",
                               incomplete, violations, [this](const std::string& name) { return assets.Find(name); });
    std::unordered_set<uint16_t> of_class;
    for (const std::string& name : spec.class_names) {
      if (const auto found = catalogue.Find(name)) of_class.insert(*found);
    }
    Crowd crowd;
    crowd.name = spec.name;
    crowd.keep_share = spec.keep_share.value_or(0);
    crowd.columns = spec.columns;
    crowd.rows = spec.rows;
    crowd.least_covered_share = spec.least_covered_share.value_or(0);
    for (uint32_t row = 0; row < objects.size(); ++row) {
      const bool in = of_class.contains(objects.class_index[row]) || of_asset.contains(objects.asset[row]) ||
                      holders.contains(objects.container[row]) || named.contains(row);
      if (in) crowd.members.push_back(row);
    }
    if (crowd.members.empty() && !incomplete && violations.empty()) {
      violations.Add(path, "has no members, want names of objects that are in the shot");
    }
    scene.crowds.push_back(std::move(crowd));
  }
}

}  // namespace scantling
