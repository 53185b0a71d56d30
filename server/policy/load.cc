// Files -> Policy.
//
// The catalogue comes first because the rate card is read against it; where the catalogue has a fault the rates are
// not read, since every class would then seem unknown. Styles are read whatever else failed, so that one run shows all
// there is to mend. What spans files is checked last, and only where the files themselves were sound.

#include "server/policy/load.h"

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "server/policy/read_file.h"
#include "server/policy/yaml_tree.h"

namespace scantling {
namespace {

struct NamedStyle {
  std::string file;
  Style style;
};

std::string In(const std::string& directory, const char* name) {
  return (std::filesystem::path(directory) / name).string();
}

std::vector<std::string> StyleFiles(const std::string& directory, Violations& violations) {
  std::vector<std::string> files;
  const std::string folder = In(directory, "style");
  std::error_code error;
  std::filesystem::directory_iterator entry(folder, error);
  for (; !error && entry != std::filesystem::directory_iterator(); entry.increment(error)) {
    if (entry->path().extension() == ".yaml") files.push_back(entry->path().string());
  }
  if (error) {
    violations.Add(folder, absl::StrCat("got no readable folder (", error.message(), "), want one of style files"));
  } else if (files.empty() || files.size() > kMostStyles) {
    violations.Add(folder, absl::StrCat("got ", files.size(), " style files (*.yaml), want 1 to ", kMostStyles));
    files.clear();
  }
  std::sort(files.begin(), files.end());
  return files;
}

std::vector<NamedStyle> ReadStyles(const std::string& directory, Violations& violations) {
  std::vector<NamedStyle> styles;
  for (const std::string& file : StyleFiles(directory, violations)) {
    const std::optional<std::string> text = ReadConfigFile(file, violations);
    if (!text) continue;
    std::optional<Style> style = ParseStyle(*text, file, violations);
    if (style) styles.push_back({file, *std::move(style)});
  }
  return styles;
}

void CheckNames(const std::vector<NamedStyle>& styles, Violations& violations) {
  std::vector<const NamedStyle*> sorted;
  for (const NamedStyle& named : styles) sorted.push_back(&named);
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const NamedStyle* a, const NamedStyle* b) { return a->style.name < b->style.name; });
  for (size_t i = 1; i < sorted.size(); ++i) {
    if (sorted[i]->style.name != sorted[i - 1]->style.name) continue;
    violations.Add(
        absl::StrCat(sorted[i]->file, ": name"),
        absl::StrCat("got ", Quoted(sorted[i]->style.name), ", want another name than ", sorted[i - 1]->file));
  }
}

bool Offers(const Style& style, const HoldBounds& bounds) {
  return std::any_of(style.holds.begin(), style.holds.end(),
                     [&](int32_t hold) { return bounds.least <= hold && hold <= bounds.greatest; });
}

void CheckClassHolds(const NamedStyle& named, const ClassCatalogue& catalogue, Violations& violations) {
  for (const auto& [name, bounds] : named.style.class_holds) {
    if (!catalogue.Find(name)) {
      violations.Add(absl::StrCat(named.file, ": class_holds"),
                     absl::StrCat("got the unknown class ", Quoted(name), ", want one of the catalogue"));
    } else if (!Offers(named.style, bounds)) {
      violations.Add(absl::StrCat(named.file, ": class_holds.", name),
                     absl::StrCat("got bounds that leave none of holds, want one of them from ", bounds.least, " to ",
                                  bounds.greatest));
    }
  }
}

// Of classes for which the style gives no bounds of its own.
void CheckHolds(const NamedStyle& named, const ClassCatalogue& catalogue, Violations& violations) {
  for (const ObjectClass& c : catalogue.classes) {
    const auto& own = named.style.class_holds;
    if (std::any_of(own.begin(), own.end(), [&](const auto& given) { return given.first == c.name; })) continue;
    if (Offers(named.style, c.hold)) continue;
    violations.Add(absl::StrCat(named.file, ": holds"),
                   absl::StrCat("got none for class ", Quoted(c.name), ", want one from its least_hold ", c.hold.least,
                                " to its greatest_hold ", c.hold.greatest));
  }
}

void CheckDefaultStyle(std::string_view name, const std::string& directory, const Policy& policy,
                       Violations& violations) {
  if (policy.FindStyle(name) != nullptr) return;
  std::string known;
  for (const Style& style : policy.styles) absl::StrAppend(&known, known.empty() ? "" : ", ", style.name);
  violations.Add("default_style",
                 absl::StrCat("got ", Quoted(name), ", want a style of ", In(directory, "style"), ": ", known));
}

void ReadCatalogueAndRates(const std::string& directory, Policy& policy, Violations& violations) {
  const std::string classes_file = In(directory, "classes.yaml"), rates_file = In(directory, "rates.yaml");
  const std::optional<std::string> classes_text = ReadConfigFile(classes_file, violations);
  const std::optional<std::string> rates_text = ReadConfigFile(rates_file, violations);
  if (!classes_text) return;
  std::optional<ClassCatalogue> catalogue = ParseCatalogue(*classes_text, classes_file, violations);
  if (!catalogue) return;
  policy.catalogue = *std::move(catalogue);
  if (!rates_text) return;
  std::optional<RateCard> rates = ParseRates(*rates_text, rates_file, policy.catalogue, violations);
  if (rates) policy.rates = *std::move(rates);
}

}  // namespace

std::optional<Policy> LoadPolicy(const std::string& directory, std::string_view default_style, Violations& violations) {
  const size_t faults_before = violations.count();
  Policy policy;
  policy.default_style = std::string(default_style);
  ReadCatalogueAndRates(directory, policy, violations);
  const std::vector<NamedStyle> styles = ReadStyles(directory, violations);
  if (violations.count() != faults_before) return std::nullopt;
  CheckNames(styles, violations);
  for (const NamedStyle& named : styles) {
    CheckClassHolds(named, policy.catalogue, violations);
    CheckHolds(named, policy.catalogue, violations);
    policy.styles.push_back(named.style);
  }
  CheckDefaultStyle(default_style, directory, policy, violations);
  if (violations.count() != faults_before) return std::nullopt;
  return policy;
}

absl::StatusOr<Policy> LoadPolicy(const std::string& directory, std::string_view default_style) {
  Violations violations;
  std::optional<Policy> policy = LoadPolicy(directory, default_style, violations);
  if (!policy) return StatusOf(violations);
  return *std::move(policy);
}

absl::Status StatusOf(const Violations& violations) {
  if (violations.empty()) return absl::OkStatus();
  std::string message;
  for (const Violation& violation : violations.listed()) {
    absl::StrAppend(&message, message.empty() ? "" : "\n", violation.field, ": ", violation.description);
  }
  const size_t unlisted = violations.count() - violations.listed().size();
  if (unlisted > 0) absl::StrAppend(&message, "\nand ", unlisted, " more faults");
  return absl::InvalidArgumentError(message);
}

}  // namespace scantling
