// Places on an object are sent in its own axes and kept in box coordinates: (p - middle) / half size on each axis, so
// that every pose carries them along without being looked at again. A card has no extent on one axis, or a millionth of
// its size; there everything stands at 0.
//
// A mesh may not stick out of its object's box: whether the object itself is seen is judged by the box, and what hides
// must be no larger than what is drawn. Openings may: frames and sills stand proud of a wall.
//
// A mesh in the wrong unit has all its vertices outside. Its fault names the first and counts the rest, or one mesh
// would fill the list and hide the faults of everything else.

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "absl/strings/str_cat.h"
#include "server/scene/particulars.h"

namespace scantling {
namespace {

// Of the box's half size: vertices are floats, and so is the box of a block, each rounded on its own.
constexpr double kSlack = 1e-4;
constexpr double kFlat = 1e-6;     // of the larger of the other two half sizes
constexpr double kFarthest = 1e9;  // box coordinate of an opening: a float, and its product with half-axes too
constexpr size_t kMostTriangles = 65'536;
constexpr std::array<const char*, 3> kAxis = {"x", "y", "z"};

double Half(const LocalBox& box, size_t axis) { return (box.max[axis] - box.min[axis]) / 2; }

double LargerOtherHalf(const LocalBox& box, size_t axis) {
  return std::max(Half(box, (axis + 1) % 3), Half(box, (axis + 2) % 3));
}

// A card across this axis, or as good as one: rounding leaves some a hair thick.
bool IsFlat(const LocalBox& box, size_t axis) { return Half(box, axis) <= kFlat * LargerOtherHalf(box, axis); }

// How far from the box a place may lie on an axis, metres.
double SlackM(const LocalBox& box, size_t axis) {
  return kSlack * (IsFlat(box, axis) ? LargerOtherHalf(box, axis) : Half(box, axis));
}

// NaN lies nowhere.
bool LiesWithin(const LocalBox& box, size_t axis, double place) {
  const double slack = SlackM(box, axis);
  return place >= box.min[axis] - slack && place <= box.max[axis] + slack;
}

double BoxCoordinate(const LocalBox& box, size_t axis, double place) {
  return IsFlat(box, axis) ? 0 : (place - (box.min[axis] + box.max[axis]) / 2) / Half(box, axis);
}

std::string Extent(const LocalBox& box, size_t axis) {
  return absl::StrCat("the object's box, ", box.min[axis], " to ", box.max[axis], " m");
}

// "got 3 (and 2 more), want ...", the first of several like faults.
std::string GotFirst(const std::string& first, size_t all, const std::string& want) {
  return absl::StrCat("got ", first, all > 1 ? absl::StrCat(" (and ", all - 1, " more)") : "", ", want ", want);
}

}  // namespace

bool ParticularsCheck::Mesh(OccluderMesh& mesh) const {
  if (!input.particulars->mesh) return true;
  const MeshSpec& sent = *input.particulars->mesh;
  const std::string field = At("occluder.mesh");
  if (!HasGeometry(field, "a mesh") || !SeenThrough(field, "a mesh")) return false;
  if (!MeshSizes(sent)) return false;
  const bool good = MeshVertices(sent, mesh);
  return MeshTriangles(sent, mesh) && good;
}

bool ParticularsCheck::MeshSizes(const MeshSpec& sent) const {
  const size_t numbers = sent.vertices_m.size(), indices = sent.triangles.size();
  bool good = true;
  if (numbers % 3 != 0) {
    good = Fault("occluder.mesh.vertices_m", [&] { return GotCount(numbers, "3 numbers a vertex"); });
  }
  if (indices == 0 || indices % 3 != 0 || indices / 3 > kMostTriangles) {
    good = Fault("occluder.mesh.triangles", [&] {
      return GotCount(indices, absl::StrCat("3 indices a triangle, 1 to ", kMostTriangles, " triangles"));
    });
  }
  if (!good) return false;
  tally.mesh_vertices += static_cast<int64_t>(numbers / 3);
  tally.mesh_triangles += static_cast<int64_t>(indices / 3);
  good = Within("occluder.mesh.vertices_m", tally.mesh_vertices, limits.mesh_vertices, "vertices in the meshes");
  return Within("occluder.mesh.triangles", tally.mesh_triangles, limits.mesh_triangles, "triangles in the meshes") &&
         good;
}

bool ParticularsCheck::MeshVertices(const MeshSpec& sent, OccluderMesh& mesh) const {
  if (geometry != Geometry::kGood) return false;
  size_t outside = 0, first = 0;
  mesh.vertices.resize(sent.vertices_m.size() / 3);
  for (size_t i = 0; i < sent.vertices_m.size(); ++i) {
    const size_t axis = i % 3;
    if (!LiesWithin(input.box, axis, sent.vertices_m[i])) {
      if (outside++ == 0) first = i;
      continue;
    }
    const double at = BoxCoordinate(input.box, axis, sent.vertices_m[i]);
    mesh.vertices[i / 3][axis] = static_cast<float>(std::clamp(at, -1.0, 1.0));
  }
  if (outside == 0) return true;
  return Fault(absl::StrCat("occluder.mesh.vertices_m[", first, "]"), [&] {
    return GotFirst(absl::StrCat(sent.vertices_m[first]), outside,
                    absl::StrCat("a place in ", Extent(input.box, first % 3)));
  });
}

bool ParticularsCheck::MeshTriangles(const MeshSpec& sent, OccluderMesh& mesh) const {
  const size_t vertices = sent.vertices_m.size() / 3;
  size_t beyond = 0, first = 0;
  for (size_t i = 0; i < sent.triangles.size(); ++i) {
    if (sent.triangles[i] >= vertices && beyond++ == 0) first = i;
  }
  if (beyond > 0) {
    return Fault(absl::StrCat("occluder.mesh.triangles[", first, "]"), [&] {
      return GotFirst(absl::StrCat(sent.triangles[first]), beyond,
                      absl::StrCat("an index below ", vertices, ", the number of vertices"));
    });
  }
  mesh.triangles.resize(sent.triangles.size() / 3);
  for (size_t i = 0; i < sent.triangles.size(); ++i) mesh.triangles[i / 3][i % 3] = sent.triangles[i];
  return true;
}

bool ParticularsCheck::Openings(std::vector<Opening>& openings) const {
  const std::vector<OpeningSpec>& sent = input.particulars->openings;
  if (sent.empty()) return true;
  const std::string field = At("openings");
  if (!HasGeometry(field, "openings")) return false;
  if (sent.size() > limits.openings) {
    return Fault("openings", [&] { return GotCount(sent.size(), absl::StrCat("at most ", limits.openings)); });
  }
  tally.openings += static_cast<int64_t>(sent.size());
  if (!Within("openings", tally.openings, limits.all_openings, "openings")) return false;
  bool good = geometry == Geometry::kGood;
  openings.resize(sent.size());
  for (size_t i = 0; i < sent.size(); ++i) {
    good = !sent[i].unreadable && OneOpening(i, sent[i], openings[i]) && good;
  }
  return good;
}

bool ParticularsCheck::OneOpening(size_t number, const OpeningSpec& sent, Opening& opening) const {
  const std::string here = absl::StrCat("openings[", number, "]");
  if (!OpeningNumbers(here, sent)) return false;
  if (geometry != Geometry::kGood) return false;
  bool good = true;
  for (size_t axis = 0; axis < 3; ++axis) {
    const double slack = SlackM(input.box, axis);
    if (sent.max[axis] < input.box.min[axis] - slack || sent.min[axis] > input.box.max[axis] + slack) {
      good = Fault(here, [&] {
        return absl::StrCat("got an opening from ", sent.min[axis], " to ", sent.max[axis], " m along ", kAxis[axis],
                            ", want one that meets ", Extent(input.box, axis));
      });
    }
    const double min = BoxCoordinate(input.box, axis, sent.min[axis]);
    const double max = BoxCoordinate(input.box, axis, sent.max[axis]);
    if (min < -kFarthest || max > kFarthest) {
      good = Fault(here, [&] {
        return absl::StrCat("got an opening from ", sent.min[axis], " to ", sent.max[axis], " m along ", kAxis[axis],
                            ", want one that ends within ", kFarthest, " half sizes of ", Extent(input.box, axis));
      });
      continue;
    }
    opening.min[axis] = static_cast<float>(min);
    opening.max[axis] = static_cast<float>(max);
  }
  return good;
}

bool ParticularsCheck::OpeningNumbers(const std::string& here, const OpeningSpec& sent) const {
  bool good = true;
  for (size_t axis = 0; axis < 3; ++axis) {
    const auto number = [&](const char* corner, double value) {
      if (std::abs(value) <= limits.largest_m) return true;
      return Fault(absl::StrCat(here, ".", corner, ".", kAxis[axis]), [&] {
        return GotNumber(value, absl::StrCat("a number of metres within ", limits.largest_m, " of 0"));
      });
    };
    bool numbers = number("min_m", sent.min[axis]);
    numbers = number("max_m", sent.max[axis]) && numbers;
    good = numbers && good;
    if (!numbers || sent.max[axis] >= sent.min[axis]) continue;
    good = Fault(absl::StrCat(here, ".max_m.", kAxis[axis]), [&] {
      return GotNumber(sent.max[axis], absl::StrCat("a number not below min_m (", sent.min[axis], ")"));
    });
  }
  return good;
}

}  // namespace scantling
