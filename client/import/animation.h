// Animation channels of a glTF file, and their values at a time.

#ifndef SCANTLING_CLIENT_IMPORT_ANIMATION_H_
#define SCANTLING_CLIENT_IMPORT_ANIMATION_H_

#include <vector>

#include "client/import/matrix.h"
#include "client/import/notes.h"
#include "tiny_gltf.h"

namespace scantling::import {

enum class ChannelPath { kTranslation, kRotation, kScale };
enum class Interpolation { kStep, kLinear, kCubicSpline };

struct Channel {
  int node = 0;
  ChannelPath path = ChannelPath::kTranslation;
  Interpolation interpolation = Interpolation::kLinear;
  std::vector<double> times_s;  // strictly rising, at least one
  // Per time: 3 numbers, or 4 for a rotation; for a cubic spline thrice that: in-tangent, value, out-tangent.
  std::vector<double> values;
};

// All channels that move nodes, of all animations together. Faults: sampler out of range, path or interpolation
// unknown, times that do not rise, as many values as times (or thrice) missing, a rotation key of length 0, a node with
// a matrix, more than kMostGltfKeyValues numbers. Warnings: morph weights, a second channel for one thing (the first
// counts), extensions' targets. Precondition: LoadGltf's checks.
std::vector<Channel> ReadChannels(const tinygltf::Model& model, Notes* faults, Notes* warnings);

// Sets the channel's part of *placing to its value at a time; before the first and after the last key it stays as
// there. A rotation comes out with length 1. O(log keys).
void Sample(const Channel& channel, double time_s, Placing* placing);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_ANIMATION_H_
