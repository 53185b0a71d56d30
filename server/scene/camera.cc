// A camera's matrix places it in the world. Its columns, stripped of length, are the camera's axes; they must be square
// to each other (no shear) and right-handed (no mirror), for then the inverse is the transpose:
//
//   world_to_camera (row-major) = rows x, y, z     position = last column
//
// Numbers are checked one by one with the path they were sent under. What depends on another faulty number (far on
// near, focus on focal length) is checked only where the other is good, so that one fault is reported once.

#include "server/scene/camera.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <string>
#include <string_view>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/faults.h"
#include "server/scene/pose.h"
#include "server/scene/text.h"

namespace scantling {
namespace {

double Dot(const Vec3& a, const Vec3& b) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }

Vec3 Unit(const Vec3& v) {
  const double length = std::sqrt(Dot(v, v));
  return {v[0] / length, v[1] / length, v[2] / length};
}

Vec3 Cross(const Vec3& a, const Vec3& b) {
  return {a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]};
}

// One camera under check.
class CameraCheck {
 public:
  CameraCheck(const CameraSpec& spec, size_t index, double largest_m, Violations& violations)
      : spec_(spec), index_(index), largest_m_(largest_m), violations_(violations) {}

  Camera Check(int32_t frame_count) {
    Camera camera = spec_.camera;
    camera.poses.clear();
    CheckName("id", camera.id, 1);
    CheckName("stereo_pair", spec_.stereo_pair, 0);
    CheckWindow();
    CheckPicture();
    CheckPlanes();
    CheckFocals(frame_count);
    CheckFocus(frame_count);
    AddPoses(frame_count, camera);
    return camera;
  }

 private:
  bool perspective() const { return spec_.camera.projection == Projection::kPerspective; }

  void Add(std::string_view field, std::string description) {
    violations_.Add(absl::StrCat("cameras[", index_, "].", absl::string_view(field.data(), field.size())),
                    std::move(description));
  }
  void AddAt(std::string_view field, size_t at, std::string description) {
    Add(absl::StrCat(absl::string_view(field.data(), field.size()), "[", at, "]"), std::move(description));
  }
  void CheckName(std::string_view field, std::string_view name, size_t least_bytes) {
    std::string fault = NameFault(name, least_bytes, kLongestNameBytes);
    if (!fault.empty()) Add(field, std::move(fault));
  }
  // Records a fault unless good.
  bool Require(bool good, std::string_view field, double got, std::string_view want) {
    if (!good) Add(field, GotNumber(got, want));
    return good;
  }

  void CheckWindow() {
    const Camera& c = spec_.camera;
    const std::string size = absl::StrCat("a number above 0 and at most ", largest_m_);
    const std::string offset = absl::StrCat("a number within ", largest_m_, " of 0");
    Require(c.window_width > 0 && c.window_width <= largest_m_, "window_width", c.window_width, size);
    Require(c.window_height > 0 && c.window_height <= largest_m_, "window_height", c.window_height, size);
    Require(std::abs(c.offset_x) <= largest_m_, "offset_x", c.offset_x, offset);
    Require(std::abs(c.offset_y) <= largest_m_, "offset_y", c.offset_y, offset);
  }

  void CheckPicture() {
    const Camera& c = spec_.camera;
    const std::string size = absl::StrCat("1 to ", kLargestPicturePx);
    if (c.width_px < 1 || c.width_px > kLargestPicturePx) Add("image_width_px", GotInteger(c.width_px, size));
    if (c.height_px < 1 || c.height_px > kLargestPicturePx) Add("image_height_px", GotInteger(c.height_px, size));
    Require(c.overscan_px >= 0 && c.overscan_px <= kLargestPicturePx, "overscan_px", c.overscan_px,
            absl::StrCat("0 to ", kLargestPicturePx));
    Require(c.f_number >= 0 && std::isfinite(c.f_number), "f_number", c.f_number, "0 (not given) or a number above 0");
  }

  void CheckPlanes() {
    const Camera& c = spec_.camera;
    const bool above = perspective() ? c.near_m > 0 : c.near_m >= 0;
    const bool near_good = Require(above && c.near_m <= largest_m_, "near_m", c.near_m,
                                   perspective() ? "a number of metres above 0" : "0 metres or above");
    if (!near_good) {
      Require(!std::isnan(c.far_m), "far_m", c.far_m, "a number of metres above near_m");
      return;
    }
    Require(c.far_m > c.near_m, "far_m", c.far_m, absl::StrCat("more than near_m (", c.near_m, ")"));
  }

  // One value, or one per frame.
  bool CountGood(size_t got, int32_t frame_count, std::string_view field) {
    const bool per_frame = frame_count == 0 || got == static_cast<size_t>(frame_count);
    if (got == 1 || (got > 0 && per_frame)) return true;
    Add(field, GotCount(got, frame_count > 1 ? absl::StrCat("1 or ", frame_count) : std::string("1")));
    return false;
  }

  void CheckFocals(int32_t frame_count) {
    if (!perspective()) {
      if (!spec_.focal_mm.empty()) Add("focal_mm", GotCount(spec_.focal_mm.size(), "none (orthographic camera)"));
      return;
    }
    focals_good_ = CountGood(spec_.focal_mm.size(), frame_count, "focal_mm");
    for (size_t i = 0; i < spec_.focal_mm.size(); ++i) {
      const double focal = spec_.focal_mm[i];
      if (focal > 0 && focal <= kLargestFocalMm) continue;
      AddAt("focal_mm", i, GotNumber(focal, absl::StrCat("a number above 0 and at most ", kLargestFocalMm)));
      focals_good_ = false;
    }
  }

  void CheckFocus(int32_t frame_count) {
    if (spec_.focus_m.empty()) return;
    focus_good_ = CountGood(spec_.focus_m.size(), frame_count, "focus_m");
    for (size_t i = 0; i < spec_.focus_m.size(); ++i) {
      if (spec_.focus_m[i] > 0) continue;
      AddAt("focus_m", i, GotNumber(spec_.focus_m[i], "a number of metres above 0"));
      focus_good_ = false;
    }
    if (focus_good_ && focals_good_ && perspective()) CheckFocusBeyondFocal();
  }

  // The thin lens has no image of what stands within its focal length (2-model section 3: zf <= f refused).
  void CheckFocusBeyondFocal() {
    const size_t count = std::max(spec_.focus_m.size(), spec_.focal_mm.size());
    for (size_t i = 0; i < count; ++i) {
      const size_t at = std::min(i, spec_.focus_m.size() - 1);
      const double focal_m = ValueAt(spec_.focal_mm, i) / 1000;
      if (spec_.focus_m[at] > focal_m) continue;
      AddAt("focus_m", at, GotNumber(spec_.focus_m[at], absl::StrCat("more than the focal length (", focal_m, " m)")));
      if (spec_.focus_m.size() == 1) return;  // one number, one fault
    }
  }

  void AddPoses(int32_t frame_count, Camera& camera) {
    const std::string field = "transform.matrices";
    if (spec_.transforms.size() % 16 != 0 || spec_.transforms.empty()) {
      Add(field,
          GotCount(spec_.transforms.size(),
                   frame_count > 1 ? absl::StrCat("16 or ", 16 * frame_count, " numbers") : std::string("16 numbers")));
      return;
    }
    const size_t count = spec_.transforms.size() / 16;
    const bool count_good = frame_count == 0 || count == 1 || count == static_cast<size_t>(frame_count);
    if (!count_good) {
      Add(field,
          GotCount(count, absl::StrCat(frame_count > 1 ? absl::StrCat("1 or ", frame_count) : "1", " matrices")));
    }
    std::vector<CameraPose> poses(count);
    for (size_t i = 0; i < count; ++i) {
      AddMatrixFaults(i);
      poses[i] = PoseOf(i);
    }
    FillPoses(std::move(poses), frame_count, camera);
  }

  // Poses, focal lengths and focus may each be one or many: a camera with many of any has many poses.
  void FillPoses(std::vector<CameraPose> poses, int32_t frame_count, Camera& camera) {
    if (spec_.focal_mm.size() > 1 || spec_.focus_m.size() > 1) {
      if (poses.size() == 1 && frame_count > 1) poses.resize(static_cast<size_t>(frame_count), poses[0]);
    }
    for (size_t i = 0; i < poses.size(); ++i) {
      if (focals_good_ && perspective()) poses[i].focal_mm = ValueAt(spec_.focal_mm, i);
      if (focus_good_) poses[i].focus_m = ValueAt(spec_.focus_m, i);
    }
    camera.poses = std::move(poses);
  }

  // The one value, or the frame's. Counts disagree only where a violation was recorded; reading stays in range even so.
  static double ValueAt(std::span<const double> values, size_t i) { return values[std::min(i, values.size() - 1)]; }

  void AddMatrixFaults(size_t pose) {
    const std::span<const double> m = std::span(spec_.transforms).subspan(16 * pose, 16);
    const auto add = [&](size_t entry, std::string description) {
      AddAt("transform.matrices", 16 * pose + entry, std::move(description));
    };
    bool finite = true;
    for (size_t i = 0; i < 16; ++i) {
      if (i % 4 == 3) continue;
      const double most = i < 12 ? kLargestEntry : largest_m_;
      if (std::abs(m[i]) <= most) continue;
      add(i, GotNumber(m[i], absl::StrCat("a number within ", most, " of 0")));
      finite = false;
    }
    for (size_t i = 3; i < 16; i += 4) {
      const double want = i == 15 ? 1 : 0;
      if (m[i] != want) add(i, GotNumber(m[i], absl::StrCat(want, " (the last row is 0 0 0 1)")));
    }
    if (finite) AddShapeFault(AffineOf(m.first<16>()), [&](std::string text) { add(0, std::move(text)); });
  }

  template <typename AddText>
  void AddShapeFault(const Affine& affine, const AddText& add) {
    const double relative = RelativeDeterminant(affine.linear);
    if (!(relative >= kSingularBelow)) {
      add(absl::StrCat("got a singular matrix (relative determinant ", relative, "), want at least ", kSingularBelow));
      return;
    }
    const double shear = Shear(affine);
    if (shear > kShearedAbove) {
      add(absl::StrCat("got sheared axes (cosine ", shear, " between two), want axes square to each other within ",
                       kShearedAbove));
    }
    if (Determinant(affine.linear) < 0) add("got a mirrored matrix (negative determinant), want a right-handed one");
  }

  static std::array<Vec3, 3> UnitAxes(const Affine& affine) {
    const std::array<double, 9>& m = affine.linear;
    return {Unit({m[0], m[1], m[2]}), Unit({m[3], m[4], m[5]}), Unit({m[6], m[7], m[8]})};
  }

  static double Shear(const Affine& affine) {
    const auto [x, y, z] = UnitAxes(affine);
    return std::max({std::abs(Dot(x, y)), std::abs(Dot(y, z)), std::abs(Dot(z, x))});
  }

  CameraPose PoseOf(size_t pose) const {
    const Affine affine = AffineOf(std::span(spec_.transforms).subspan(16 * pose).first<16>());
    const std::array<Vec3, 3> axes = UnitAxes(affine);
    const Vec3 z = axes[2];
    const double along = Dot(axes[0], z);
    const Vec3 x = Unit({axes[0][0] - along * z[0], axes[0][1] - along * z[1], axes[0][2] - along * z[2]});
    const Vec3 y = Cross(z, x);
    CameraPose result;
    result.position_m = affine.translation;
    result.world_to_camera = {x[0], x[1], x[2], y[0], y[1], y[2], z[0], z[1], z[2]};
    return result;
  }

  static constexpr double kLargestFocalMm = 1e6;  // a kilometre of lens: absurd beyond

  const CameraSpec& spec_;
  const size_t index_;
  const double largest_m_;
  Violations& violations_;
  bool focals_good_ = false;
  bool focus_good_ = false;
};

}  // namespace

std::vector<Camera> CheckCameras(std::span<const CameraSpec> specs, const SceneLimits& limits, int32_t frame_count,
                                 Violations& violations) {
  const auto most = static_cast<size_t>(limits.cameras);
  const bool too_many = specs.size() > most;
  if (specs.empty() || too_many) violations.Add("cameras", GotCount(specs.size(), absl::StrCat("1 to ", most)));
  if (too_many) specs = specs.first(most);
  std::vector<Camera> cameras;
  std::map<std::string_view, size_t> first_use;
  for (size_t i = 0; i < specs.size(); ++i) {
    cameras.push_back(CameraCheck(specs[i], i, limits.largest_m, violations).Check(frame_count));
    const std::string_view id = specs[i].camera.id;
    const auto [first, added] = first_use.emplace(id, i);
    if (added || id.empty()) continue;
    violations.Add(absl::StrCat("cameras[", i, "].id"),
                   absl::StrCat("got ", QuotedText(id), ", already used at cameras[", first->second,
                                "].id, want ids that are unique in the shot"));
  }
  if (too_many) cameras.clear();  // so that nothing later is as slow as many cameras times many objects
  return cameras;
}

int32_t NumberPictures(std::span<const CameraSpec> specs, std::vector<Camera>& cameras, Violations& violations) {
  struct Pair {
    int32_t picture = 0;
    int32_t eyes = 0;
  };
  std::map<std::string_view, Pair> pairs;
  int32_t pictures = 0;
  for (size_t i = 0; i < cameras.size(); ++i) {
    if (specs[i].stereo_pair.empty()) {
      cameras[i].picture = pictures++;
      continue;
    }
    const auto [pair, added] = pairs.emplace(specs[i].stereo_pair, Pair{pictures, 0});
    if (added) ++pictures;
    cameras[i].picture = pair->second.picture;
    if (++pair->second.eyes <= 2) continue;
    violations.Add(absl::StrCat("cameras[", i, "].stereo_pair"),
                   absl::StrCat("got a camera more in the pair ", QuotedText(specs[i].stereo_pair), " (number ",
                                pair->second.eyes, "), want two cameras at most"));
  }
  return pictures;
}

}  // namespace scantling
