// One pose generator serves both forms, so that a row and a block column hold the same numbers.
//
// A pose is a turn about +Y and a place. The turn is kept as float in both forms (blocks hold floats), the place as
// double. Movers go step by step along the way they face at the middle of each step: exact along a line, and within
// a millimetre a second of the circle for gulls.

#include "client/sample/write.h"

#include <cmath>

#include "client/sample/camera.h"
#include "client/sample/trig.h"

namespace scantling::sample {
namespace {

constexpr int kBlockObjects = 16'384;
constexpr int kBlockPoses = 50'000;
constexpr uint32_t kColourGiven = 0x01000000;

struct Pose {
  float sine = 0, cosine = 1;  // of the yaw
  Place place;
};

// Calls write(pose) once for what stays, once per frame for what moves.
template <typename Write>
void ForEachPose(const Staged& object, int frames, Write write) {
  const double step_s = 1 / kFramesPerSecond;
  const int poses = object.speed_mps == 0 ? 1 : frames;
  Place place = object.start;
  for (int frame = 0; frame < poses; ++frame) {
    const double yaw_turns = object.yaw_turns + object.turn_tps * frame * step_s;
    const auto [sine, cosine] = SinCosOfTurns(yaw_turns);
    const Place rounded = {std::floor(place.x_m * 1e4 + 0.5) / 1e4, place.y_m, std::floor(place.z_m * 1e4 + 0.5) / 1e4};
    write(Pose{static_cast<float>(sine), static_cast<float>(cosine), rounded});
    const auto [mid_sine, mid_cosine] = SinCosOfTurns(yaw_turns + object.turn_tps * step_s / 2);
    place.x_m += object.speed_mps * step_s * mid_sine;
    place.z_m += object.speed_mps * step_s * mid_cosine;
  }
}

void SetVector(const float* from, v1::Vector3* to) {
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

}  // namespace

v1::SceneObject* AddRow(const Staged& object, int frames, v1::Shot* shot) {
  v1::SceneObject& row = *shot->add_objects();
  row.set_id(object.id);
  row.set_class_name(TraitsOf(object.role).class_name);
  row.set_asset_id(object.asset);
  row.set_container_id(object.container);
  row.mutable_colour()->set_red(object.colour >> 16);
  row.mutable_colour()->set_green(object.colour >> 8 & 255);
  row.mutable_colour()->set_blue(object.colour & 255);
  SetVector(object.box_min_m, row.mutable_box()->mutable_min_m());
  SetVector(object.box_max_m, row.mutable_box()->mutable_max_m());
  auto& matrices = *row.mutable_transform()->mutable_matrices();
  matrices.Reserve(object.speed_mps == 0 ? 16 : 16 * frames);
  ForEachPose(object, frames, [&matrices](const Pose& p) {
    const double columns[16] = {p.cosine, 0, -p.sine,  0, 0,           1,           0,           0,
                                p.sine,   0, p.cosine, 0, p.place.x_m, p.place.y_m, p.place.z_m, 1};
    matrices.Add(columns, columns + 16);
  });
  return &row;
}

void BlockWriter::OpenBlock() {
  block_ = shot_->add_blocks();
  poses_ = 0;
  classes_.clear();
  assets_.clear();
  containers_.clear();
}

void BlockWriter::SetParticulars(const v1::Particulars& particulars) {
  v1::ObjectBlock::Particular& particular = *block_->add_particulars();
  particular.set_index(static_cast<uint32_t>(block_->id_lengths_size() - 1));
  *particular.mutable_particulars() = particulars;
}

void BlockWriter::Add(const Staged& object) {
  if (block_ == nullptr || block_->id_lengths_size() == kBlockObjects || poses_ >= kBlockPoses) OpenBlock();
  block_->mutable_id_blob()->append(object.id);
  block_->add_id_lengths(static_cast<uint32_t>(object.id.size()));
  block_->add_class_of(Intern(TraitsOf(object.role).class_name, classes_, block_->mutable_class_names()));
  block_->add_asset_of(1 + Intern(object.asset, assets_, block_->mutable_asset_ids()));
  block_->add_container_of(
      object.container.empty() ? 0 : 1 + Intern(object.container, containers_, block_->mutable_container_ids()));
  block_->add_colour(kColourGiven | object.colour);
  block_->mutable_boxes_m()->Add(object.box_min_m, object.box_min_m + 3);
  block_->mutable_boxes_m()->Add(object.box_max_m, object.box_max_m + 3);
  const int poses = object.speed_mps == 0 ? 1 : frames_;
  block_->add_poses(static_cast<uint32_t>(poses));
  poses_ += poses;
  ForEachPose(object, frames_, [this](const Pose& p) {
    const float columns[9] = {p.cosine, 0, -p.sine, 0, 1, 0, p.sine, 0, p.cosine};
    const double place[3] = {p.place.x_m, p.place.y_m, p.place.z_m};
    block_->mutable_linear()->Add(columns, columns + 9);
    block_->mutable_translation_m()->Add(place, place + 3);
  });
}

}  // namespace scantling::sample
