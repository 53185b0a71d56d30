// glTF cameras look down -Z with +Y up, as shot cameras do, so a camera's track is its node's.
//
// A glTF camera has an angle of view and no film; film is made up so that the angle is kept: only focal / window counts
// in a picture without lens focus, and the daemon measures focus on film only where a focal length was meant. tinygltf
// gives 0 for an absent zfar or aspectRatio. Scale of a camera's node is left in; the daemon strips it.
// Source: glTF 2.0 Specification, section 3.10.

#include "client/import/camera.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"

namespace scantling::import {
namespace {

constexpr double kWindowHeight_mm = 24;
constexpr int kDefaultHeight_px = 858;
constexpr int kMostPixels = 65'536;
constexpr double kSquareTolerance = 0.005;  // of a pixel's aspect; rounding the height to whole pixels stays under it

std::string NameOf(const tinygltf::Model& model, int node) {
  if (!model.nodes[node].name.empty()) return model.nodes[node].name;
  const std::string& name = model.cameras[model.nodes[node].camera].name;
  return name.empty() ? absl::StrCat("camera_", node) : name;
}

double AspectOf(const tinygltf::Camera& camera) {
  if (camera.type == "perspective") return camera.perspective.aspectRatio;
  return camera.orthographic.xmag / camera.orthographic.ymag;
}

std::string QuotedNames(const std::vector<SceneCamera>& cameras) {
  const std::vector<SceneCamera> shown(cameras.begin(), cameras.begin() + std::min<size_t>(cameras.size(), 20));
  std::string names = absl::StrJoin(shown, ", ", [](std::string* out, const SceneCamera& camera) {
    absl::StrAppend(out, "'", camera.facts.name, "'");
  });
  return cameras.size() > shown.size() ? names + ", ..." : names;
}

// The camera's own part: numbers allowed by the specification, then film.
void SetPerspective(const tinygltf::PerspectiveCamera& from, const std::string& where, const PictureSize& size,
                    v1::ShotCamera* to, Notes* faults) {
  if (!(from.yfov > 0 && from.yfov < M_PI)) {
    faults->Add(where + ".yfov", absl::StrCat("got ", from.yfov, ", want above 0 and below pi"));
  }
  if (!(from.znear > 0)) faults->Add(where + ".znear", absl::StrCat("got ", from.znear, ", want above 0"));
  if (from.zfar != 0 && !(from.zfar > from.znear)) {
    faults->Add(where + ".zfar", absl::StrCat("got ", from.zfar, ", want above znear ", from.znear));
  }
  if (from.aspectRatio < 0) {
    faults->Add(where + ".aspectRatio", absl::StrCat("got ", from.aspectRatio, ", want above 0"));
  }
  const double aspect = from.aspectRatio > 0 ? from.aspectRatio : static_cast<double>(size.width_px) / size.height_px;
  to->set_projection(v1::ShotCamera::PERSPECTIVE);
  to->set_window_height(kWindowHeight_mm);
  to->set_window_width(kWindowHeight_mm * aspect);
  to->add_focal_mm(kWindowHeight_mm / 2 / std::tan(from.yfov / 2));
  to->set_near_m(from.znear);
  to->set_far_m(from.zfar);
}

void SetOrthographic(const tinygltf::OrthographicCamera& from, const std::string& where, v1::ShotCamera* to,
                     Notes* faults) {
  if (!(from.xmag > 0)) faults->Add(where + ".xmag", absl::StrCat("got ", from.xmag, ", want above 0"));
  if (!(from.ymag > 0)) faults->Add(where + ".ymag", absl::StrCat("got ", from.ymag, ", want above 0"));
  if (!(from.znear >= 0)) faults->Add(where + ".znear", absl::StrCat("got ", from.znear, ", want 0 or above"));
  if (!(from.zfar > from.znear)) {
    faults->Add(where + ".zfar", absl::StrCat("got ", from.zfar, ", want above znear ", from.znear));
  }
  to->set_projection(v1::ShotCamera::ORTHOGRAPHIC);
  to->set_window_width(2 * from.xmag);
  to->set_window_height(2 * from.ymag);
  to->set_near_m(from.znear);
  to->set_far_m(from.zfar);
}

void WarnOfPixels(const v1::ShotCamera& camera, Notes* warnings) {
  const double aspect = camera.window_width() / camera.window_height();
  const double pixel = aspect * camera.image_height_px() / camera.image_width_px();
  if (std::abs(pixel - 1) <= kSquareTolerance) return;
  warnings->Add(absl::StrCat("camera '", camera.id(), "'"),
                absl::StrCat("its pixels come out ", pixel, " times as wide as high; square ones need a picture ",
                             std::lround(camera.image_width_px() / aspect), " px high"));
}

}  // namespace

std::vector<SceneCamera> FindCameras(const tinygltf::Model& model, const Hierarchy& hierarchy,
                                     const std::vector<bool>& animated) {
  std::vector<SceneCamera> cameras;
  UniqueNames names;
  for (const int node : hierarchy.order) {
    const int camera = model.nodes[node].camera;
    if (camera < 0) continue;
    cameras.push_back(
        {node, {names.Take(NameOf(model, node)), model.cameras[camera].type != "orthographic", animated[node]}});
  }
  return cameras;
}

std::vector<SceneCamera> ChooseCameras(const std::vector<SceneCamera>& cameras, const GltfImportOptions& options,
                                       Notes* faults, Notes* warnings) {
  std::vector<SceneCamera> chosen;
  if (cameras.empty()) {
    if (options.cameras.empty()) warnings->Add("", "no camera in the scene; give the shot one before it is planned");
  } else if (options.cameras.empty()) {
    chosen.push_back(cameras[0]);
    if (cameras.size() > 1) {
      warnings->Add("", absl::StrCat("camera '", cameras[0].facts.name, "' is taken of ", QuotedNames(cameras)));
    }
  }
  for (const std::string& name : options.cameras) {
    const auto same = [&name](const SceneCamera& camera) { return camera.facts.name == name; };
    const auto found = std::find_if(cameras.begin(), cameras.end(), same);
    if (found == cameras.end()) {
      faults->Add("camera", absl::StrCat("got '", name, "', want one of: ",
                                         cameras.empty() ? "none, the scene has no camera" : QuotedNames(cameras)));
    } else if (std::any_of(chosen.begin(), chosen.end(), same)) {
      faults->Add("camera", absl::StrCat("got '", name, "' twice, want each camera once"));
    } else {
      chosen.push_back(*found);
    }
  }
  return chosen;
}

PictureSize SizeOf(const tinygltf::Model& model, const std::vector<SceneCamera>& chosen,
                   const GltfImportOptions& options) {
  if (options.height_px != 0 || chosen.empty()) {
    return {options.width_px, options.height_px != 0 ? options.height_px : kDefaultHeight_px};
  }
  const double aspect = AspectOf(model.cameras[model.nodes[chosen[0].node].camera]);
  const double height_px = options.width_px / aspect;
  if (!(aspect > 0) || !(height_px <= kMostPixels)) return {options.width_px, kDefaultHeight_px};
  return {options.width_px, std::max(1, static_cast<int>(std::lround(height_px)))};
}

v1::ShotCamera MakeCamera(const tinygltf::Model& model, const SceneCamera& camera, const NodePoses& poses,
                          const PictureSize& size, Notes* faults, Notes* warnings) {
  const int index = model.nodes[camera.node].camera;
  const tinygltf::Camera& from = model.cameras[index];
  const std::string where = absl::StrCat("cameras[", index, "]");
  v1::ShotCamera to;
  to.set_id(camera.facts.name);
  to.set_image_width_px(size.width_px);
  to.set_image_height_px(size.height_px);
  if (from.type == "perspective") {
    SetPerspective(from.perspective, where + ".perspective", size, &to, faults);
  } else if (from.type == "orthographic") {
    SetOrthographic(from.orthographic, where + ".orthographic", &to, faults);
  } else {
    faults->Add(where + ".type", absl::StrCat("got '", from.type.substr(0, 40), "', want perspective or orthographic"));
    return to;
  }
  if (poses.flat_frames > 0) {
    faults->Add(absl::StrCat("nodes[", camera.node, "]"),
                absl::StrCat("got a camera scaled to nothing on ", poses.flat_frames, " frames, want some size"));
  }
  for (const Matrix& m : poses.world) to.mutable_transform()->mutable_matrices()->Add(m.begin(), m.end());
  WarnOfPixels(to, warnings);
  return to;
}

}  // namespace scantling::import
