// Places on an object are sent in its own axes and kept in box coordinates: (p - middle) / half size on each axis, so
// that every pose carries them along without being looked at again. A card has no extent on one axis; there everything
// stands at 0.
//
// A mesh may not stick out of its object's box: whether the object itself is seen is judged by the box, and what hides
// must be no larger than what is drawn. Openings may: frames and sills stand proud of a wall.

#include "server/scene/particulars.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/faults.h"

namespace scantling {
namespace {

constexpr double kMeshSlack = 1e-4;  // of the box's half size: vertices are floats of another origin
constexpr size_t kMostTriangles = 65'536;
constexpr std::array<const char*, 3> kAxis = {"x", "y", "z"};

double Half(const LocalBox& box, size_t axis) { return (box.max[axis] - box.min[axis]) / 2; }

// On a card's axis of no thickness: 0 where the place lies in its plane, to a ten thousandth of its larger side.
double BoxCoordinate(const LocalBox& box, size_t axis, double place) {
  const double from_middle = place - (box.min[axis] + box.max[axis]) / 2, half = Half(box, axis);
  if (half > 0) return from_middle / half;
  const double size = std::max(Half(box, (axis + 1) % 3), Half(box, (axis + 2) % 3));
  return std::abs(from_middle) <= kMeshSlack * size ? 0 : std::copysign(2.0, from_middle);
}

std::string ShotFrames(FrameRange shot) { return absl::StrCat("frames of the shot, ", shot.first, " to ", shot.last); }

}  // namespace

FrameSpans CheckFrames(std::span<const FrameRange> ranges, FrameRange shot, const std::string& field,
                       Violations& violations) {
  std::vector<FrameRange> good;
  for (size_t i = 0; i < ranges.size(); ++i) {
    const FrameRange range = ranges[i];
    const bool within = shot.count() == 0 || (shot.contains(range.first) && shot.contains(range.last));
    if (range.first <= range.last && within) {
      good.push_back(range);
      continue;
    }
    AddFault(
        violations, [&] { return absl::StrCat(field, "[", i, "]"); },
        [&] {
          return absl::StrCat("got ", range.first, " to ", range.last, ", want ",
                              within ? "last not below first" : ShotFrames(shot));
        });
  }
  return NormalSpans(std::move(good));
}

std::vector<int32_t> CheckBeats(std::span<const int32_t> beats, FrameRange shot, const std::string& field,
                                const SceneLimits& limits, Violations& violations) {
  if (beats.size() > limits.beats) {
    violations.Add(field, GotCount(beats.size(), absl::StrCat("at most ", limits.beats)));
    return {};
  }
  std::vector<int32_t> good;
  for (size_t i = 0; i < beats.size(); ++i) {
    if (shot.count() == 0 || shot.contains(beats[i])) {
      good.push_back(beats[i]);
      continue;
    }
    AddFault(
        violations, [&] { return absl::StrCat(field, "[", i, "]"); },
        [&] { return GotInteger(beats[i], ShotFrames(shot)); });
  }
  std::sort(good.begin(), good.end());
  good.erase(std::unique(good.begin(), good.end()), good.end());
  return good;
}

std::vector<Mask> CheckMasks(std::span<const Mask> masks, FrameRange shot, const std::string& path,
                             const SceneLimits& limits, Violations& violations) {
  if (masks.size() > limits.masks) {
    violations.Add(path + ".masks", GotCount(masks.size(), absl::StrCat("at most ", limits.masks)));
    return {};
  }
  std::vector<Mask> checked;
  for (size_t i = 0; i < masks.size(); ++i) {
    Mask mask = masks[i];
    const std::string here = absl::StrCat(path, ".masks[", i, "]");
    bool shares = true;
    for (const auto& [name, value] :
         {std::pair{"left", mask.left}, {"top", mask.top}, {"right", mask.right}, {"bottom", mask.bottom}}) {
      if (value >= 0 && value <= 1) continue;
      violations.Add(absl::StrCat(here, ".", name), GotNumber(value, "a share of the picture, 0 to 1"));
      shares = false;
    }
    if (shares && !(mask.left < mask.right)) {
      violations.Add(here + ".right", GotNumber(mask.right, absl::StrCat("a number above left (", mask.left, ")")));
    }
    if (shares && !(mask.top < mask.bottom)) {
      violations.Add(here + ".bottom", GotNumber(mask.bottom, absl::StrCat("a number above top (", mask.top, ")")));
    }
    mask.frames = CheckFrames(masks[i].frames, shot, here + ".frames", violations);
    checked.push_back(std::move(mask));
  }
  return checked;
}

std::string ParticularsCheck::At(const std::string& field) const {
  return absl::StrCat(input.particulars_path, ".", field);
}

template <typename Description>
bool ParticularsCheck::Fault(const std::string& field, const Description& description) const {
  AddFault(
      violations, [&] { return At(field); }, description);
  return false;
}

bool ParticularsCheck::SeenThrough(const std::string& field, const std::string& got) const {
  if (object_class == nullptr || object_class->solidity >= catalogue.occluder_least_solidity) return true;
  AddFault(
      violations, [&] { return field; },
      [&] {
        return absl::StrCat("got ", got, " for class ", object_class->name, ", whose solidity ", object_class->solidity,
                            " is under the catalogue's occluder_least_solidity ", catalogue.occluder_least_solidity,
                            ", want none: it is seen through");
      });
  return false;
}

bool ParticularsCheck::InnerBox(float& inner_box) const {
  inner_box = object_class == nullptr ? 0 : static_cast<float>(object_class->inner_box);
  if (input.particulars != nullptr && input.particulars->mesh) inner_box = 0;
  const bool in_particulars = input.particulars != nullptr && input.particulars->inner_box.has_value();
  const std::optional<double> sent = in_particulars ? input.particulars->inner_box : input.inner_box;
  if (!sent) return true;
  const std::string field = in_particulars ? At("occluder.inner_box") : input.Field("", "inner_box");
  if (!(*sent >= 0 && *sent <= 1)) {
    AddFault(
        violations, [&] { return field; },
        [&] {
          return GotNumber(*sent, in_particulars ? "a share of the box, 0 to 1"
                                                 : "a share of the box, 0 to 1, or below 0: its class's");
        });
    return false;
  }
  inner_box = static_cast<float>(*sent);
  return *sent == 0 || SeenThrough(field, absl::StrCat("inner_box ", *sent));
}

bool ParticularsCheck::MeshSizes(const MeshSpec& sent) const {
  const size_t numbers = sent.vertices_m.size(), triangles = sent.triangles.size();
  if (numbers % 3 != 0) {
    return Fault("occluder.mesh.vertices_m", [&] { return GotCount(numbers, "3 numbers a vertex"); });
  }
  if (triangles == 0 || triangles % 3 != 0 || triangles / 3 > kMostTriangles) {
    return Fault("occluder.mesh.triangles", [&] {
      return GotCount(triangles, absl::StrCat("3 indices a triangle, 1 to ", kMostTriangles, " triangles"));
    });
  }
  return true;
}

bool ParticularsCheck::Mesh(OccluderMesh& mesh) const {
  if (!input.particulars->mesh) return true;
  const MeshSpec& sent = *input.particulars->mesh;
  if (!SeenThrough(At("occluder.mesh"), "a mesh")) return false;
  if (input.poses.count == 0) {
    return Fault("occluder.mesh", [] { return std::string("got a mesh without a box and its matrices, want both"); });
  }
  if (!MeshSizes(sent)) return false;
  const size_t count = sent.vertices_m.size() / 3;
  vertices += static_cast<int64_t>(count);
  if (vertices > limits.mesh_vertices) {
    return Fault("occluder.mesh.vertices_m", [&] {
      return absl::StrCat("got ", vertices, " vertices in the meshes so far, want at most ", limits.mesh_vertices,
                          " in a shot");
    });
  }
  for (size_t i = 0; i < count; ++i) {
    std::array<float, 3>& vertex = mesh.vertices.emplace_back();
    for (size_t axis = 0; axis < 3; ++axis) {
      const double place = sent.vertices_m[3 * i + axis], at = BoxCoordinate(input.box, axis, place);
      if (!(std::abs(at) <= 1 + kMeshSlack)) {
        return Fault(absl::StrCat("occluder.mesh.vertices_m[", 3 * i + axis, "]"), [&] {
          return GotNumber(place, absl::StrCat("a place in the object's box, ", input.box.min[axis], " to ",
                                               input.box.max[axis], " m"));
        });
      }
      vertex[axis] = static_cast<float>(std::clamp(at, -1.0, 1.0));
    }
  }
  for (size_t i = 0; i < sent.triangles.size(); i += 3) {
    for (size_t k = i; k < i + 3; ++k) {
      if (sent.triangles[k] < count) continue;
      return Fault(absl::StrCat("occluder.mesh.triangles[", k, "]"), [&] {
        return GotInteger(sent.triangles[k], absl::StrCat("an index below ", count, ", the number of vertices"));
      });
    }
    mesh.triangles.push_back({sent.triangles[i], sent.triangles[i + 1], sent.triangles[i + 2]});
  }
  return true;
}

bool ParticularsCheck::OneOpening(size_t number, const OpeningSpec& sent, Opening& opening) const {
  const std::string here = absl::StrCat("openings[", number, "]");
  for (size_t axis = 0; axis < 3; ++axis) {
    for (const auto& [corner, value] : {std::pair{"min_m", sent.min[axis]}, {"max_m", sent.max[axis]}}) {
      if (std::abs(value) <= limits.largest_m) continue;
      return Fault(absl::StrCat(here, ".", corner, ".", kAxis[axis]), [&] {
        return GotNumber(value, absl::StrCat("a number of metres within ", limits.largest_m, " of 0"));
      });
    }
    if (sent.max[axis] < sent.min[axis]) {
      return Fault(absl::StrCat(here, ".max_m.", kAxis[axis]), [&] {
        return GotNumber(sent.max[axis], absl::StrCat("a number not below min_m (", sent.min[axis], ")"));
      });
    }
    if (sent.max[axis] < input.box.min[axis] || sent.min[axis] > input.box.max[axis]) {
      return Fault(here, [&] {
        return absl::StrCat("got an opening from ", sent.min[axis], " to ", sent.max[axis], " m along ", kAxis[axis],
                            ", want one that meets the object's box, ", input.box.min[axis], " to ",
                            input.box.max[axis], " m");
      });
    }
    const bool flat = Half(input.box, axis) == 0;
    opening.min[axis] = flat ? 0 : static_cast<float>(BoxCoordinate(input.box, axis, sent.min[axis]));
    opening.max[axis] = flat ? 0 : static_cast<float>(BoxCoordinate(input.box, axis, sent.max[axis]));
  }
  return true;
}

bool ParticularsCheck::Openings(std::vector<Opening>& openings) const {
  const std::vector<OpeningSpec>& sent = input.particulars->openings;
  if (sent.empty()) return true;
  if (sent.size() > limits.openings) {
    return Fault("openings", [&] { return GotCount(sent.size(), absl::StrCat("at most ", limits.openings)); });
  }
  if (input.poses.count == 0) {
    return Fault("openings", [] { return std::string("got openings without a box and its matrices, want both"); });
  }
  bool good = true;
  openings.resize(sent.size());
  for (size_t i = 0; i < sent.size(); ++i) good = OneOpening(i, sent[i], openings[i]) && good;
  return good;
}

bool ParticularsCheck::Indirect(std::vector<IndirectSight>& indirect) const {
  const std::vector<IndirectSpec>& sent = input.particulars->indirect;
  if (sent.size() > limits.indirect_sights) {
    return Fault("indirect", [&] { return GotCount(sent.size(), absl::StrCat("at most ", limits.indirect_sights)); });
  }
  const size_t before = violations.count();
  for (size_t i = 0; i < sent.size(); ++i) {
    const std::string field = At(absl::StrCat("indirect[", i, "].frames"));
    IndirectSight sight = {sent[i].kind, CheckFrames(sent[i].frames, scene.frames, field, violations)};
    if (sent[i].frames.empty() && scene.frames.count() > 0) sight.frames = {scene.frames};
    indirect.push_back(std::move(sight));
  }
  return violations.count() == before;
}

bool ParticularsCheck::Frames(Particulars& out) const {
  const ParticularsSpec& sent = *input.particulars;
  const size_t before = violations.count();
  out.replaced = UniteSpans(CheckFrames(sent.replaced, scene.frames, At("replaced"), violations), scene.replaced);
  out.beats = CheckBeats(sent.beats, scene.frames, At("beats"), limits, violations);
  out.beats.insert(out.beats.end(), scene.beats.begin(), scene.beats.end());
  std::sort(out.beats.begin(), out.beats.end());
  out.beats.erase(std::unique(out.beats.begin(), out.beats.end()), out.beats.end());
  return violations.count() == before;
}

bool ParticularsCheck::Read(float& inner_box, Particulars& out) const {
  bool good = InnerBox(inner_box);
  if (input.particulars == nullptr) return good;
  good = Mesh(out.mesh) && good;
  good = Openings(out.openings) && good;
  good = Indirect(out.indirect) && good;
  return Frames(out) && good;
}

}  // namespace scantling
