// The rate card: what each class costs at each tier.
//
// Every class of the catalogue must be priced and nothing else may be: a missing rate would be a free object, a rate
// for an unknown class a slip in its name. OMITTED is all zero and is not written. The other rates have no sane
// default and must be given. Per class no figure may rise as the tier falls, because a solver would then be paid for
// making a thing better; nor may painting in cost more than making the patch, nor keeping a still figure alive more
// than animating its stand-in.
//
// Spreads (cv) may go either way between tiers: they are certainties, not costs.

#include <array>

#include "absl/strings/str_cat.h"
#include "server/policy/load.h"
#include "server/policy/yaml_reader.h"

namespace scantling {
namespace {

constexpr std::array<Tier, 3> kPricedTiers = {Tier::kFullRig, Tier::kProxy, Tier::kColourPatch};

struct RateField {
  std::string_view key;
  double Rate::*figure;
  double most;
  bool is_cost;   // must not rise as the tier falls
  bool required;  // else 0 where it is left out
};
// Ceilings: a million hours is 500 working years, a million core-seconds a frame 11 days; beyond is a slip of the pen.
constexpr std::array<RateField, 10> kRateFields = {{
    {"setup_hours", &Rate::setup_hours, 1e6, true, true},
    {"hours_per_second", &Rate::hours_per_second, 1e6, true, true},
    {"core_s_per_frame", &Rate::core_s_per_frame, 1e6, true, true},
    {"core_s_per_megapixel", &Rate::core_s_per_megapixel, 1e6, true, true},
    {"memory_mb", &Rate::memory_mb, 1e8, true, true},
    {"hours_cv", &Rate::hours_cv, 5, false, true},
    {"core_cv", &Rate::core_cv, 5, false, true},
    {"shared_setup_hours", &Rate::shared_setup_hours, 1e6, true, false},
    {"other_setup_hours", &Rate::other_setup_hours, 1e6, true, false},
    {"other_hours_per_second", &Rate::other_hours_per_second, 1e6, true, false},
}};

Rate ReadRate(YamlReader& reader, bool other) {
  Rate rate;
  for (const RateField& field : kRateFields) {
    rate.*field.figure = field.required ? reader.Number(field.key, Between(0, field.most), kRequired)
                                        : reader.Number(field.key, Between(0, field.most), 0.0);
  }
  for (const std::string_view key : {"other_setup_hours", "other_hours_per_second"}) {
    if (other || !reader.Has(key)) continue;
    reader.Fault(key, "got hours of a third department, want other_department to name it");
  }
  reader.Finish();
  return rate;
}

void CheckFalling(YamlReader& upper_reader, const Rate& upper, YamlReader& lower_reader, const Rate& lower) {
  for (const RateField& field : kRateFields) {
    if (!field.is_cost || lower.*field.figure <= upper.*field.figure) continue;
    lower_reader.Fault(field.key, absl::StrCat("got ", lower.*field.figure, ", want at most the ", upper.*field.figure,
                                               " of the tier above, at ", upper_reader.Place(field.key)));
  }
}

ClassRates ReadClassRates(YamlReader& reader, bool other, const Violations& violations) {
  ClassRates rates;
  const size_t faults_before = violations.count();
  std::vector<YamlReader> tiers;
  for (const Tier tier : kPricedTiers) {
    tiers.push_back(reader.Map(Name(tier), YamlReader::Missing::kFault));
    rates.tier[static_cast<size_t>(Index(tier))] = ReadRate(tiers.back(), other);
  }
  rates.paint_in_hours = reader.Number("paint_in_hours", Between(0, 1e6), kRequired);
  rates.keep_alive_hours_per_second =
      reader.Number("keep_alive_hours_per_second", Between(0, 1e6), rates.keep_alive_hours_per_second);
  reader.Finish();
  if (violations.count() != faults_before) return rates;  // what stands for faulty values is not compared
  const auto rate = [&](size_t i) { return rates.tier[static_cast<size_t>(Index(kPricedTiers[i]))]; };
  for (size_t i = 1; i < tiers.size(); ++i) CheckFalling(tiers[i - 1], rate(i - 1), tiers[i], rate(i));
  const double patch_hours = rate(2).setup_hours;
  if (rates.paint_in_hours > patch_hours) {
    reader.Fault("paint_in_hours", absl::StrCat("got ", rates.paint_in_hours, ", want at most the ", patch_hours,
                                                " of COLOUR_PATCH setup_hours, at ", tiers[2].Place("setup_hours")));
  }
  const double proxy_hours = rate(1).hours_per_second;
  if (rates.keep_alive_hours_per_second > proxy_hours) {
    reader.Fault("keep_alive_hours_per_second",
                 absl::StrCat("got ", rates.keep_alive_hours_per_second, ", want at most the ", proxy_hours,
                              " of PROXY hours_per_second, at ", tiers[1].Place("hours_per_second")));
  }
  return rates;
}

void ReadCard(YamlReader& reader, RateCard& card) {
  card.name = reader.Text("name", NameRule(), kRequired);
  card.money_per_animator_hour = reader.Number("money_per_animator_hour", AtLeast(0), kRequired);
  card.money_per_core_hour = reader.Number("money_per_core_hour", AtLeast(0), kRequired);
  card.other_department = reader.Text("other_department", NameRule(), "");
  if (reader.Has("other_department")) {
    card.money_per_other_hour = reader.Number("money_per_other_hour", AtLeast(0), kRequired);
  } else if (reader.Has("money_per_other_hour")) {
    reader.Fault("money_per_other_hour", "got a price, want other_department to name what it is the price of");
  }
  card.reference_hold = reader.Integer("reference_hold", Between(1, 240), card.reference_hold);
  card.hold_exponent = reader.Number("hold_exponent", Between(0, 2), card.hold_exponent);
  card.base_core_s_per_frame = reader.Number("base_core_s_per_frame", Between(0, 1e6), kRequired);
  card.renders_to_final = reader.Number("renders_to_final", Between(1, 1000), card.renders_to_final);
  card.show_cv_hours = reader.Number("show_cv_hours", Between(0, 5), kRequired);
  card.shot_cv_hours = reader.Number("shot_cv_hours", Between(0, 5), kRequired);
  card.show_cv_core = reader.Number("show_cv_core", Between(0, 5), kRequired);
  card.shot_cv_core = reader.Number("shot_cv_core", Between(0, 5), kRequired);
  card.hours_per_animator_week =
      reader.Number("hours_per_animator_week", AboveUpTo(0, 168), card.hours_per_animator_week);
}

}  // namespace

std::optional<RateCard> ParseRates(std::string_view text, std::string_view file_name, const ClassCatalogue& catalogue,
                                   Violations& violations) {
  const size_t faults_before = violations.count();
  const std::optional<YamlNode> root = ParseYaml(text, file_name, violations);
  if (!root) return std::nullopt;
  YamlReader reader(*root, file_name, violations);
  RateCard card;
  ReadCard(reader, card);
  const bool other = reader.Has("other_department");  // a faulty name is one fault, not one more for every figure
  YamlReader classes = reader.Map("classes", YamlReader::Missing::kFault);
  for (const ObjectClass& object_class : catalogue.classes) {
    YamlReader class_reader = classes.Map(object_class.name, YamlReader::Missing::kFault);
    card.classes.push_back(ReadClassRates(class_reader, other, violations));
  }
  classes.Finish();
  reader.Finish();
  if (violations.count() != faults_before) return std::nullopt;
  return card;
}

}  // namespace scantling
