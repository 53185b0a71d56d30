// Style files: what hides detail in this film's picture.
//
// One file, one style. Besides the range of each key, a style is checked against itself: a picture that must hold up as
// any single still hides nothing behind motion blur or defocus and is judged by its worst frame (a still is looked at
// for as long as anyone likes), so shutter_fraction, lens_focus and worst_frame_share have one value there.
//
// Whether the classes of class_holds exist, and whether their bounds leave a hold of the list, is for load.cc to say: a
// style knows no catalogue.

#include <algorithm>
#include <array>

#include "absl/strings/str_cat.h"
#include "server/policy/load.h"
#include "server/policy/yaml_reader.h"

namespace scantling {
namespace {

constexpr size_t kMostCurvePoints = 64;
constexpr size_t kMostBands = 64;
constexpr double kMostMarginFrames = 10'000;
constexpr std::array<std::string_view, 2> kDepthKinds = {"apparent", "stage"};

DepthCurve ReadCurve(YamlReader& style, std::string_view key) {
  DepthCurve curve;
  for (YamlReader& at : style.Maps(key, kMostCurvePoints)) {
    DepthCurve::Point point;
    point.depth_m = at.Number("depth_m", Above(0), kRequired);
    point.picture_heights = at.Number("picture_heights", Between(0, 1), kRequired);
    at.Finish();
    if (!curve.points.empty() && point.depth_m <= curve.points.back().depth_m) {
      at.Fault("depth_m", absl::StrCat("got ", point.depth_m, ", want more than the ", curve.points.back().depth_m,
                                       " of the point before"));
    }
    curve.points.push_back(point);
  }
  return curve;
}

std::vector<int32_t> ReadHolds(YamlReader& style, const std::vector<int32_t>& otherwise) {
  if (!style.Has("holds")) return otherwise;
  std::vector<int32_t> holds = style.Integers("holds", Between(1, kLongestHold), kLongestHold);
  bool rising = !holds.empty() && holds.front() == 1;
  for (size_t i = 1; i < holds.size(); ++i) rising = rising && holds[i] > holds[i - 1];
  if (!rising) style.Fault("holds", "got another list, want frame counts that rise from 1, such as [1, 2, 3, 4]");
  return holds;
}

std::vector<std::pair<std::string, HoldBounds>> ReadClassHolds(YamlReader& style, const Violations& violations) {
  std::vector<std::pair<std::string, HoldBounds>> class_holds;
  YamlReader by_class = style.Map("class_holds", YamlReader::Missing::kEmpty);
  for (auto& [name, reader] : by_class.NamedMaps(kMostClasses)) {
    const size_t faults_before = violations.count();
    HoldBounds bounds;
    bounds.least = reader.Integer("least", Between(1, kLongestHold), kRequired);
    bounds.greatest = reader.Integer("greatest", Between(1, kLongestHold), kRequired);
    reader.Finish();
    if (bounds.greatest < bounds.least && violations.count() == faults_before) {
      reader.Fault("greatest",
                   absl::StrCat("got ", bounds.greatest, ", want at least the ", bounds.least, " of least"));
    }
    class_holds.emplace_back(name, bounds);
  }
  return class_holds;
}

// Against the bands before it.
void CheckBand(YamlReader& reader, const DepthBand& band, const std::vector<DepthBand>& before) {
  if (before.empty()) {
    if (band.from_m != 0) reader.Fault("from_m", absl::StrCat("got ", band.from_m, ", want 0 of the first band"));
    return;
  }
  if (band.from_m <= before.back().from_m) {
    reader.Fault("from_m", absl::StrCat("got ", band.from_m, ", want more than the ", before.back().from_m,
                                        " of the band before"));
  }
  if (std::any_of(before.begin(), before.end(), [&](const DepthBand& other) { return other.name == band.name; })) {
    reader.Fault("name", absl::StrCat("got ", Quoted(band.name), " again, want another name for every band"));
  }
}

std::vector<DepthBand> ReadBands(YamlReader& style, const std::vector<DepthBand>& otherwise,
                                 const Violations& violations) {
  if (!style.Has("bands")) return otherwise;
  const size_t faults_before_all = violations.count();
  std::vector<DepthBand> bands;
  for (YamlReader& reader : style.Maps("bands", kMostBands)) {
    const size_t faults_before = violations.count();
    DepthBand band;
    band.name = reader.Text("name", NameRule(), kRequired);
    band.from_m = reader.Number("from_m", AtLeast(0), kRequired);
    reader.Finish();
    if (violations.count() == faults_before) CheckBand(reader, band, bands);
    bands.push_back(band);
  }
  if (bands.empty() && violations.count() == faults_before_all)
    style.Fault("bands", "got no bands, want at least one, such as [{name: all, from_m: 0}]");
  return bands;
}

void CheckStill(YamlReader& reader, const Style& style) {
  if (!style.any_still_must_hold) return;
  const absl::string_view why = " where any_still_must_hold is true";
  if (style.shutter_fraction != 0) {
    reader.Fault("shutter_fraction", absl::StrCat("got ", style.shutter_fraction, ", want 0", why));
  }
  if (style.lens_focus) reader.Fault("lens_focus", absl::StrCat("got true, want false", why));
  if (style.worst_frame_share != 1) {
    reader.Fault("worst_frame_share", absl::StrCat("got ", style.worst_frame_share, ", want 1", why));
  }
}

void ReadFloorTerms(YamlReader& reader, Style& style) {
  style.viewing_distance_heights = reader.Number("viewing_distance_heights", AboveUpTo(0, 100), 3.2);
  style.line_weight = ReadCurve(reader, "line_weight");
  style.plate_shift = ReadCurve(reader, "plate_shift");
  style.depth_kind = static_cast<DepthKind>(reader.Choice("depth", kDepthKinds, 0));
  style.shutter_fraction = reader.Number("shutter_fraction", Between(0, 1), style.shutter_fraction);
  style.lens_focus = reader.Flag("lens_focus", style.lens_focus);
  style.default_f_number = reader.Number("default_f_number", Between(0, 1000), style.default_f_number);
}

void ReadJudgement(YamlReader& reader, Style& style) {
  style.any_still_must_hold = reader.Flag("any_still_must_hold", style.any_still_must_hold);
  style.worst_frame_share = reader.Number("worst_frame_share", Between(0, 1), style.worst_frame_share);
  style.worst_octaves = reader.Number("worst_octaves", AboveUpTo(0, 64), style.worst_octaves);
  style.full_contrast_de00 = reader.Number("full_contrast_de00", AboveUpTo(0, 200), style.full_contrast_de00);
  style.smallest_covered_px = reader.Number("smallest_covered_px", Between(0, 1e6), style.smallest_covered_px);
}

void ReadTiming(YamlReader& reader, const Violations& violations, Style& style) {
  style.handle_frames = reader.Integer("handle_frames", Between(0, kMostMarginFrames), style.handle_frames);
  style.settle_frames = reader.Integer("settle_frames", Between(0, kMostMarginFrames), style.settle_frames);
  style.holds = ReadHolds(reader, style.holds);
  style.class_holds = ReadClassHolds(reader, violations);
  style.keep_alive_floors = reader.Number("keep_alive_floors", AboveUpTo(0, 1e6), style.keep_alive_floors);
  style.change_margin = reader.Number("change_margin", Between(0, 1), style.change_margin);
  style.change_margin_least = reader.Number("change_margin_least", Between(0, 1e6), style.change_margin_least);
}

void ReadDepthBands(YamlReader& reader, const Violations& violations, Style& style) {
  style.bands = ReadBands(reader, style.bands, violations);
  style.band_depth = static_cast<DepthKind>(reader.Choice("band_depth", kDepthKinds, 0));
}

}  // namespace

std::optional<Style> ParseStyle(std::string_view text, std::string_view file_name, Violations& violations) {
  const size_t faults_before = violations.count();
  const std::optional<YamlNode> root = ParseYaml(text, file_name, violations);
  if (!root) return std::nullopt;
  YamlReader reader(*root, file_name, violations);
  Style style;
  style.name = reader.Text("name", NameRule(), kRequired);
  style.description = reader.Text("description", ProseRule(), "");
  ReadFloorTerms(reader, style);
  ReadJudgement(reader, style);
  ReadTiming(reader, violations, style);
  ReadDepthBands(reader, violations, style);
  reader.Finish();
  CheckStill(reader, style);
  if (violations.count() != faults_before) return std::nullopt;
  return style;
}

}  // namespace scantling
