// Where nodes stand on every frame.

#ifndef SCANTLING_CLIENT_IMPORT_POSES_H_
#define SCANTLING_CLIENT_IMPORT_POSES_H_

#include <vector>

#include "client/import/animation.h"
#include "client/import/hierarchy.h"
#include "client/import/matrix.h"

namespace scantling::import {

struct FrameTimes {
  int frames = 1;
  double frames_per_second = 24;

  double seconds(int index) const { return index / frames_per_second; }
};

// Object-to-world matrices: one for what stays on all frames, else one per frame. A matrix that flattens its node is
// replaced by that of the nearest earlier frame on which it does not, or else the nearest later one.
struct NodePoses {
  std::vector<Matrix> world;
  int flat_frames = 0;  // frames on which the node is scaled to nothing; all of them: `world` is not usable
};

// Whether a node or one above it has a channel, per node.
std::vector<bool> FindAnimated(const Hierarchy& hierarchy, const std::vector<Channel>& channels);

// Poses of the nodes wanted, by node; empty for the others. Faults: a place that is not finite. A rotation of the file
// that is not of length 1 is brought to it, with a warning; of length 0 it is a fault.
// O(frames * nodes + wanted * frames).
std::vector<NodePoses> EvaluatePoses(const tinygltf::Model& model, const Hierarchy& hierarchy,
                                     const std::vector<Channel>& channels, const std::vector<bool>& wanted,
                                     const FrameTimes& times, Notes* faults, Notes* warnings);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_POSES_H_
