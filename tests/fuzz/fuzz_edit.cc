// Bytes -> ShotEdit -> merged scene, twice over: the way of an edit of a live shot. The second time what the edit
// brings is there already and takes its own place, so removals name nothing any more.
//
// Whatever is refused leaves the scene as it was; whatever is taken in is a sound scene.

#include <google/protobuf/stubs/logging.h>

#include <cstddef>
#include <cstdint>

#include "server/rpc/edit_reader.h"
#include "tests/fuzz/invariants.h"

namespace scantling::fuzz {
namespace {

void PutObject(const char* id, const char* container, int poses, v1::ShotEdit& edit) {
  v1::SceneObject& object = *edit.add_objects();
  object.set_id(id);
  object.set_class_name("person");
  object.set_container_id(container);
  object.mutable_box()->mutable_min_m();
  object.mutable_box()->mutable_max_m()->set_x(1);
  object.mutable_box()->mutable_max_m()->set_y(2);
  object.mutable_box()->mutable_max_m()->set_z(1);
  for (int pose = 0; pose < poses; ++pose) {
    for (const double entry :
         {1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.5 * pose, 0.0, -9.0, 1.0}) {
      object.mutable_transform()->add_matrices(entry);
    }
  }
}

v1::Begin Beginning() {
  v1::Begin begin;
  v1::Shot& shot = *begin.mutable_header();
  shot.mutable_frames()->set_first(1);
  shot.mutable_frames()->set_last(4);
  shot.mutable_rate()->set_numerator(24);
  shot.mutable_rate()->set_denominator(1);
  v1::ShotCamera& camera = *shot.add_cameras();
  camera.set_id("main");
  camera.set_window_width(36);
  camera.set_window_height(24);
  camera.add_focal_mm(35);
  camera.set_image_width_px(64);
  camera.set_image_height_px(36);
  camera.set_near_m(0.1);
  for (int i = 0; i < 16; ++i) camera.mutable_transform()->add_matrices(i % 5 == 0 ? 1 : 0);
  return begin;
}

const Policy& SmallPolicy() {
  static const Policy* const policy = [] {
    auto* made = new Policy();
    made->catalogue = Catalogue();
    made->rates.classes.resize(made->catalogue.classes.size());
    Style style;
    style.name = "plain";
    made->styles.push_back(style);
    made->default_style = "plain";
    return made;
  }();
  return *policy;
}

void CheckEdit(const v1::ShotEdit& edit) {
  const Policy& policy = SmallPolicy();
  SceneLimits limits;
  limits.frames = 64;
  limits.objects = 1000;
  EditReader reader(policy, limits);
  LiveHeader header;
  SCANTLING_MUST(reader.Begin(Beginning(), header).ok());
  v1::ShotEdit first;
  PutObject("a", "", 1, first);
  PutObject("b", "a", 4, first);
  Scene scene;
  for (const v1::ShotEdit* each : {static_cast<const v1::ShotEdit*>(&first), &edit, &edit}) {
    reader.Add(*each, header);
    TakenEdit taken;
    const grpc::Status read = reader.Finish(scene, taken);
    SCANTLING_MUST(read.ok() || !read.error_details().empty());
    SCANTLING_MUST(each != &first || read.ok());
    if (!read.ok() || !taken.scene_changed) continue;
    CheckScene(taken.merged.scene);
    SCANTLING_MUST(taken.merged.was.size() == taken.merged.scene.objects.size());
    header = taken.header;
    scene = std::move(taken.merged.scene);
  }
}

}  // namespace
}  // namespace scantling::fuzz

// Protobuf writes a line for every string that is not UTF-8; a fuzzer makes millions.
extern "C" int LLVMFuzzerInitialize(int*, char***) {
  google::protobuf::SetLogHandler(nullptr);
  return 0;
}

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  scantling::v1::ShotEdit edit;
  if (edit.ParseFromArray(data, static_cast<int>(size))) scantling::fuzz::CheckEdit(edit);
  return 0;
}
