// Objects are copied out of the shot's packed columns into the packed columns of an edit, and shifted there: an edit
// holds whole objects, as the API wants them.

#include "tests/bench/live/cast.h"

#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <set>
#include <utility>

#include "client/sample/sample.h"

namespace scantling::bench {
namespace {

// Classes that hide by themselves.
std::set<std::string> HidingClasses() {
  std::set<std::string> hiding;
  for (const auto& entry : YAML::LoadFile(SCANTLING_SOURCE_DIR "/config/classes.yaml")["classes"]) {
    if (entry.second["inner_box"].as<double>(0) > 0) hiding.insert(entry.first.as<std::string>());
  }
  return hiding;
}

bool SaysItHides(const v1::Particulars& particulars) {
  return particulars.occluder().has_mesh() || particulars.occluder().inner_box() > 0;
}

// Place of `name` in a table, which it joins where it is not there yet.
uint32_t PlaceIn(google::protobuf::RepeatedPtrField<std::string>& table, const std::string& name) {
  const auto found = std::find(table.begin(), table.end(), name);
  const auto place = static_cast<uint32_t>(found - table.begin());
  if (found == table.end()) *table.Add() = name;
  return place;
}

v1::Shot Sample(int objects) {
  SampleOptions options;
  options.objects = objects;
  options.frames = kFrames;
  options.blocks = true;
  return MakeSample(options);
}

}  // namespace

Cast::Cast(int objects) : header_(Sample(objects)) {
  blocks_.assign(header_.blocks().begin(), header_.blocks().end());
  header_.clear_blocks();
  for (uint32_t b = 0; b < blocks_.size(); ++b) Index(blocks_[b], b);
}

void Cast::Index(const v1::ObjectBlock& block, uint32_t number) {
  static const std::set<std::string> hiding = HidingClasses();
  Place place = {number, 0, 0, 0, -1};
  int particular = 0;
  for (; place.index < static_cast<uint32_t>(block.id_lengths_size()); ++place.index) {
    const bool has = particular < block.particulars_size() && block.particulars(particular).index() == place.index;
    place.particular = has ? particular++ : -1;
    const std::string& class_name = block.class_names(static_cast<int>(block.class_of(static_cast<int>(place.index))));
    const bool hides =
        hiding.count(class_name) > 0 || (has && SaysItHides(block.particulars(place.particular).particulars()));
    const std::string id = block.id_blob().substr(place.id_from, block.id_lengths(static_cast<int>(place.index)));
    (hides ? occluders_ : IsLookedAt(id) ? interest_ : plain_).push_back(objects_.size());
    if (class_name == "person") persons_.push_back(objects_.size());
    objects_.push_back(place);
    place.id_from += block.id_lengths(static_cast<int>(place.index));
    place.pose_from += block.poses(static_cast<int>(place.index));
  }
}

bool Cast::IsLookedAt(const std::string& id) const {
  return std::any_of(header_.interest().begin(), header_.interest().end(),
                     [&](const v1::PointOfInterest& point) { return point.object_id() == id; });
}

double Cast::static_share() const {
  size_t staying = 0;
  for (const v1::ObjectBlock& block : blocks_) {
    staying += static_cast<size_t>(std::count(block.poses().begin(), block.poses().end(), 1u));
  }
  return static_cast<double>(staying) / static_cast<double>(objects_.size());
}

std::vector<v1::ShotEdit> Cast::Everything() const {
  std::vector<v1::ShotEdit> parts(blocks_.size());
  for (size_t b = 0; b < blocks_.size(); ++b) *parts[b].add_blocks() = blocks_[b];
  return parts;
}

void Cast::Append(const Place& place, v1::ObjectBlock& out) {
  const v1::ObjectBlock& block = blocks_[place.block];
  const int index = static_cast<int>(place.index);
  out.mutable_id_blob()->append(block.id_blob(), place.id_from, block.id_lengths(index));
  out.add_id_lengths(block.id_lengths(index));
  out.add_class_of(PlaceIn(*out.mutable_class_names(), block.class_names(static_cast<int>(block.class_of(index)))));
  const uint32_t asset = block.asset_of(index), container = block.container_of(index);
  out.add_asset_of(asset == 0 ? 0
                              : 1 + PlaceIn(*out.mutable_asset_ids(), block.asset_ids(static_cast<int>(asset) - 1)));
  out.add_container_of(
      container == 0 ? 0
                     : 1 + PlaceIn(*out.mutable_container_ids(), block.container_ids(static_cast<int>(container) - 1)));
  out.add_colour(block.colour(index));
  const auto boxes = block.boxes_m().begin() + 6 * index;
  out.mutable_boxes_m()->Add(boxes, boxes + 6);
  const uint32_t poses = block.poses(index);
  out.add_poses(poses);
  const auto linear = block.linear().begin() + static_cast<std::ptrdiff_t>(9 * place.pose_from);
  out.mutable_linear()->Add(linear, linear + 9 * poses);
  const double dx_m = Offset(), dz_m = Offset();
  for (size_t pose = place.pose_from; pose < place.pose_from + poses; ++pose) {
    const double* const at_m = block.translation_m().data() + 3 * pose;
    for (const double value : {at_m[0] + dx_m, at_m[1], at_m[2] + dz_m}) out.add_translation_m(value);
  }
  if (place.particular < 0) return;
  v1::ObjectBlock::Particular& particular = *out.add_particulars();
  particular.set_index(static_cast<uint32_t>(out.id_lengths_size() - 1));
  *particular.mutable_particulars() = block.particulars(place.particular).particulars();
}

v1::ShotEdit Cast::Move(const std::vector<size_t>& among, int count) {
  std::set<size_t> drawn;
  while (drawn.size() < std::min<size_t>(static_cast<size_t>(count), among.size())) {
    drawn.insert(among[random_() % among.size()]);
  }
  v1::ShotEdit edit;
  v1::ObjectBlock& block = *edit.add_blocks();
  for (const size_t object : drawn) Append(objects_[object], block);
  return edit;
}

v1::ShotEdit Cast::MovePlain(int count) { return Move(plain_, count); }

v1::ShotEdit Cast::MoveOccluders(int count) { return Move(occluders_, count); }

v1::ShotEdit Cast::MoveCamera() {
  v1::ShotEdit edit;
  v1::ShotCamera& camera = *edit.add_cameras() = header_.cameras(0);
  auto& matrices = *camera.mutable_transform()->mutable_matrices();
  const double dx_m = Offset(), dz_m = Offset();
  for (int pose = 0; pose < matrices.size(); pose += 16) {
    matrices[pose + 12] += dx_m;
    matrices[pose + 14] += dz_m;
  }
  return edit;
}

v1::ShotEdit Cast::Rule() {
  const Place& place = objects_[persons_[random_() % persons_.size()]];
  v1::ShotEdit edit;
  *edit.mutable_directives()->mutable_directives() = header_.directives();
  v1::Directive& directive = *edit.mutable_directives()->add_directives();
  directive.set_object_id(blocks_[place.block].id_blob().substr(
      place.id_from, blocks_[place.block].id_lengths(static_cast<int>(place.index))));
  directive.set_bound(v1::Directive::AT_LEAST);
  directive.set_tier(v1::FULL_RIG);
  return edit;
}

v1::ShotEdit Cast::Budget(double hours) {
  v1::ShotEdit edit;
  edit.mutable_options()->set_anim_hours(hours * (1 + 0.02 * Offset()));
  return edit;
}

}  // namespace scantling::bench
