// Rows and the columns they grow. Every object takes a row, good or not, in the order in which it came; names that many
// objects share (assets, containers) are interned, ids are indexed by row number.
//
// While the scene grows, Objects::container holds the number of the container's *name*: the container itself may come
// later. Finish turns names into rows (finish.cc). Blocks are taken apart in add_block.cc.

#include "server/scene/builder.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/builder_state.h"
#include "server/scene/camera.h"
#include "server/scene/crowds.h"
#include "server/scene/faults.h"
#include "server/scene/frame_lists.h"
#include "server/scene/header.h"
#include "server/scene/text.h"

namespace scantling {
namespace {

// Beyond these no configured limit goes: rows are 32-bit numbers, half-axes and their squares are floats.
constexpr int64_t kMostObjects = 2'000'000'000;
constexpr double kMostMetres = 1e15;

SceneLimits Bounded(SceneLimits limits) {
  limits.objects = std::clamp<int64_t>(limits.objects, 0, kMostObjects);
  limits.largest_m = std::min(limits.largest_m, kMostMetres);
  return limits;
}

double PicturePx(const Camera& camera) {
  return (camera.width_px + 2 * camera.overscan_px) * (camera.height_px + 2 * camera.overscan_px);
}

}  // namespace

SceneBuilder::SceneBuilder(const ClassCatalogue& catalogue, const SceneLimits& limits, ShotHeader header,
                           Violations& violations)
    : state_(std::make_unique<State>(catalogue, Bounded(limits), violations)) {
  State& s = *state_;
  CheckHeader(header, catalogue, violations);
  s.shape.frames = CheckFrameRange(header.frames, limits.frames, violations);
  s.shape.largest_m = s.limits.largest_m;
  s.scene.cameras = CheckCameras(header.cameras, s.limits, s.shape.frames, violations);
  s.shape.cameras = s.scene.cameras.size();
  s.scene.pictures = NumberPictures(header.cameras, s.scene.cameras, violations);
  for (const Camera& camera : s.scene.cameras) {
    s.shape.largest_covered_px = std::max(s.shape.largest_covered_px, PicturePx(camera));
  }
  s.scene.shot_id = std::move(header.shot_id);
  s.scene.sequence_id = std::move(header.sequence_id);
  s.scene.frames = s.shape.frames > 0 ? header.frames : FrameRange{};
  s.scene.rate = header.rate;
  s.scene.replaced = CheckFrames(header.replaced, s.scene.frames, "replaced", violations);
  s.scene.beats = CheckBeats(header.beats, s.scene.frames, "beats", limits, violations);
  for (size_t i = 0; i < s.scene.cameras.size(); ++i) {
    const std::string camera = absl::StrCat("cameras[", i, "]");
    s.scene.cameras[i].masks = CheckMasks(header.cameras[i].masks, s.scene.frames, camera, limits, violations);
  }
  s.scene.directives = std::move(header.directives);
  CheckCrowds(header.crowds, limits, catalogue, violations);
  s.crowds = std::move(header.crowds);
  s.scene.backdrop_colour = header.backdrop_colour;
}

SceneBuilder::~SceneBuilder() = default;

int64_t SceneBuilder::object_count() const { return state_->sent; }

int32_t SceneBuilder::frame_count() const { return state_->shape.frames; }

const std::vector<Camera>& SceneBuilder::cameras() const { return state_->scene.cameras; }

bool SceneBuilder::State::RoomFor(int64_t count) {
  sent += count;
  if (sent <= limits.objects) return true;
  incomplete = true;
  return false;
}

uint32_t SceneBuilder::State::InternName(NameTable& table, std::string_view name, const std::string& field) {
  if (name.empty()) return kNone;
  std::string fault = NameFault(name, 0, kLongestNameBytes);
  if (fault.empty()) return table.Intern(name);
  violations.Add(field, std::move(fault));
  return kNone;
}

void SceneBuilder::AddRow(const ObjectRow& row, std::string_view path) {
  State& s = *state_;
  if (!s.RoomFor(1)) return;
  s.places.AddRow(path);
  ObjectInput input;
  input.path = path;
  input.id = row.id;
  input.box = {row.box_min, row.box_max};
  input.importance = row.importance;
  input.complexity = row.complexity;
  input.measured = row.measured;
  input.measured_tracks = row.measured_tracks;
  input.measured_unreadable = row.measured_unreadable;
  input.spent_hours = &row.spent_hours;
  input.poses.matrices = row.transforms;
  input.poses.count = row.transforms.size() / 16;
  input.particulars = row.particulars;

  ObjectNames names;
  const std::string prefix = absl::StrCat(absl::string_view(path.data(), path.size()), ".");
  if (row.particulars != nullptr) input.particulars_path = prefix + "particulars";
  const std::optional<uint16_t> known = s.catalogue.Find(row.class_name);
  if (known) {
    names.class_index = *known;
    names.class_known = true;
  } else {
    AddFault(
        s.violations, [&] { return prefix + "class_name"; }, [&] { return UnknownClass(row.class_name, s.catalogue); });
  }
  names.asset = s.InternName(s.assets, row.asset, prefix + "asset_id");
  names.container = s.InternName(s.container_names, row.container, prefix + "container_id");
  if (row.colour) names.colour = {(*row.colour)[0], (*row.colour)[1], (*row.colour)[2], 1};
  s.AddObject(input, names);
}

// The number of poses, and whether there is anything to measure. Blocks are checked as a whole.
static bool CheckRowTrack(const ObjectInput& input, int32_t frames, Violations& violations) {
  const size_t numbers = input.poses.matrices.size();
  const auto field = [&] { return input.Field("transform.matrices", ""); };
  if (numbers == 0) {
    const bool has_box = input.box.min != Vec3{} || input.box.max != Vec3{};
    if ((!input.measured.empty() || input.measured_unreadable) && !has_box) return true;
    AddFault(violations, field, [&] {
      return std::string(has_box ? "got a box without a matrix, want one matrix or one per frame"
                                 : "got no matrix and nothing measured, want a box with its matrices, or measured");
    });
    return false;
  }
  const size_t count = numbers / 16;
  if (numbers % 16 == 0 && (count == 1 || frames == 0 || count == static_cast<size_t>(frames))) return true;
  AddFault(violations, field, [&] {
    const std::string per_frame = frames > 1 ? absl::StrCat("1 or ", frames) : std::string("1");
    return numbers % 16 == 0 ? GotCount(count, absl::StrCat(per_frame, " (matrices)"))
                             : GotCount(numbers, absl::StrCat("16 numbers a matrix, ", per_frame, " matrices"));
  });
  return false;
}

bool SceneBuilder::State::AddId(const ObjectInput& input) {
  Objects& objects = scene.objects;
  const bool plain = !input.id.empty() && input.id.size() <= kLongestNameBytes && IsPlainText(input.id);
  const auto field = [&] { return input.Field("id", "id_lengths"); };
  objects.id.Append(plain ? input.id : std::string_view());
  if (!plain) {
    AddFault(violations, field, [&] { return NameFault(input.id, 1, kLongestNameBytes); });
    return false;
  }
  const auto row = static_cast<uint32_t>(objects.id.size() - 1);
  const uint32_t first = ids.Insert(row);
  if (first == kNone) return true;
  AddFault(violations, field, [&] {
    return absl::StrCat("got ", QuotedText(input.id), ", already used at ", places.Of(first).Field("id", "id_lengths"),
                        ", want ids that are unique in the shot");
  });
  return false;
}

void SceneBuilder::State::AddObject(const ObjectInput& input, const ObjectNames& names) {
  bool good = AddId(input) && names.class_known;
  odd_class |= !names.class_known;
  const bool track_good = input.in_block || CheckRowTrack(input, shape.frames, violations);
  good = CheckObject(input, shape, violations) && track_good && good;
  Geometry geometry = Geometry::kFaulty;
  if (track_good && input.poses.count == 0) geometry = Geometry::kNone;
  if (track_good && input.poses.count > 0 && BoxGood(input.box, shape.largest_m)) geometry = Geometry::kGood;
  good = AddParticulars(input, geometry, names) && good;
  AddColumns(input, names, good && shape.frames > 0 && !input.measured_unreadable);
}

static bool SaysSomething(const Particulars& particulars) {
  return !particulars.mesh.triangles.empty() || !particulars.openings.empty() || !particulars.indirect.empty() ||
         particulars.hold_group != kNone || !particulars.replaced.empty() || !particulars.beats.empty();
}

bool SceneBuilder::State::AddParticulars(const ObjectInput& input, Geometry geometry, const ObjectNames& names) {
  const ObjectClass* object_class = names.class_known ? &catalogue.classes[names.class_index] : nullptr;
  const ParticularsCheck check = {input, geometry, catalogue, object_class, scene, limits, particulars, violations};
  Objects& objects = scene.objects;
  const auto row = static_cast<uint32_t>(objects.inner_box.size());
  float inner_box = 0;
  bool good = check.InnerBox(inner_box);
  objects.particulars.push_back(kNone);
  if (input.particulars != nullptr) {
    Particulars found;
    good = check.Read(found) && good;
    found.object = row;
    found.hold_group = InternName(hold_groups, input.particulars->hold_group, input.particulars_path + ".hold_group");
    if (good && SaysSomething(found)) {
      objects.particulars[row] = static_cast<uint32_t>(scene.particulars.size());
      scene.particulars.push_back(std::move(found));
    }
  }
  objects.inner_box.push_back(good ? inner_box : 0);
  return good;
}

void SceneBuilder::State::AddColumns(const ObjectInput& input, const ObjectNames& names, bool good) {
  Objects& objects = scene.objects;
  const auto row = static_cast<uint32_t>(objects.size());
  const double importance = input.importance    ? *input.importance
                            : names.class_known ? catalogue.classes[names.class_index].importance
                                                : 1;
  objects.class_index.push_back(names.class_index);
  objects.asset.push_back(names.asset);
  objects.container.push_back(names.container);
  objects.importance.push_back(good ? static_cast<float>(importance) : 1.0f);
  objects.complexity.push_back(good ? static_cast<float>(input.complexity.value_or(1)) : 1.0f);
  objects.colour.push_back(names.colour);
  objects.chunk.push_back(kNone);
  objects.lane.push_back(0);
  objects.measured.push_back(kNone);
  if (!good) return;
  if (input.poses.count > 0) AddPoses(input, row);
  if (!input.measured.empty()) {
    objects.measured[row] = static_cast<uint32_t>(scene.measured.size() / input.measured.size());
    scene.measured.insert(scene.measured.end(), input.measured.begin(), input.measured.end());
  }
  if (input.spent_hours == nullptr) return;
  for (const Tier tier : kAllTiers) {
    const double hours = (*input.spent_hours)[static_cast<size_t>(Index(tier))];
    if (hours > 0) scene.spent.push_back({row, tier, hours});
  }
}

void SceneBuilder::State::AddPoses(const ObjectInput& input, uint32_t row) {
  const auto frames = static_cast<int32_t>(input.poses.Still() ? 1 : input.poses.count);
  const ChunkPlace place = chunks.Open(row, frames);
  scene.objects.chunk[row] = place.chunk;
  scene.objects.lane[row] = place.lane;
  for (int32_t f = 0; f < frames; ++f) chunks.Put(place, f, Fold(input.box, input.poses.At(static_cast<size_t>(f))));
}

void SceneBuilder::AddInterest(const InterestSpec& interest, std::string_view path_in) {
  State& s = *state_;
  const std::string path(path_in);
  PointOfInterest point;
  point.frames = s.scene.frames;
  if (interest.object_id.empty()) {
    for (const auto& [field, share] : {std::pair{".place.x", interest.x}, std::pair{".place.y", interest.y}}) {
      if (!(share >= 0 && share <= 1)) s.violations.Add(path + field, GotNumber(share, "a share from 0 to 1"));
    }
  } else {
    std::string fault = NameFault(interest.object_id, 1, kLongestNameBytes);
    if (!fault.empty()) {
      s.violations.Add(path + ".object_id", std::move(fault));
      return;
    }
  }
  point.x = interest.x;
  point.y = interest.y;
  if (interest.frames && s.shape.frames > 0) {
    const FrameRange got = *interest.frames, shot = s.scene.frames;
    if (got.first > got.last || got.first < shot.first || got.last > shot.last) {
      s.violations.Add(path + ".frames",
                       absl::StrCat("got ", got.first, " to ", got.last, ", want frames of the shot (", shot.first,
                                    " to ", shot.last, "), last not below first"));
    }
    point.frames = got;
  }
  s.interest.push_back({path, interest.object_id, point});
}

}  // namespace scantling
