// Idea: with A the turn from the host's axes to the API's and s the metres per unit, a place p becomes s A p. An object
// whose own axes are turned too stands at
//
//   linear A L A^T,  translation s A t       (its box is turned and scaled instead)
//
// and a camera, which looks down -Z whatever the world's up axis is, at A L and s A t. For +Z up, A takes (x, y, z) to
// (x, z, -y): +Z becomes +Y, handedness stays.
//
// Matrices are column-major; column c, row r is number 4 c + r.

#include "client/library/live_host.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr size_t kMostIdBytes = 1024;
constexpr size_t kMostNameBytes = kMostIdBytes - 24;  // room for a number behind it
constexpr int kMatrix = 16;

// Turns rows 0..2 of one column, from +Z up to +Y up.
void TurnColumn(double* column) {
  const double y = column[1];
  column[1] = column[2];
  column[2] = -y;
}

// L A^T: columns are turned among themselves as rows are by A.
void TurnColumns(double* matrix) {
  for (int row = 0; row < 3; ++row) {
    const double y = matrix[4 + row];
    matrix[4 + row] = matrix[8 + row];
    matrix[8 + row] = -y;
  }
}

void TrackToShot(const HostConventions& host, bool turn_own_axes, v1::TransformTrack& track) {
  for (int at = 0; at + kMatrix <= track.matrices_size(); at += kMatrix) {
    double* matrix = track.mutable_matrices()->mutable_data() + at;
    if (host.up_axis == UpAxis::kZ) {
      for (int column = 0; column < 4; ++column) TurnColumn(matrix + 4 * column);
      if (turn_own_axes) TurnColumns(matrix);
    }
    for (int row = 0; row < 3; ++row) matrix[12 + row] *= host.metres_per_unit;
  }
}

template <typename Ranges>
void RangesToShot(const HostConventions& host, Ranges& ranges) {
  for (v1::FrameRange& range : ranges) ToShot(host, range);
}

void ToShot(const HostConventions& host, v1::Particulars& particulars) {
  if (particulars.occluder().has_mesh()) ToShot(host, *particulars.mutable_occluder()->mutable_mesh());
  for (v1::Box& opening : *particulars.mutable_openings()) ToShot(host, opening);
  for (v1::IndirectSight& sight : *particulars.mutable_indirect()) RangesToShot(host, *sight.mutable_frames());
  RangesToShot(host, *particulars.mutable_replaced());
  for (int32_t& beat : *particulars.mutable_beats()) beat = ToShotFrame(host, beat);
}

// The longest beginning of `name` that leaves room for a number, cut between code points.
std::string Shortened(std::string name) {
  if (name.size() <= kMostNameBytes) return name;
  size_t end = kMostNameBytes;
  while (end > 0 && (static_cast<unsigned char>(name[end]) & 0xC0) == 0x80) --end;
  return name.substr(0, end);
}

}  // namespace

absl::Status Check(const HostConventions& host) {
  if (std::isfinite(host.metres_per_unit) && host.metres_per_unit > 0) return absl::OkStatus();
  return absl::InvalidArgumentError(
      absl::StrCat("metres_per_unit: got ", host.metres_per_unit, ", want a finite number above 0"));
}

int32_t ToShotFrame(const HostConventions& host, int32_t frame) {
  return frame - host.first_frame + host.shot_first_frame;
}

int32_t ToHostFrame(const HostConventions& host, int32_t frame) {
  return frame - host.shot_first_frame + host.first_frame;
}

void ToShot(const HostConventions& host, v1::Vector3& point) {
  const double s = host.metres_per_unit, x = point.x(), y = point.y(), z = point.z();
  const bool is_z_up = host.up_axis == UpAxis::kZ;
  point.set_x(s * x);
  point.set_y(s * (is_z_up ? z : y));
  point.set_z(s * (is_z_up ? -y : z));
}

void ToShot(const HostConventions& host, v1::Box& box) {
  ToShot(host, *box.mutable_min_m());
  ToShot(host, *box.mutable_max_m());
  if (host.up_axis == UpAxis::kY) return;
  const double nearer = box.min_m().z();  // the axis that changed its sign
  box.mutable_min_m()->set_z(box.max_m().z());
  box.mutable_max_m()->set_z(nearer);
}

void ObjectTrackToShot(const HostConventions& host, v1::TransformTrack& track) { TrackToShot(host, true, track); }

void CameraTrackToShot(const HostConventions& host, v1::TransformTrack& track) { TrackToShot(host, false, track); }

void ToShot(const HostConventions& host, v1::Mesh& mesh) {
  v1::Vector3 point;
  for (int at = 0; at + 3 <= mesh.vertices_m_size(); at += 3) {
    float* vertex = mesh.mutable_vertices_m()->mutable_data() + at;
    point.set_x(vertex[0]);
    point.set_y(vertex[1]);
    point.set_z(vertex[2]);
    ToShot(host, point);
    vertex[0] = static_cast<float>(point.x());
    vertex[1] = static_cast<float>(point.y());
    vertex[2] = static_cast<float>(point.z());
  }
}

void ToShot(const HostConventions& host, v1::FrameRange& frames) {
  frames.set_first(ToShotFrame(host, frames.first()));
  frames.set_last(ToShotFrame(host, frames.last()));
}

void ToShot(const HostConventions& host, v1::SceneObject& object) {
  if (object.has_box()) ToShot(host, *object.mutable_box());
  if (object.has_transform()) ObjectTrackToShot(host, *object.mutable_transform());
  for (v1::MeasuredTrack& track : *object.mutable_measured()) {
    for (float& depth : *track.mutable_depth_m()) depth = static_cast<float>(depth * host.metres_per_unit);
  }
  if (object.has_particulars()) ToShot(host, *object.mutable_particulars());
}

void ToShot(const HostConventions& host, v1::ShotCamera& camera) {
  const double s = host.metres_per_unit;
  if (camera.has_transform()) CameraTrackToShot(host, *camera.mutable_transform());
  camera.set_near_m(s * camera.near_m());
  camera.set_far_m(s * camera.far_m());
  for (double& focus : *camera.mutable_focus_m()) focus *= s;
  for (v1::Mask& mask : *camera.mutable_masks()) RangesToShot(host, *mask.mutable_frames());
  if (camera.projection() != v1::ShotCamera::ORTHOGRAPHIC) return;
  camera.set_window_width(s * camera.window_width());
  camera.set_window_height(s * camera.window_height());
  camera.set_offset_x(s * camera.offset_x());
  camera.set_offset_y(s * camera.offset_y());
}

const std::string& StableIds::IdOf(const std::string& handle, std::string_view name) {
  if (const auto known = id_of_.find(handle); known != id_of_.end()) return known->second;
  const std::string base = Shortened(name.empty() ? "object" : IsUtf8(name) ? std::string(name) : Printable(name));
  std::string id = base;
  int64_t& number = next_.try_emplace(base, 2).first->second;
  while (!given_.insert(id).second) id = absl::StrCat(base, "_", number++);
  handle_of_[id] = handle;
  return id_of_[handle] = std::move(id);
}

std::optional<std::string> StableIds::HandleOf(const std::string& id) const {
  const auto known = handle_of_.find(id);
  if (known == handle_of_.end()) return std::nullopt;
  return known->second;
}

void StableIds::Forget(const std::string& handle) {
  const auto known = id_of_.find(handle);
  if (known == id_of_.end()) return;
  handle_of_.erase(known->second);
  id_of_.erase(known);
}

}  // namespace scantling::client
