// Rows keep doubles; blocks keep what ObjectBlock holds: float boxes and linear parts, double translations.
//
// A box loses less than one part in ten million of its size when it becomes float. Importance 0 in a block means "not
// given", as scene.proto says, and an importance too small for a float is written as the smallest one.

#include "client/import/object_writer.h"

#include <algorithm>
#include <limits>

namespace scantling::import {
namespace {

constexpr int kBlockObjects = 16'384;
constexpr size_t kBlockPoses = 50'000;

void SetVector(const double* from, v1::Vector3* to) {
  to->set_x(from[0]);
  to->set_y(from[1]);
  to->set_z(from[2]);
}

template <typename Names>
uint32_t Intern(const std::string& name, std::unordered_map<std::string, uint32_t>& table, Names* names) {
  const auto [entry, added] = table.try_emplace(name, static_cast<uint32_t>(table.size()));
  if (added) names->Add()->assign(name);
  return entry->second;
}

float ImportanceOf(const ImportedObject& object) {
  if (!object.labels.importance.has_value()) return 0;
  return std::clamp(static_cast<float>(*object.labels.importance), std::numeric_limits<float>::min(),
                    std::numeric_limits<float>::max());
}

bool HasParticulars(const Labels& labels) { return labels.inner_box.has_value() || !labels.hold_group.empty(); }

void SetParticulars(const Labels& labels, v1::Particulars* to) {
  if (labels.inner_box.has_value()) to->mutable_occluder()->set_inner_box(*labels.inner_box);
  if (!labels.hold_group.empty()) to->set_hold_group(labels.hold_group);
}

}  // namespace

void ObjectWriter::Add(const ImportedObject& object) { blocks_ ? AddToBlock(object) : AddRow(object); }

void ObjectWriter::AddRow(const ImportedObject& object) {
  v1::SceneObject& row = *shot_->add_objects();
  row.set_id(object.id);
  row.set_class_name(object.labels.class_name);
  row.set_asset_id(object.labels.asset_id);
  if (object.labels.importance.has_value()) row.set_importance(*object.labels.importance);
  SetVector(object.box.min_m, row.mutable_box()->mutable_min_m());
  SetVector(object.box.max_m, row.mutable_box()->mutable_max_m());
  for (const Matrix& m : object.world) row.mutable_transform()->mutable_matrices()->Add(m.begin(), m.end());
  if (HasParticulars(object.labels)) SetParticulars(object.labels, row.mutable_particulars());
}

void ObjectWriter::AddToBlock(const ImportedObject& object) {
  if (block_ == nullptr || block_->id_lengths_size() == kBlockObjects || poses_ >= kBlockPoses) {
    block_ = shot_->add_blocks();
    poses_ = 0;
    classes_.clear();
    assets_.clear();
  }
  if (HasParticulars(object.labels)) {
    v1::ObjectBlock::Particular& particular = *block_->add_particulars();
    particular.set_index(static_cast<uint32_t>(block_->id_lengths_size()));
    SetParticulars(object.labels, particular.mutable_particulars());
  }
  block_->mutable_id_blob()->append(object.id);
  block_->add_id_lengths(static_cast<uint32_t>(object.id.size()));
  block_->add_class_of(Intern(object.labels.class_name, classes_, block_->mutable_class_names()));
  block_->add_asset_of(1 + Intern(object.labels.asset_id, assets_, block_->mutable_asset_ids()));
  block_->add_importance(ImportanceOf(object));
  for (const double number : object.box.min_m) block_->add_boxes_m(static_cast<float>(number));
  for (const double number : object.box.max_m) block_->add_boxes_m(static_cast<float>(number));
  block_->add_poses(static_cast<uint32_t>(object.world.size()));
  poses_ += object.world.size();
  for (const Matrix& m : object.world) {
    for (int k = 0; k < 9; ++k) block_->add_linear(static_cast<float>(m[4 * (k / 3) + k % 3]));
    for (int k = 12; k < 15; ++k) block_->add_translation_m(m[k]);
  }
}

}  // namespace scantling::import
