// Reading and sampling animation channels.
//
// STEP takes the earlier key. LINEAR mixes two keys, rotations along the shorter great arc (slerp). CUBICSPLINE is a
// Hermite spline whose stored tangents are per second, so they are multiplied with the keys' distance in time; a
// rotation's four numbers are splined one by one and brought back to length 1.
// Source: glTF 2.0 Specification, section 3.11 (animations) and appendix C (interpolation modes).

#include "client/import/animation.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/import/accessor.h"
#include "client/import/import_gltf.h"

namespace scantling::import {
namespace {

constexpr double kShortestQuaternion = 1e-6;  // below this a direction is rounding error
constexpr double kNearlyEqualSine = 1e-6;     // where slerp's division loses to a plain mix, which then is exact enough

int WidthOf(ChannelPath path) { return path == ChannelPath::kRotation ? 4 : 3; }

bool ParsePath(const std::string& name, ChannelPath* path) {
  if (name == "translation") *path = ChannelPath::kTranslation;
  if (name == "rotation") *path = ChannelPath::kRotation;
  if (name == "scale") *path = ChannelPath::kScale;
  return name == "translation" || name == "rotation" || name == "scale";
}

bool ParseInterpolation(const std::string& name, Interpolation* interpolation) {
  if (name == "STEP") *interpolation = Interpolation::kStep;
  if (name.empty() || name == "LINEAR") *interpolation = Interpolation::kLinear;
  if (name == "CUBICSPLINE") *interpolation = Interpolation::kCubicSpline;
  return name.empty() || name == "STEP" || name == "LINEAR" || name == "CUBICSPLINE";
}

double Length(const double* q) { return std::sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]); }

class Reader {
 public:
  Reader(const tinygltf::Model& model, Notes* faults, Notes* warnings)
      : model_(model), faults_(*faults), warnings_(*warnings) {}

  void ReadAnimation(size_t index) {
    const tinygltf::Animation& animation = model_.animations[index];
    for (size_t c = 0; c < animation.channels.size(); ++c) {
      const std::string where = absl::StrCat("animations[", index, "].channels[", c, "]");
      Channel channel;
      if (!ReadTarget(animation.channels[c], where, &channel)) continue;
      const int sampler = animation.channels[c].sampler;
      if (static_cast<size_t>(sampler) >= animation.samplers.size()) {
        faults_.Add(where + ".sampler",
                    absl::StrCat("got ", sampler, ", want an index into the ", animation.samplers.size(), " samplers"));
      } else if (ReadKeys(animation.samplers[sampler], absl::StrCat("animations[", index, "].samplers[", sampler, "]"),
                          &channel)) {
        channels_.push_back(std::move(channel));
      }
    }
  }

  std::vector<Channel> Take() { return std::move(channels_); }

 private:
  bool ReadTarget(const tinygltf::AnimationChannel& from, const std::string& where, Channel* channel) {
    if (from.target_node < 0) {
      warnings_.Add(where, "moves no node; left out");
      return false;
    }
    if (from.target_path == "weights") {
      warnings_.Add(where, "moves morph targets; boxes stay those of the rest pose");
      return false;
    }
    channel->node = from.target_node;
    if (!ParsePath(from.target_path, &channel->path)) {
      faults_.Add(where + ".target.path", absl::StrCat("got '", from.target_path.substr(0, 40),
                                                       "', want translation, rotation, scale or weights"));
      return false;
    }
    if (!model_.nodes[channel->node].matrix.empty()) {
      faults_.Add(where,
                  absl::StrCat("got nodes[", channel->node, "] with a matrix, want translation, rotation, scale"));
      return false;
    }
    if (!targets_.insert({channel->node, channel->path}).second) {
      warnings_.Add(where, absl::StrCat("moves nodes[", channel->node, "] a second time; the first counts"));
      return false;
    }
    return true;
  }

  bool ReadKeys(const tinygltf::AnimationSampler& sampler, const std::string& where, Channel* channel) {
    if (!ParseInterpolation(sampler.interpolation, &channel->interpolation)) {
      faults_.Add(where + ".interpolation",
                  absl::StrCat("got '", sampler.interpolation.substr(0, 40), "', want LINEAR, STEP or CUBICSPLINE"));
      return false;
    }
    const size_t faults_before = faults_.count();
    const int64_t left = kMostGltfKeyValues - numbers_;
    channel->times_s = ReadNumbers(model_, sampler.input, 1, left, where + ".input", &faults_);
    const int width = WidthOf(channel->path);
    channel->values = ReadNumbers(model_, sampler.output, width, left / width, where + ".output", &faults_);
    if (faults_.count() != faults_before) return false;
    numbers_ += static_cast<int64_t>(channel->times_s.size() + channel->values.size());
    return CheckTimes(channel->times_s, where + ".input") && CheckValues(*channel, where + ".output");
  }

  bool CheckTimes(const std::vector<double>& times_s, const std::string& where) {
    for (size_t i = 1; i < times_s.size(); ++i) {
      if (times_s[i] > times_s[i - 1]) continue;
      faults_.Add(where, absl::StrCat("got time ", times_s[i], " after ", times_s[i - 1], ", want rising times"));
      return false;
    }
    return true;
  }

  bool CheckValues(const Channel& channel, const std::string& where) {
    const size_t width = WidthOf(channel.path);
    const bool cubic = channel.interpolation == Interpolation::kCubicSpline;
    const size_t want = channel.times_s.size() * (cubic ? 3 : 1);
    if (channel.values.size() != want * width) {
      faults_.Add(where, absl::StrCat("got ", channel.values.size() / width, " elements for ", channel.times_s.size(),
                                      " times, want ", want));
      return false;
    }
    if (channel.path != ChannelPath::kRotation) return true;
    for (size_t key = cubic ? 1 : 0; key < want; key += cubic ? 3 : 1) {
      if (Length(&channel.values[4 * key]) > kShortestQuaternion) continue;
      faults_.Add(where, absl::StrCat("got a rotation of length 0 at element ", key, ", want length 1"));
      return false;
    }
    return true;
  }

  const tinygltf::Model& model_;
  Notes& faults_;
  Notes& warnings_;
  std::vector<Channel> channels_;
  std::set<std::pair<int, ChannelPath>> targets_;
  int64_t numbers_ = 0;
};

void Slerp(const double* from, const double* to, double share, double* out) {
  const double dot = from[0] * to[0] + from[1] * to[1] + from[2] * to[2] + from[3] * to[3];
  const double lengths = Length(from) * Length(to);
  const double cosine = std::min(std::abs(dot) / lengths, 1.0);
  const double angle = std::acos(cosine);
  const double sine = std::sin(angle);
  double first = 1 - share, second = share;
  if (sine > kNearlyEqualSine) {
    first = std::sin(angle * (1 - share)) / sine;
    second = std::sin(angle * share) / sine;
  }
  if (dot < 0) second = -second;  // q and -q turn alike; this one is nearer
  for (int i = 0; i < 4; ++i) out[i] = first * from[i] / Length(from) + second * to[i] / Length(to);
}

// Keys k and k + 1, u of the way between them, their distance in seconds.
struct Between {
  size_t key = 0;
  double share = 0;
  double distance_s = 0;
};

void SampleCubic(const Channel& channel, const Between& at, int width, double* out) {
  const double u = at.share, u2 = u * u, u3 = u2 * u;
  const double* early = &channel.values[3 * width * at.key];
  const double* late = early + 3 * width;
  for (int i = 0; i < width; ++i) {
    const double out_tangent = at.distance_s * early[2 * width + i];
    const double in_tangent = at.distance_s * late[i];
    out[i] = (2 * u3 - 3 * u2 + 1) * early[width + i] + (u3 - 2 * u2 + u) * out_tangent +
             (3 * u2 - 2 * u3) * late[width + i] + (u3 - u2) * in_tangent;
  }
}

void SampleLinear(const Channel& channel, const Between& at, int width, double* out) {
  const double* early = &channel.values[width * at.key];
  const double* late = early + width;
  if (width == 4) return Slerp(early, late, at.share, out);
  for (int i = 0; i < width; ++i) out[i] = early[i] + at.share * (late[i] - early[i]);
}

void CopyKey(const Channel& channel, size_t key, int width, double* out) {
  const bool cubic = channel.interpolation == Interpolation::kCubicSpline;
  const double* value = &channel.values[cubic ? (3 * key + 1) * width : key * width];
  std::copy(value, value + width, out);
}

}  // namespace

std::vector<Channel> ReadChannels(const tinygltf::Model& model, Notes* faults, Notes* warnings) {
  Reader reader(model, faults, warnings);
  for (size_t i = 0; i < model.animations.size(); ++i) reader.ReadAnimation(i);
  return reader.Take();
}

void Sample(const Channel& channel, double time_s, Placing* placing) {
  const int width = WidthOf(channel.path);
  double* out = channel.path == ChannelPath::kTranslation ? placing->translation
                : channel.path == ChannelPath::kRotation  ? placing->rotation
                                                          : placing->scale;
  const auto& times_s = channel.times_s;
  const size_t after = std::upper_bound(times_s.begin(), times_s.end(), time_s) - times_s.begin();
  const size_t key = after == 0 ? 0 : after - 1;
  if (after == 0 || after == times_s.size() || channel.interpolation == Interpolation::kStep) {
    CopyKey(channel, key, width, out);
  } else {
    const double distance_s = times_s[after] - times_s[key];
    const Between at = {key, (time_s - times_s[key]) / distance_s, distance_s};
    channel.interpolation == Interpolation::kLinear ? SampleLinear(channel, at, width, out)
                                                    : SampleCubic(channel, at, width, out);
  }
  if (width == 3) return;
  if (!(Length(out) > kShortestQuaternion)) CopyKey(channel, key, width, out);  // a spline may pass through nothing
  const double length = Length(out);
  for (int i = 0; i < 4; ++i) out[i] /= length;
}

}  // namespace scantling::import
