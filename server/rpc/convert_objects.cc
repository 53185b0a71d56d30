// v1.SceneObject and v1.ObjectBlock -> the scene builder.
//
// Rows are handed over one by one and blocks as views of their columns: nothing of a shot is held twice but the
// measured figures of one row, which come as one track per camera and are laid out camera by camera.
//
// Tracks may come in any order; tracks_ remembers which number the caller gave each, so that the builder's faults name
// it. Figures that cannot be laid out (an unknown camera, a gap) are reported here and the row is marked, for the
// builder would otherwise report them as missing.

#include <algorithm>
#include <span>

#include "absl/strings/str_cat.h"
#include "server/rpc/convert.h"
#include "server/rpc/convert_read.h"
#include "server/scene/faults.h"

namespace scantling {
namespace {

std::array<double, 3> ReadVector(const v1::Vector3& v) { return {v.x(), v.y(), v.z()}; }

// False where a corner is missing; then a violation was recorded.
bool RequireCorners(const v1::Box& box, const std::string& path, Violations& violations) {
  const auto require = [&](bool there, const char* corner) {
    if (there) return;
    AddFault(
        violations, [&] { return absl::StrCat(path, ".", corner); },
        [] { return std::string("got nothing, want x, y and z"); });
  };
  require(box.has_min_m(), "min_m");
  require(box.has_max_m(), "max_m");
  return box.has_min_m() && box.has_max_m();
}

void ReadBox(const v1::Box& box, const std::string& path, ObjectRow& row, Violations& violations) {
  RequireCorners(box, path + ".box", violations);
  row.box_min = ReadVector(box.min_m());
  row.box_max = ReadVector(box.max_m());
}

template <typename Repeated>
auto SpanOf(const Repeated& field) {
  return std::span(field.data(), static_cast<size_t>(field.size()));
}

std::vector<std::string_view> Views(const google::protobuf::RepeatedPtrField<std::string>& texts) {
  return std::vector<std::string_view>(texts.begin(), texts.end());
}

std::optional<IndirectKind> ReadKind(v1::IndirectSight::Kind kind) {
  switch (kind) {
    case v1::IndirectSight::SHADOW:
      return IndirectKind::kShadow;
    case v1::IndirectSight::REFLECTION:
      return IndirectKind::kReflection;
    case v1::IndirectSight::LIGHT:
      return IndirectKind::kLight;
    default:
      return std::nullopt;
  }
}

// `path` is of the particulars. Spans and views point into `in`.
ParticularsSpec ReadParticulars(const v1::Particulars& in, const std::string& path, Violations& violations) {
  ParticularsSpec spec;
  if (in.occluder().has_inner_box()) spec.inner_box = in.occluder().inner_box();
  if (in.occluder().has_mesh()) {
    spec.mesh = MeshSpec{SpanOf(in.occluder().mesh().vertices_m()), SpanOf(in.occluder().mesh().triangles())};
  }
  for (int i = 0; i < in.openings_size(); ++i) {
    const v1::Box& box = in.openings(i);
    const bool whole = RequireCorners(box, absl::StrCat(path, ".openings[", i, "]"), violations);
    spec.openings.push_back({ReadVector(box.min_m()), ReadVector(box.max_m()), !whole});
  }
  for (int i = 0; i < in.indirect_size(); ++i) {
    const v1::IndirectSight& sight = in.indirect(i);
    const std::optional<IndirectKind> kind = ReadKind(sight.kind());
    if (!kind) {
      AddFault(
          violations, [&] { return absl::StrCat(path, ".indirect[", i, "].kind"); },
          [&] { return absl::StrCat("got ", static_cast<int>(sight.kind()), ", want SHADOW, REFLECTION or LIGHT"); });
    }
    spec.indirect.push_back({kind.value_or(IndirectKind::kShadow), ReadRanges(sight.frames())});
  }
  spec.hold_group = in.hold_group();
  spec.replaced = ReadRanges(in.replaced());
  spec.beats.assign(in.beats().begin(), in.beats().end());
  return spec;
}

}  // namespace

bool RowReader::ReadTrack(const v1::MeasuredTrack& track, const std::string& path, uint32_t number) {
  const auto& cameras = builder_.cameras();
  const auto camera = std::find_if(cameras.begin(), cameras.end(),
                                   [&](const Camera& candidate) { return candidate.id == track.camera_id(); });
  const std::string here = absl::StrCat(path, ".measured[", number, "]");
  if (camera == cameras.end()) {
    violations_.Add(here + ".camera_id", GotText(track.camera_id(), "the id of a camera of the shot"));
    return false;
  }
  const auto index = static_cast<size_t>(camera - cameras.begin());
  if (tracks_[index] != kNone) {
    violations_.Add(here + ".camera_id",
                    absl::StrCat("got ", QuotedText(track.camera_id()), ", already used at ", path, ".measured[",
                                 tracks_[index], "], want one track for each camera"));
    return false;
  }
  tracks_[index] = number;
  const int32_t frames = builder_.frame_count();
  bool good = frames > 0;
  const auto require = [&](int got, const char* column) {
    if (got == frames || frames == 0) return;
    violations_.Add(absl::StrCat(here, ".", column), GotInteger(got, absl::StrCat(frames, " (one per frame)")));
    good = false;
  };
  require(track.height_px_size(), "height_px");
  require(track.covered_px_size(), "covered_px");
  require(track.depth_m_size(), "depth_m");
  return good;
}

// True where every camera has its whole track; then figures_ holds them.
bool RowReader::ReadMeasured(const v1::SceneObject& object, const std::string& path) {
  const auto& cameras = builder_.cameras();
  if (cameras.empty()) return false;  // none or too many: reported with the header
  tracks_.assign(cameras.size(), kNone);
  bool good = true;
  for (int i = 0; i < object.measured_size(); ++i) {
    good = ReadTrack(object.measured(i), path, static_cast<uint32_t>(i)) && good;
  }
  for (size_t c = 0; c < cameras.size() && good; ++c) {
    if (tracks_[c] != kNone) continue;
    violations_.Add(path + ".measured",
                    absl::StrCat("got no track of camera ", QuotedText(cameras[c].id), ", want one for each camera"));
    good = false;
  }
  if (!good) return false;
  // Only now, for the tracks are all there: what is laid out is no larger than what was sent.
  figures_.clear();
  for (const uint32_t number : tracks_) {
    const v1::MeasuredTrack& track = object.measured(static_cast<int>(number));
    for (int f = 0; f < track.height_px_size(); ++f) {
      figures_.push_back({track.height_px(f), track.covered_px(f), track.depth_m(f)});
    }
  }
  return true;
}

void RowReader::ReadSpent(const v1::SceneObject& object, const std::string& path, PerTier<double>& hours) {
  PerTier<int> first = {-1, -1, -1, -1};
  for (int i = 0; i < object.spent_size(); ++i) {
    const v1::SpentWork& spent = object.spent(i);
    const std::string field = absl::StrCat(path, ".spent[", i, "].tier");
    const std::optional<Tier> tier = ReadTier(spent.tier(), field, violations_);
    if (!tier) continue;
    int& used = first[static_cast<size_t>(Index(*tier))];
    if (used >= 0) {
      violations_.Add(field, absl::StrCat("got ", v1::Tier_Name(spent.tier()), ", already used at ", path, ".spent[",
                                          used, "], want each tier once"));
      continue;
    }
    used = i;
    hours[static_cast<size_t>(Index(*tier))] = spent.anim_hours();
  }
}

void RowReader::Add(const v1::SceneObject& object, const std::string& path) {
  ObjectRow row;
  row.id = object.id();
  row.class_name = object.class_name();
  row.asset = object.asset_id();
  row.container = object.container_id();
  if (object.has_importance()) row.importance = object.importance();
  if (object.has_complexity()) row.complexity = object.complexity();
  if (object.has_colour()) row.colour = ReadColour(object.colour(), path + ".colour", violations_);
  if (object.has_box()) ReadBox(object.box(), path, row, violations_);
  row.transforms = SpanOf(object.transform().matrices());
  if (object.measured_size() > 0) {
    row.measured_unreadable = !ReadMeasured(object, path);
    if (!row.measured_unreadable) {
      row.measured = figures_;
      row.measured_tracks = tracks_;
    }
  }
  ReadSpent(object, path, row.spent_hours);
  ParticularsSpec particulars;
  if (object.has_particulars()) {
    particulars = ReadParticulars(object.particulars(), path + ".particulars", violations_);
    row.particulars = &particulars;
  }
  builder_.AddRow(row, path);
}

void AddBlock(const v1::ObjectBlock& block, const std::string& path, SceneBuilder& builder, Violations& violations) {
  std::vector<uint32_t> particular_of;
  std::vector<ParticularsSpec> particulars;
  for (int i = 0; i < block.particulars_size(); ++i) {
    particular_of.push_back(block.particulars(i).index());
    particulars.push_back(ReadParticulars(block.particulars(i).particulars(),
                                          absl::StrCat(path, ".particulars[", i, "].particulars"), violations));
  }
  const std::vector<std::string_view> class_names = Views(block.class_names());
  const std::vector<std::string_view> asset_names = Views(block.asset_ids());
  const std::vector<std::string_view> container_ids = Views(block.container_ids());
  ObjectBlockView view;
  view.id_blob = block.id_blob();
  view.id_lengths = SpanOf(block.id_lengths());
  view.class_names = class_names;
  view.class_of = SpanOf(block.class_of());
  view.asset_names = asset_names;
  view.asset_of = SpanOf(block.asset_of());
  view.container_ids = container_ids;
  view.container_of = SpanOf(block.container_of());
  view.importance = SpanOf(block.importance());
  view.complexity = SpanOf(block.complexity());
  view.colour = SpanOf(block.colour());
  view.boxes = SpanOf(block.boxes_m());
  view.poses = SpanOf(block.poses());
  view.linear = SpanOf(block.linear());
  view.translation = SpanOf(block.translation_m());
  view.inner_box = SpanOf(block.inner_box());
  view.particular_of = particular_of;
  view.particulars = particulars;
  builder.AddBlock(view, path);
}

void AddObjects(const v1::Shot& shot, SceneBuilder& builder, Violations& violations) {
  RowReader reader(builder, violations);
  for (int i = 0; i < shot.objects_size(); ++i) reader.Add(shot.objects(i), absl::StrCat("objects[", i, "]"));
  for (int i = 0; i < shot.blocks_size(); ++i) {
    AddBlock(shot.blocks(i), absl::StrCat("blocks[", i, "]"), builder, violations);
  }
}

Scene SceneFromProto(const v1::Shot& shot, const ClassCatalogue& catalogue, const SceneLimits& limits,
                     Violations& violations) {
  SceneBuilder builder(catalogue, limits, HeaderFromProto(shot, violations), violations);
  AddInterests(shot, builder, violations);
  AddObjects(shot, builder, violations);
  return builder.Finish();
}

}  // namespace scantling
