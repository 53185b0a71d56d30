// v1.Shot -> ShotHeader and points of interest.
//
// What is missing is passed on as something the scene builder refuses under the same field (no frames: an empty range;
// no rate: 0/0; no matrix: none), so that each rule stands in one place. Checked here is only what the domain types
// cannot hold: enums are open in proto3 and any number may arrive in one, colours are 32 bits wide, a oneof may be
// empty.

#include <limits>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/rpc/convert.h"
#include "server/rpc/convert_read.h"

namespace scantling {
namespace {

std::optional<Projection> ReadProjection(v1::ShotCamera::Projection projection) {
  switch (projection) {
    case v1::ShotCamera::PROJECTION_UNSPECIFIED:
    case v1::ShotCamera::PERSPECTIVE:
      return Projection::kPerspective;
    case v1::ShotCamera::ORTHOGRAPHIC:
      return Projection::kOrthographic;
    default:
      return std::nullopt;
  }
}

CameraSpec ReadCamera(const v1::ShotCamera& in, const std::string& path, Violations& violations) {
  CameraSpec spec;
  Camera& camera = spec.camera;
  camera.id = in.id();
  if (const auto projection = ReadProjection(in.projection())) {
    camera.projection = *projection;
  } else {
    violations.Add(path + ".projection",
                   absl::StrCat("got ", static_cast<int>(in.projection()), ", want PERSPECTIVE or ORTHOGRAPHIC"));
  }
  camera.window_width = in.window_width();
  camera.window_height = in.window_height();
  camera.offset_x = in.offset_x();
  camera.offset_y = in.offset_y();
  camera.width_px = in.image_width_px();
  camera.height_px = in.image_height_px();
  camera.overscan_px = in.overscan_px();
  camera.near_m = in.near_m();
  camera.far_m = in.far_m() == 0 ? std::numeric_limits<double>::infinity() : in.far_m();
  camera.f_number = in.f_number();
  spec.stereo_pair = in.stereo_pair();
  spec.transforms.assign(in.transform().matrices().begin(), in.transform().matrices().end());
  spec.focal_mm.assign(in.focal_mm().begin(), in.focal_mm().end());
  spec.focus_m.assign(in.focus_m().begin(), in.focus_m().end());
  for (const v1::Mask& mask : in.masks()) {
    spec.masks.push_back({mask.left(), mask.top(), mask.right(), mask.bottom(), ReadRanges(mask.frames())});
  }
  return spec;
}

std::optional<DirectiveBound> ReadBound(v1::Directive::Bound bound) {
  switch (bound) {
    case v1::Directive::AT_LEAST:
      return DirectiveBound::kAtLeast;
    case v1::Directive::AT_MOST:
      return DirectiveBound::kAtMost;
    case v1::Directive::EXACTLY:
      return DirectiveBound::kExactly;
    default:
      return std::nullopt;
  }
}

// An empty oneof comes out as an object without an id, which the builder refuses.
void ReadTarget(const v1::Directive& in, Directive& directive) {
  switch (in.target_case()) {
    case v1::Directive::kAssetId:
      directive.scope = DirectiveScope::kAsset;
      directive.target = in.asset_id();
      break;
    case v1::Directive::kClassName:
      directive.scope = DirectiveScope::kClass;
      directive.target = in.class_name();
      break;
    case v1::Directive::kObjectId:
    case v1::Directive::TARGET_NOT_SET:
      directive.target = in.object_id();
      break;
  }
}

Directive ReadDirective(const v1::Directive& in, const std::string& path, Violations& violations) {
  Directive directive;
  ReadTarget(in, directive);
  if (const auto bound = ReadBound(in.bound())) {
    directive.bound = *bound;
  } else {
    violations.Add(path + ".bound",
                   absl::StrCat("got ", static_cast<int>(in.bound()), ", want AT_LEAST, AT_MOST or EXACTLY"));
  }
  directive.tier = ReadTier(in.tier(), path + ".tier", violations).value_or(Tier::kFullRig);
  directive.who = in.who();
  directive.why = in.why();
  return directive;
}

CrowdSpec ReadCrowd(const v1::Crowd& in) {
  CrowdSpec crowd;
  crowd.name = in.name();
  crowd.object_ids.assign(in.object_ids().begin(), in.object_ids().end());
  crowd.asset_ids.assign(in.asset_ids().begin(), in.asset_ids().end());
  crowd.class_names.assign(in.class_names().begin(), in.class_names().end());
  crowd.container_ids.assign(in.container_ids().begin(), in.container_ids().end());
  if (in.has_keep_share()) crowd.keep_share = in.keep_share();
  if (in.has_least_covered_share()) crowd.least_covered_share = in.least_covered_share();
  crowd.columns = in.cell_columns();
  crowd.rows = in.cell_rows();
  return crowd;
}

}  // namespace

std::optional<std::array<uint8_t, 3>> ReadColour(const v1::Colour& colour, const std::string& path,
                                                 Violations& violations) {
  const std::array<uint32_t, 3> parts = {colour.red(), colour.green(), colour.blue()};
  const std::array<const char*, 3> names = {".red", ".green", ".blue"};
  std::array<uint8_t, 3> read = {};
  bool good = true;
  for (size_t i = 0; i < 3; ++i) {
    read[i] = static_cast<uint8_t>(parts[i]);
    if (parts[i] <= 255) continue;
    violations.Add(path + names[i], absl::StrCat("got ", parts[i], ", want 0 to 255"));
    good = false;
  }
  if (!good) return std::nullopt;
  return read;
}

std::optional<Tier> ReadTier(v1::Tier tier, const std::string& field, Violations& violations) {
  switch (tier) {
    case v1::OMITTED:
      return Tier::kOmitted;
    case v1::COLOUR_PATCH:
      return Tier::kColourPatch;
    case v1::PROXY:
      return Tier::kProxy;
    case v1::FULL_RIG:
      return Tier::kFullRig;
    default:
      violations.Add(field,
                     absl::StrCat("got ", static_cast<int>(tier), ", want OMITTED, COLOUR_PATCH, PROXY or FULL_RIG"));
      return std::nullopt;
  }
}

ShotHeader HeaderFromProto(const v1::Shot& shot, Violations& violations) {
  ShotHeader header;
  header.shot_id = shot.shot_id();
  header.sequence_id = shot.sequence_id();
  if (shot.has_frames()) header.frames = ReadRange(shot.frames());
  header.rate = {shot.rate().numerator(), shot.rate().denominator()};
  header.replaced = ReadRanges(shot.replaced());
  header.beats.assign(shot.beats().begin(), shot.beats().end());
  for (int i = 0; i < shot.cameras_size(); ++i) {
    header.cameras.push_back(ReadCamera(shot.cameras(i), absl::StrCat("cameras[", i, "]"), violations));
  }
  for (int i = 0; i < shot.directives_size(); ++i) {
    header.directives.push_back(ReadDirective(shot.directives(i), absl::StrCat("directives[", i, "]"), violations));
  }
  for (const v1::Crowd& crowd : shot.crowds()) header.crowds.push_back(ReadCrowd(crowd));
  if (shot.has_backdrop_colour()) {
    header.backdrop_colour = ReadColour(shot.backdrop_colour(), "backdrop_colour", violations);
  }
  return header;
}

void AddInterests(const v1::Shot& shot, SceneBuilder& builder, Violations& violations) {
  for (int i = 0; i < shot.interest_size(); ++i) {
    const v1::PointOfInterest& point = shot.interest(i);
    const std::string path = absl::StrCat("interest[", i, "]");
    if (!point.has_place() && point.object_id().empty()) {
      violations.Add(path, "got nothing, want object_id or place");
      continue;
    }
    InterestSpec spec;
    spec.object_id = point.object_id();
    spec.x = point.place().x();
    spec.y = point.place().y();
    if (point.has_frames()) spec.frames = ReadRange(point.frames());
    builder.AddInterest(spec, path);
  }
}

}  // namespace scantling
