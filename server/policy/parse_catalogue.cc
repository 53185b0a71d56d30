// The class catalogue: what kinds of thing a shot holds, and how much of each a tier keeps.
//
// Classes keep the order of the file, and a class's index is its place there; the rate card follows the same order.
// phi must not rise from OMITTED through COLOUR_PATCH and PROXY to FULL_RIG's 0: a lower tier drops coarser features,
// and the whole of choice/ rests on loss never falling as the tier falls.

#include <array>

#include "absl/strings/str_cat.h"
#include "server/policy/load.h"
#include "server/policy/yaml_reader.h"

namespace scantling {
namespace {

constexpr std::array<std::string_view, 2> kClassKinds = {"figure", "set_element"};
constexpr std::array<std::string_view, kTierCount> kTierNames = {"OMITTED", "COLOUR_PATCH", "PROXY", "FULL_RIG"};
constexpr double kMostHoldFrames = 240;

PerTier<double> ReadPhi(YamlReader& object_class) {
  YamlReader reader = object_class.Map("phi", YamlReader::Missing::kFault);
  PerTier<double> phi = {};
  for (const Tier tier : {Tier::kProxy, Tier::kColourPatch, Tier::kOmitted}) {
    const std::optional<double> fallback = tier == Tier::kOmitted ? std::optional<double>(1) : kRequired;
    const double share = reader.Number(Name(tier), AboveUpTo(0, 1), fallback);
    phi[static_cast<size_t>(Index(tier))] = share;
    const auto above = static_cast<size_t>(Index(tier) + 1);
    if (share < phi[above]) {
      reader.Fault(Name(tier), absl::StrCat("got ", share, ", want at least the ", phi[above], " of ",
                                            absl::string_view(kTierNames[above].data(), kTierNames[above].size())));
    }
  }
  reader.Finish();
  return phi;
}

void ReadMovement(YamlReader& reader, ObjectClass& c) {
  c.articulation = reader.Number("articulation", Between(0, 10), c.articulation);
  c.cycles_per_second = reader.Number("cycles_per_second", Between(0, 1000), c.cycles_per_second);
  c.least_hold = reader.Integer("least_hold", Between(1, kMostHoldFrames), c.least_hold);
  c.greatest_hold = reader.Integer("greatest_hold", Between(1, kMostHoldFrames), c.greatest_hold);
  if (c.greatest_hold < c.least_hold) {
    reader.Fault("greatest_hold", absl::StrCat("got ", c.greatest_hold, ", want at least least_hold, ", c.least_hold));
  }
}

ObjectClass ReadClass(const std::string& name, YamlReader& reader) {
  ObjectClass c;
  c.name = name;
  c.description = reader.Text("description", ProseRule(), "");
  c.kind = static_cast<ClassKind>(reader.Choice("kind", kClassKinds, kRequired));
  c.phi = ReadPhi(reader);
  c.omitted_presence = reader.Number("omitted_presence", Between(1, 1e6), c.omitted_presence);
  c.solidity = reader.Number("solidity", AboveUpTo(0, 1), c.solidity);
  c.importance = reader.Number("importance", AboveUpTo(0, 1e6), c.importance);
  if (reader.Has("real_height_m")) c.real_height_m = reader.Number("real_height_m", AboveUpTo(0, 1e5), kRequired);
  ReadMovement(reader, c);
  c.least_tier_when_indirect = static_cast<Tier>(
      reader.Choice("least_tier_when_indirect", kTierNames, static_cast<size_t>(Index(c.least_tier_when_indirect))));
  reader.Finish();
  return c;
}

}  // namespace

std::optional<ClassCatalogue> ParseCatalogue(std::string_view text, std::string_view file_name,
                                             Violations& violations) {
  const size_t faults_before = violations.count();
  const std::optional<YamlNode> root = ParseYaml(text, file_name, violations);
  if (!root) return std::nullopt;
  YamlReader reader(*root, file_name, violations);
  ClassCatalogue catalogue;
  YamlReader classes = reader.Map("classes", YamlReader::Missing::kFault);
  for (auto& [name, class_reader] : classes.NamedMaps(kMostClasses)) {
    catalogue.classes.push_back(ReadClass(name, class_reader));
  }
  const std::string default_name = reader.Text("default_class", NameRule(), kRequired);
  const std::optional<uint16_t> found = catalogue.Find(default_name);
  if (!found && violations.count() == faults_before) {
    reader.Fault("default_class", absl::StrCat("got ", Quoted(default_name), ", want one of the classes"));
  }
  catalogue.default_class = found.value_or(0);
  reader.Finish();
  if (violations.count() != faults_before) return std::nullopt;
  return catalogue;
}

}  // namespace scantling
