// Numbers are round and small, so that what a test expects can be seen from the numbers here.

#include "tests/contract/shots.h"

#include <cmath>
#include <string>
#include <thread>

#include "absl/strings/str_cat.h"

namespace scantling::testing {
namespace {

void SetPosition(v1::TransformTrack& track, double x, double y, double z) {
  const double matrix[16] = {1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, x, y, z, 1};
  track.mutable_matrices()->Add(std::begin(matrix), std::end(matrix));
}

void SetBox(v1::Box& box, double half_width, double height) {
  box.mutable_min_m()->set_x(-half_width);
  box.mutable_min_m()->set_z(-half_width);
  box.mutable_max_m()->set_x(half_width);
  box.mutable_max_m()->set_y(height);
  box.mutable_max_m()->set_z(half_width);
}

v1::SceneObject& AddStanding(v1::Shot& shot, const std::string& id, const std::string& class_name, double x, double z) {
  v1::SceneObject& object = *shot.add_objects();
  object.set_id(id);
  object.set_class_name(class_name);
  // Exact in binary, so that float columns hold the same numbers as rows of doubles.
  SetBox(*object.mutable_box(), 0.25, 1.75);
  SetPosition(*object.mutable_transform(), x, 0, z);
  return object;
}

void AppendPoses(const v1::SceneObject& object, v1::ObjectBlock& block) {
  const auto& matrices = object.transform().matrices();
  block.add_poses(static_cast<uint32_t>(matrices.size() / 16));
  for (int pose = 0; pose < matrices.size(); pose += 16) {
    for (int column = 0; column < 3; ++column) {
      for (int row = 0; row < 3; ++row) block.add_linear(static_cast<float>(matrices[pose + 4 * column + row]));
    }
    for (int row = 0; row < 3; ++row) block.add_translation_m(matrices[pose + 12 + row]);
  }
}

void AppendObject(const v1::SceneObject& object, v1::ObjectBlock& block) {
  block.mutable_id_blob()->append(object.id());
  block.add_id_lengths(static_cast<uint32_t>(object.id().size()));
  block.add_class_of(0);
  for (const v1::Vector3* corner : {&object.box().min_m(), &object.box().max_m()}) {
    for (const double value : {corner->x(), corner->y(), corner->z()}) block.add_boxes_m(static_cast<float>(value));
  }
  AppendPoses(object, block);
}

}  // namespace

v1::Shot EmptyStage() {
  v1::Shot shot;
  shot.set_shot_id("qy_010");
  shot.set_sequence_id("qy");
  shot.mutable_frames()->set_first(1001);
  shot.mutable_frames()->set_last(1024);
  shot.mutable_rate()->set_numerator(24);
  shot.mutable_rate()->set_denominator(1);
  shot.set_style("ink");
  v1::ShotCamera& camera = *shot.add_cameras();
  camera.set_id("main");
  camera.set_projection(v1::ShotCamera::PERSPECTIVE);
  camera.set_window_width(36);
  camera.set_window_height(15.08203125);  // square pixels: 36 * 858 / 2048
  camera.add_focal_mm(35);
  camera.set_image_width_px(2048);
  camera.set_image_height_px(858);
  camera.set_near_m(0.1);
  camera.set_far_m(5000);
  SetPosition(*camera.mutable_transform(), 0, 1.6, 0);
  return shot;
}

v1::Shot TinyShot() {
  v1::Shot shot = EmptyStage();
  AddStanding(shot, "lamplighter", "lead", 0, -5);
  AddStanding(shot, "porter", "person", 1.5, -12);
  v1::SceneObject& ferry = AddStanding(shot, "ferry", "ferry", -4, -40);
  SetBox(*ferry.mutable_box(), 6, 5);
  AddStanding(shot, "passenger_1", "passenger", -4, -39).set_container_id("ferry");
  AddStanding(shot, "unseen", "person", 0, 30);
  return shot;
}

v1::Shot Crowd(int count, int frames) {
  v1::Shot shot = EmptyStage();
  shot.mutable_frames()->set_last(1000 + frames);
  constexpr int kPerRow = 40;
  for (int i = 0; i < count; ++i) {
    const double z = -8 - 3.0 * (i / kPerRow);
    const double x = (i % kPerRow - kPerRow / 2) * 0.02 * -z;
    v1::SceneObject& object = AddStanding(shot, absl::StrCat("p", i), "person", x, z);
    if (i % 2 == 0) continue;
    object.clear_transform();
    for (int frame = 0; frame < frames; ++frame) {
      SetPosition(*object.mutable_transform(), x + 0.0625 * frame, 0, z);  // 1.5 m/s at 24 fps, exact in binary
    }
  }
  return shot;
}

CrowdInBlocks BlocksOf(const v1::Shot& crowd, int per_block) {
  CrowdInBlocks result{crowd, {}};
  result.shot.clear_objects();
  for (int i = 0; i < crowd.objects_size(); ++i) {
    if (i % per_block == 0) result.blocks.emplace_back().add_class_names("person");
    AppendObject(crowd.objects(i), result.blocks.back());
  }
  return result;
}

std::vector<v1::PlanLargeShotRequest> PartsOf(const CrowdInBlocks& crowd, const v1::PlanOptions& options) {
  std::vector<v1::PlanLargeShotRequest> parts(1);
  *parts[0].mutable_start()->mutable_shot() = crowd.shot;
  *parts[0].mutable_start()->mutable_options() = options;
  for (const v1::ObjectBlock& block : crowd.blocks) *parts.emplace_back().mutable_block() = block;
  return parts;
}

StreamedPlan PlanByStream(v1::ShotPlanner::Stub& planner, const std::vector<v1::PlanLargeShotRequest>& parts) {
  StreamedPlan result;
  grpc::ClientContext context;
  const auto stream = planner.PlanLargeShot(&context);
  std::thread reader([&] {
    v1::PlanLargeShotResponse answer;
    google::protobuf::RepeatedPtrField<v1::Decision> decisions;
    bool summed = false;
    while (stream->Read(&answer)) {
      if (summed) ++result.messages_after_summary;
      if (answer.has_progress()) result.progress.push_back(answer.progress());
      if (answer.has_decisions()) {
        result.decisions_per_message.push_back(answer.decisions().decisions_size());
        decisions.MergeFrom(answer.decisions().decisions());
      }
      if (answer.has_summary()) {
        summed = true;
        result.plan = answer.summary().plan();
      }
    }
    if (result.plan.decisions_size() == 0) *result.plan.mutable_decisions() = decisions;
  });
  for (const v1::PlanLargeShotRequest& part : parts) {
    if (!stream->Write(part)) break;
  }
  stream->WritesDone();
  reader.join();
  result.status = stream->Finish();
  return result;
}

}  // namespace scantling::testing
