// A small good shot as sent, for tests to spoil.

#ifndef SCANTLING_TESTS_RPC_SHOT_MAKER_H_
#define SCANTLING_TESTS_RPC_SHOT_MAKER_H_

#include <functional>
#include <initializer_list>
#include <ostream>
#include <string>
#include <vector>

#include "scantling/v1/scene.pb.h"
#include "server/policy/types.h"
#include "server/rpc/convert.h"

namespace scantling {

inline void PrintTo(const Violation& violation, std::ostream* out) {
  *out << violation.field << ": " << violation.description;
}

inline ClassCatalogue TwoClasses() {
  ClassCatalogue catalogue;
  for (const char* name : {"person", "dwelling"}) {
    catalogue.classes.emplace_back();
    catalogue.classes.back().name = name;
  }
  return catalogue;
}

// A matrix that moves by (x, y, z).
inline void AddMatrix(v1::TransformTrack& track, double x, double y, double z) {
  for (const double number : {1., 0., 0., 0., 0., 1., 0., 0., 0., 0., 1., 0., x, y, z, 1.}) track.add_matrices(number);
}

// A person of 0.5 x 1.75 x 0.25 m, ten metres before the camera.
inline void FillPerson(v1::SceneObject& object, const std::string& id) {
  object.set_id(id);
  object.set_class_name("person");
  v1::Vector3& min = *object.mutable_box()->mutable_min_m();
  min.set_x(-0.25);
  min.set_z(-0.125);
  v1::Vector3& max = *object.mutable_box()->mutable_max_m();
  max.set_x(0.25);
  max.set_y(1.75);
  max.set_z(0.125);
  AddMatrix(*object.mutable_transform(), 0, -0.875, -10);
}

inline void FillCamera(v1::ShotCamera& camera, const std::string& id) {
  camera.set_id(id);
  camera.set_window_width(36);
  camera.set_window_height(15);
  camera.add_focal_mm(35);
  camera.set_image_width_px(2048);
  camera.set_image_height_px(858);
  camera.set_near_m(0.1);
  AddMatrix(*camera.mutable_transform(), 0, 0, 0);
}

// Four frames from 1001, one camera, the people "ada" and "ben" (ben by a directive and a point of interest).
inline v1::Shot MakeShot() {
  v1::Shot shot;
  shot.set_shot_id("qy_0010");
  shot.set_sequence_id("qy");
  shot.mutable_frames()->set_first(1001);
  shot.mutable_frames()->set_last(1004);
  shot.mutable_rate()->set_numerator(24);
  shot.mutable_rate()->set_denominator(1);
  FillCamera(*shot.add_cameras(), "main");
  FillPerson(*shot.add_objects(), "ada");
  FillPerson(*shot.add_objects(), "ben");
  v1::Directive& directive = *shot.add_directives();
  directive.set_object_id("ben");
  directive.set_bound(v1::Directive::AT_LEAST);
  directive.set_tier(v1::PROXY);
  shot.add_interest()->set_object_id("ben");
  return shot;
}

struct Read {
  Scene scene;
  Violations violations;
};

inline Read ReadShot(const v1::Shot& shot) {
  static const ClassCatalogue catalogue = TwoClasses();
  Read read;
  read.scene = SceneFromProto(shot, catalogue, SceneLimits(), read.violations);
  return read;
}

// Faults of the good shot once it is spoilt.
inline std::vector<Violation> FaultsWith(const std::function<void(v1::Shot&)>& spoil) {
  v1::Shot shot = MakeShot();
  spoil(shot);
  return ReadShot(shot).violations.listed();
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_RPC_SHOT_MAKER_H_
