// What makes an object measurable. Checks run in two steps, for speed: a predicate that a good object passes with a few
// comparisons, and the wording of what failed, which only faulty objects reach. Comparisons are written so that NaN
// fails them: !(|x| <= most), never |x| > most.
//
// A box is empty where max lies below min on an axis, or where it is zero thick on two axes or three: a card has an
// area, a line or a point has none. In the world it must be at least kSmallestM across on two axes and at most
// largest_m on each, so that half-axes fit a float with room for their squares.

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/faults.h"
#include "server/scene/object_input.h"

namespace scantling {
namespace {

constexpr double kSmallestM = 1e-6;  // a micron: thinner on two axes is a unit mistaken, not a thing in a shot
constexpr double kLeastFactor = 1e-6, kMostFactor = 1e6;
constexpr double kMostHours = 1e9;

bool Within(double value, double most) { return std::abs(value) <= most; }

// World size along each local axis, in double.
Vec3 WorldSize(const LocalBox& box, const Affine& pose) {
  Vec3 size;
  for (size_t c = 0; c < 3; ++c) {
    const double* column = &pose.linear[3 * c];
    size[c] =
        std::sqrt(column[0] * column[0] + column[1] * column[1] + column[2] * column[2]) * (box.max[c] - box.min[c]);
  }
  return size;
}

Vec3 WorldCentre(const LocalBox& box, const Affine& pose) {
  Vec3 centre = pose.translation;
  for (size_t c = 0; c < 3; ++c) {
    const double middle = 0.5 * (box.min[c] + box.max[c]);
    for (size_t r = 0; r < 3; ++r) centre[r] += pose.linear[3 * c + r] * middle;
  }
  return centre;
}

bool SizeGood(const Vec3& size, double largest_m) {
  const auto thin = std::count_if(size.begin(), size.end(), [](double s) { return !(s >= kSmallestM); });
  return thin < 2 && std::all_of(size.begin(), size.end(), [&](double s) { return s <= largest_m; });
}

bool AllWithin(const Vec3& v, double most) {
  return std::all_of(v.begin(), v.end(), [&](double x) { return Within(x, most); });
}

bool PoseGood(const LocalBox& box, const Affine& pose, double largest_m) {
  for (const double entry : pose.linear) {
    if (!Within(entry, kLargestEntry)) return false;
  }
  return AllWithin(pose.translation, largest_m) && RelativeDeterminant(pose.linear) >= kSingularBelow &&
         SizeGood(WorldSize(box, pose), largest_m) && AllWithin(WorldCentre(box, pose), largest_m);
}

// One object, with where its faults go.
struct Check {
  const ObjectInput& input;
  const ShotShape& shape;
  Violations& violations;

  template <typename Field, typename Description>
  void Add(const Field& field, const Description& description) const {
    AddFault(violations, field, description);
  }

  std::string Metres() const { return absl::StrCat("a number of metres within ", shape.largest_m, " of 0"); }

  void WordBox() const {
    const LocalBox& box = input.box;
    bool numbers = true;
    for (size_t k = 0; k < 6; ++k) {
      const double value = k < 3 ? box.min[k] : box.max[k - 3];
      if (Within(value, shape.largest_m)) continue;
      Add([&] { return input.BoxField(k); }, [&] { return GotNumber(value, Metres()); });
      numbers = false;
    }
    if (!numbers) return;
    bool ordered = true;
    for (size_t c = 0; c < 3; ++c) {
      if (box.max[c] >= box.min[c]) continue;
      Add([&] { return input.BoxField(c + 3); },
          [&] { return GotNumber(box.max[c], absl::StrCat("a number not below the box's min (", box.min[c], ")")); });
      ordered = false;
    }
    if (ordered) WordFlatBox();
  }

  void WordFlatBox() const {
    Add([&] { return input.in_block ? input.BoxField(0) : input.Field("box", ""); },
        [&] {
          const LocalBox& b = input.box;
          return absl::StrCat("got ", b.max[0] - b.min[0], " x ", b.max[1] - b.min[1], " x ", b.max[2] - b.min[2],
                              " m, want a box thicker than 0 on at least two axes");
        });
  }

  bool Poses() const {
    const bool box_good = BoxGood(input.box, shape.largest_m);
    if (!box_good) WordBox();
    bool good = box_good;
    const LocalBox unit = {{-0.5, -0.5, -0.5}, {0.5, 0.5, 0.5}};
    for (size_t p = 0; p < input.poses.count; ++p) {
      // A faulty box is reported once; its poses are then judged by a box of one metre, sizes aside.
      const Affine pose = input.poses.At(p);
      const bool last_row = LastRow(p);
      if (PoseGood(box_good ? input.box : unit, pose, shape.largest_m)) {
        good = good && last_row;
        continue;
      }
      good = false;
      WordPose(p, pose, box_good);
    }
    return good;
  }

  bool LastRow(size_t p) const {
    if (input.poses.in_block) return true;
    bool good = true;
    for (size_t i = 3; i < 16; i += 4) {
      const double got = input.poses.matrices[16 * p + i];
      const double want = i == 15 ? 1 : 0;
      if (got == want) continue;
      Add([&] { return absl::StrCat(PathView(), ".transform.matrices[", 16 * p + i, "]"); },
          [&] { return GotNumber(got, absl::StrCat(want, " (the last row is 0 0 0 1)")); });
      good = false;
    }
    return good;
  }

  absl::string_view PathView() const { return absl::string_view(input.path.data(), input.path.size()); }

  void WordPose(size_t p, const Affine& pose, bool box_good) const {
    bool numbers = true;
    for (size_t e = 0; e < 12; ++e) {
      const double value = e < 9 ? pose.linear[e] : pose.translation[e - 9];
      if (Within(value, e < 9 ? kLargestEntry : shape.largest_m)) continue;
      Add([&] { return input.poses.Field(input.path, p, e); },
          [&] {
            return GotNumber(value, e < 9 ? absl::StrCat("a number within ", kLargestEntry, " of 0") : Metres());
          });
      numbers = false;
    }
    if (numbers) WordShape(p, pose, box_good);
  }

  void WordShape(size_t p, const Affine& pose, bool box_good) const {
    const auto at = [&](size_t entry) { return [this, p, entry] { return input.poses.Field(input.path, p, entry); }; };
    const double relative = RelativeDeterminant(pose.linear);
    if (!(relative >= kSingularBelow)) {
      Add(at(0), [&] {
        return absl::StrCat("got a singular matrix (relative determinant ", relative, "), want at least ",
                            kSingularBelow);
      });
      return;
    }
    if (!box_good) return;
    const Vec3 size = WorldSize(input.box, pose);
    if (!SizeGood(size, shape.largest_m)) {
      Add(at(0), [&] {
        return absl::StrCat("got a box of ", size[0], " x ", size[1], " x ", size[2], " m in the world, want at most ",
                            shape.largest_m, " m, and at least ", kSmallestM, " m on two axes");
      });
    }
    const Vec3 centre = WorldCentre(input.box, pose);
    if (AllWithin(centre, shape.largest_m)) return;
    Add(at(9), [&] {
      return absl::StrCat("got a box around ", centre[0], " ", centre[1], " ", centre[2],
                          " m in the world, want a place within ", shape.largest_m, " m of its origin");
    });
  }

  bool Measured() const {
    if (shape.frames == 0 || shape.cameras == 0) return true;
    const size_t frames = static_cast<size_t>(shape.frames);
    if (input.measured.size() != shape.cameras * frames) {
      Add([&] { return input.Field("measured", ""); },
          [&] {
            return GotCount(input.measured.size(), absl::StrCat(shape.cameras * frames, " figures: one per frame (",
                                                                frames, ") for each camera (", shape.cameras, ")"));
          });
      return false;
    }
    bool good = true;
    for (size_t i = 0; i < input.measured.size(); ++i) good = Figure(i / frames, i % frames, input.measured[i]) && good;
    return good;
  }

  bool Figure(size_t camera, size_t frame, const MeasuredFigure& f) const {
    const bool seen = f.height_px > 0;
    const bool height = f.height_px >= 0 && f.height_px <= shape.largest_m;
    const bool covered = f.covered_px >= 0 && f.covered_px <= (seen ? shape.largest_covered_px : 0);
    const bool depth = f.depth_m >= 0 && f.depth_m <= shape.largest_m && (!seen || f.depth_m > 0);
    if (height && covered && depth) return true;
    const auto add = [&](const char* column, double got, const std::string& want) {
      const size_t track = camera < input.measured_tracks.size() ? input.measured_tracks[camera] : camera;
      Add([&] { return absl::StrCat(PathView(), ".measured[", track, "].", column, "[", frame, "]"); },
          [&] { return GotNumber(got, want); });
    };
    if (!height) add("height_px", f.height_px, absl::StrCat("0 (not in frame) or a number up to ", shape.largest_m));
    if (!covered) {
      add("covered_px", f.covered_px,
          seen ? absl::StrCat("0 to ", shape.largest_covered_px, " (picture and overscan)")
               : std::string("0 where height_px is 0 (not in frame)"));
    }
    if (!depth) {
      add("depth_m", f.depth_m,
          absl::StrCat(seen ? "a number of metres above 0 and up to " : "0 up to ", shape.largest_m));
    }
    return false;
  }

  bool Factor(const std::optional<double>& factor, const char* name) const {
    if (!factor || (*factor >= kLeastFactor && *factor <= kMostFactor)) return true;
    Add([&] { return input.Field(name, name); },
        [&] { return GotNumber(*factor, absl::StrCat("a number above 0 (", kLeastFactor, " to ", kMostFactor, ")")); });
    return false;
  }

  bool Spent() const {
    bool good = true;
    for (const Tier tier : kAllTiers) {
      const double hours = (*input.spent_hours)[static_cast<size_t>(Index(tier))];
      if (hours >= 0 && hours <= kMostHours) continue;
      const std::string_view name = Name(tier);
      Add([&] { return input.Field("spent", ""); },
          [&] {
            return absl::StrCat("got ", hours, " hours at ", absl::string_view(name.data(), name.size()),
                                ", want 0 to ", kMostHours);
          });
      good = false;
    }
    return good;
  }
};

}  // namespace

bool BoxGood(const LocalBox& box, double largest_m) {
  int thick = 0;
  for (size_t c = 0; c < 3; ++c) {
    if (!Within(box.min[c], largest_m) || !Within(box.max[c], largest_m) || box.max[c] < box.min[c]) return false;
    thick += box.max[c] > box.min[c];
  }
  return thick >= 2;
}

bool CheckObject(const ObjectInput& input, const ShotShape& shape, Violations& violations) {
  const Check check = {input, shape, violations};
  bool good = true;
  if (input.poses.count > 0) good = check.Poses() && good;
  if (!input.measured.empty()) good = check.Measured() && good;
  good = check.Factor(input.importance, "importance") && good;
  good = check.Factor(input.complexity, "complexity") && good;
  if (input.spent_hours != nullptr) good = check.Spent() && good;
  return good;
}

}  // namespace scantling
