// World matrices by walking the scene in order, a parent before its children.
//
// The first frame visits every node; later frames visit only nodes that a channel moves, directly or from above. What
// is kept is one matrix per wanted node, or one per frame where they differ: a channel that changes nothing is found
// out by comparing bits, so a node that only seems animated still sends one matrix.

#include "client/import/poses.h"

#include <algorithm>
#include <cmath>
#include <string>

#include "absl/strings/str_cat.h"

namespace scantling::import {
namespace {

constexpr double kUnitTolerance = 1e-3;  // of a quaternion's length; exporters write five digits or more

class Evaluator {
 public:
  Evaluator(const tinygltf::Model& model, const Hierarchy& hierarchy, const std::vector<Channel>& channels)
      : model_(model),
        hierarchy_(hierarchy),
        channels_of_(model.nodes.size()),
        placing_(model.nodes.size()),
        local_(model.nodes.size(), kIdentity),
        world_(model.nodes.size(), kIdentity) {
    for (const Channel& channel : channels) channels_of_[channel.node].push_back(&channel);
  }

  void ReadRest(Notes* faults, Notes* warnings) {
    for (const int node : hierarchy_.order) {
      const tinygltf::Node& from = model_.nodes[node];
      if (from.matrix.size() == 16) {
        std::copy(from.matrix.begin(), from.matrix.end(), local_[node].begin());
        if (from.matrix[3] != 0 || from.matrix[7] != 0 || from.matrix[11] != 0 || from.matrix[15] != 1) {
          faults->Add(absl::StrCat("nodes[", node, "].matrix"), "got a last row other than 0 0 0 1, want that");
        }
        continue;
      }
      Placing& placing = placing_[node];
      std::copy(from.translation.begin(), from.translation.end(), placing.translation);
      std::copy(from.scale.begin(), from.scale.end(), placing.scale);
      if (from.rotation.size() == 4) ReadRotation(node, from.rotation, faults, warnings);
      local_[node] = ToMatrix(placing);
    }
  }

  void EvaluateAt(double time_s, const std::vector<int>& nodes) {
    for (const int node : nodes) {
      if (!channels_of_[node].empty()) {
        Placing placing = placing_[node];
        for (const Channel* channel : channels_of_[node]) Sample(*channel, time_s, &placing);
        local_[node] = ToMatrix(placing);
      }
      const int parent = hierarchy_.parent[node];
      world_[node] = parent < 0 ? local_[node] : Multiply(world_[parent], local_[node]);
    }
  }

  const Matrix& world(int node) const { return world_[node]; }

 private:
  void ReadRotation(int node, const std::vector<double>& q, Notes* faults, Notes* warnings) {
    const double length = std::sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]);
    const std::string where = absl::StrCat("nodes[", node, "].rotation");
    if (!(length > 0) || !std::isfinite(length))
      return faults->Add(where, "got a quaternion of no length, want length 1");
    if (std::abs(length - 1) > kUnitTolerance) {
      warnings->Add(where, absl::StrCat("has length ", length, "; brought to length 1"));
    }
    for (int i = 0; i < 4; ++i) placing_[node].rotation[i] = q[i] / length;
  }

  const tinygltf::Model& model_;
  const Hierarchy& hierarchy_;
  std::vector<std::vector<const Channel*>> channels_of_;
  std::vector<Placing> placing_;
  std::vector<Matrix> local_, world_;
};

// Fills frames on which the node is flat from their neighbours.
void MendFlat(NodePoses* poses) {
  std::vector<Matrix>& world = poses->world;
  size_t first_whole = 0;
  while (first_whole < world.size() && IsFlat(world[first_whole])) ++first_whole;
  poses->flat_frames = static_cast<int>(first_whole);
  if (first_whole == world.size()) return;
  for (size_t i = 0; i < first_whole; ++i) world[i] = world[first_whole];
  for (size_t i = first_whole + 1; i < world.size(); ++i) {
    if (!IsFlat(world[i])) continue;
    ++poses->flat_frames;
    world[i] = world[i - 1];
  }
}

void Finish(int node, NodePoses* poses, Notes* faults) {
  for (size_t i = 0; i < poses->world.size(); ++i) {
    if (IsFinite(poses->world[i])) continue;
    faults->Add(absl::StrCat("nodes[", node, "]"),
                absl::StrCat("got a place that is not finite ", i, " frames in, want it finite"));
    return;
  }
  MendFlat(poses);
  for (const Matrix& m : poses->world) {
    if (m != poses->world[0]) return;
  }
  if (poses->world.size() == 1) return;
  poses->world.resize(1);
  poses->world.shrink_to_fit();
}

}  // namespace

std::vector<bool> FindAnimated(const Hierarchy& hierarchy, const std::vector<Channel>& channels) {
  std::vector<bool> animated(hierarchy.parent.size(), false);
  for (const Channel& channel : channels) animated[channel.node] = true;
  for (const int node : hierarchy.order) {
    const int parent = hierarchy.parent[node];
    if (parent >= 0 && animated[parent]) animated[node] = true;
  }
  return animated;
}

std::vector<NodePoses> EvaluatePoses(const tinygltf::Model& model, const Hierarchy& hierarchy,
                                     const std::vector<Channel>& channels, const std::vector<bool>& wanted,
                                     const FrameTimes& times, Notes* faults, Notes* warnings) {
  std::vector<NodePoses> poses(model.nodes.size());
  Evaluator evaluator(model, hierarchy, channels);
  evaluator.ReadRest(faults, warnings);
  if (!faults->empty()) return poses;
  const std::vector<bool> animated = FindAnimated(hierarchy, channels);
  std::vector<int> moving, kept;
  for (const int node : hierarchy.order) {
    if (animated[node]) moving.push_back(node);
    if (animated[node] && wanted[node]) kept.push_back(node);
  }
  evaluator.EvaluateAt(0, hierarchy.order);
  for (const int node : hierarchy.order) {
    if (wanted[node]) poses[node].world.push_back(evaluator.world(node));
  }
  for (int index = 1; index < times.frames && !kept.empty(); ++index) {
    evaluator.EvaluateAt(times.seconds(index), moving);
    for (const int node : kept) poses[node].world.push_back(evaluator.world(node));
  }
  for (const int node : hierarchy.order) {
    if (wanted[node]) Finish(node, &poses[node], faults);
  }
  return poses;
}

}  // namespace scantling::import
