// The class catalogue: what kinds of thing a shot holds, and how much of each a tier keeps.
//
// Classes keep the order of the file, and a class's index is its place there; the rate card follows the same order.
// phi must not rise from OMITTED through COLOUR_PATCH and PROXY to FULL_RIG's 0: a lower tier drops coarser features,
// and the whole of choice/ rests on loss never falling as the tier falls.
//
// What is seen through must hide nothing: an inner box is refused where the class fills less of its box than
// occluder_least_solidity. That rule spans keys, so it is checked once all of them have been read and were sound.

#include <array>

#include "absl/strings/str_cat.h"
#include "server/policy/load.h"
#include "server/policy/yaml_reader.h"

namespace scantling {
namespace {

constexpr std::array<std::string_view, 2> kClassKinds = {"figure", "set_element"};
constexpr std::array<std::string_view, kTierCount> kTierNames = {"OMITTED", "COLOUR_PATCH", "PROXY", "FULL_RIG"};
constexpr std::array<std::string_view, 2> kContacts = {"rigid", "ground"};

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
  c.hold.least = reader.Integer("least_hold", Between(1, kLongestHold), c.hold.least);
  c.hold.greatest = reader.Integer("greatest_hold", Between(1, kLongestHold), c.hold.greatest);
  if (c.hold.greatest < c.hold.least) {
    reader.Fault("greatest_hold", absl::StrCat("got ", c.hold.greatest, ", want at least least_hold, ", c.hold.least));
  }
  c.moves_at_rest = reader.Flag("moves_at_rest", c.moves_at_rest);
  c.contact = static_cast<Contact>(reader.Choice("contact", kContacts, static_cast<size_t>(c.contact)));
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
  c.inner_box = reader.Number("inner_box", Between(0, 1), c.inner_box);
  ReadMovement(reader, c);
  c.least_tier_when_indirect = static_cast<Tier>(
      reader.Choice("least_tier_when_indirect", kTierNames, static_cast<size_t>(Index(c.least_tier_when_indirect))));
  reader.Finish();
  return c;
}

void CheckSeenThrough(const ObjectClass& c, double least_solidity, YamlReader& reader) {
  if (c.inner_box == 0 || c.solidity >= least_solidity) return;
  reader.Fault("inner_box", absl::StrCat("got ", c.inner_box, ", want 0: its solidity of ", c.solidity,
                                         " is under occluder_least_solidity, ", least_solidity));
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
  std::vector<std::pair<std::string, YamlReader>> class_readers = classes.NamedMaps(kMostClasses);
  for (auto& [name, class_reader] : class_readers) {
    catalogue.classes.push_back(ReadClass(name, class_reader));
  }
  const std::string default_name = reader.Text("default_class", NameRule(), kRequired);
  const std::optional<uint16_t> found = catalogue.Find(default_name);
  if (!found && violations.count() == faults_before) {
    reader.Fault("default_class", absl::StrCat("got ", Quoted(default_name), ", want one of the classes"));
  }
  catalogue.default_class = found.value_or(0);
  catalogue.occluder_least_solidity =
      reader.Number("occluder_least_solidity", Between(0, 1), catalogue.occluder_least_solidity);
  reader.Finish();
  if (violations.count() != faults_before) return std::nullopt;
  for (size_t i = 0; i < catalogue.classes.size(); ++i) {
    CheckSeenThrough(catalogue.classes[i], catalogue.occluder_least_solidity, class_readers[i].second);
  }
  if (violations.count() != faults_before) return std::nullopt;
  return catalogue;
}

}  // namespace scantling
