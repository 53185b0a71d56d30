// Cameras of a glTF scene as shot cameras.

#ifndef SCANTLING_CLIENT_IMPORT_CAMERA_H_
#define SCANTLING_CLIENT_IMPORT_CAMERA_H_

#include <string>
#include <vector>

#include "client/import/hierarchy.h"
#include "client/import/import_gltf.h"
#include "client/import/notes.h"
#include "client/import/poses.h"
#include "tiny_gltf.h"

namespace scantling::import {

struct SceneCamera {
  int node = 0;
  GltfCamera facts;
};

// Every node of the scene that holds a camera, in scene order. animated: per node, as FindAnimated tells.
std::vector<SceneCamera> FindCameras(const tinygltf::Model& model, const Hierarchy& hierarchy,
                                     const std::vector<bool>& animated);

// Those chosen by name in the options' order, or the first; a warning where that leaves out others or there is none. A
// name unknown is a fault that lists the names there are; so is a name given twice.
std::vector<SceneCamera> ChooseCameras(const std::vector<SceneCamera>& cameras, const GltfImportOptions& options,
                                       Notes* faults, Notes* warnings);

struct PictureSize {
  int width_px = 0;
  int height_px = 0;
};

// The options' size; a height of 0 comes from the first camera's aspect, or is 858 where it gives none.
PictureSize SizeOf(const tinygltf::Model& model, const std::vector<SceneCamera>& chosen,
                   const GltfImportOptions& options);

// One chosen camera. A perspective window is 24 mm high and its aspect times as wide (without an aspect: the
// picture's), its focal length 12 mm / tan(yfov / 2), which gives the file's angle of view; an orthographic window is
// 2 xmag by 2 ymag metres. zfar absent: no far plane. Faults name numbers glTF does not allow; a warning tells where
// pixels do not come out square.
v1::ShotCamera MakeCamera(const tinygltf::Model& model, const SceneCamera& camera, const NodePoses& poses,
                          const PictureSize& size, Notes* faults, Notes* warnings);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_CAMERA_H_
