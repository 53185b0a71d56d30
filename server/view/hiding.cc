// One map: the occluders that cover most are laid on the finest level, masks over them, and coarser levels are gathered
// from it.
//
// Which occluders: estimated from the box at the depth of its centre, cut to the size of the picture; an estimate will
// do, for it only decides what is left out. Choosing costs some 20 ns an occluder, laying one a few microseconds and a
// nanosecond a cell.
//
// Masks come as rectangles; a cell is masked where all of them together cover it, so that none stays open where two
// meet. Where a mask reaches the border of the picture it covers the overscan beyond it too.

#include "server/view/hiding.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "server/view/frustum.h"
#include "server/view/solid.h"

namespace scantling {
namespace {

constexpr float kOpen = -std::numeric_limits<float>::infinity();
constexpr float kMasked = std::numeric_limits<float>::infinity();

CellGrid GridOf(const Camera& camera, const HidingOptions& options) {
  const double width = camera.width_px + 2 * camera.overscan_px, height = camera.height_px + 2 * camera.overscan_px;
  CellGrid grid;
  grid.cell_px = std::max(2 * std::sqrt(std::max(options.smallest_px, 0.25)), width / options.most_columns);
  // A picture much taller than wide has no more cells than one much wider than tall.
  grid.cell_px = std::max(grid.cell_px, height / options.most_columns);
  grid.columns = static_cast<int32_t>(std::ceil(width / grid.cell_px));
  grid.rows = static_cast<int32_t>(std::ceil(height / grid.cell_px));
  grid.left_px = grid.top_px = -camera.overscan_px;
  return grid;
}

double Length(const Vec3& v) { return std::sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]); }

// px^2 that the box would cover at the distance of its centre, no more than the picture; 0 where it is surely out
// of frame.
double EstimatedArea(const Frustum& frustum, const CameraView& view, const CameraBox& box) {
  const double reach = Length(box.axis[0]) + Length(box.axis[1]) + Length(box.axis[2]);
  if (box.centre[2] + reach < view.near_m || box.centre[2] - reach > view.far_m) return 0;
  for (const HalfSpace& side : frustum.rendered.sides) {
    const Vec3 &n = side.normal, &c = box.centre;
    if (n[0] * c[0] + n[1] * c[1] + n[2] * c[2] + side.offset < -reach) return 0;
  }
  const double picture = (view.width_px + 2 * view.overscan_px) * (view.height_px + 2 * view.overscan_px);
  // |ray . n| is the face turned to the ray through the centre, seen over the distance.
  const bool perspective = view.projection == Projection::kPerspective;
  const double distance = perspective ? std::max(Length(box.centre), 1e-9) : 1;
  const Vec3 ray =
      perspective ? Vec3{box.centre[0] / distance, box.centre[1] / distance, box.centre[2] / distance} : Vec3{0, 0, 1};
  double faces = 0;
  for (size_t k = 0; k < 3; ++k) {
    const Vec3 &p = box.axis[(k + 1) % 3], &q = box.axis[(k + 2) % 3];
    faces += 4 * std::abs(ray[0] * (p[1] * q[2] - p[2] * q[1]) + ray[1] * (p[2] * q[0] - p[0] * q[2]) +
                          ray[2] * (p[0] * q[1] - p[1] * q[0]));
  }
  return std::min(picture, faces / (distance * distance) * view.scale_u * view.scale_v);
}

struct Candidate {
  double area = 0;
  size_t place = 0;  // in Occluders::object
};

// The largest, in order of area, then canonical.
std::vector<Candidate> Largest(std::vector<Candidate> candidates, int32_t most) {
  const auto before = [](const Candidate& a, const Candidate& b) {
    return a.area > b.area || (a.area == b.area && a.place < b.place);
  };
  const size_t kept = std::min(candidates.size(), static_cast<size_t>(most));
  std::partial_sort(candidates.begin(), candidates.begin() + static_cast<std::ptrdiff_t>(kept), candidates.end(),
                    before);
  candidates.resize(kept);
  return candidates;
}

struct MaskRectangle {
  double left, top, right, bottom;  // px
};

// Whether all masks together cover the rectangle: what the first that reaches into it leaves over, at most four
// rectangles, must be covered by the rest.
bool Cover(std::span<const MaskRectangle> masks, const MaskRectangle& cell) {
  if (!(cell.left < cell.right && cell.top < cell.bottom)) return true;
  for (size_t i = 0; i < masks.size(); ++i) {
    const MaskRectangle& mask = masks[i];
    if (mask.left >= cell.right || mask.right <= cell.left || mask.top >= cell.bottom || mask.bottom <= cell.top) {
      continue;
    }
    const std::span<const MaskRectangle> rest = masks.subspan(i + 1);
    const double top = std::max(cell.top, mask.top), bottom = std::min(cell.bottom, mask.bottom);
    return Cover(rest, {cell.left, cell.top, cell.right, top}) &&
           Cover(rest, {cell.left, bottom, cell.right, cell.bottom}) &&
           Cover(rest, {cell.left, top, std::min(cell.right, mask.left), bottom}) &&
           Cover(rest, {std::max(cell.left, mask.right), top, cell.right, bottom});
  }
  return false;
}

MaskRectangle RectangleOf(const Mask& mask, const Camera& camera) {
  constexpr double kBeyond = 1e9;
  return {mask.left <= 0 ? -kBeyond : mask.left * camera.width_px,
          mask.top <= 0 ? -kBeyond : mask.top * camera.height_px,
          mask.right >= 1 ? kBeyond : mask.right * camera.width_px,
          mask.bottom >= 1 ? kBeyond : mask.bottom * camera.height_px};
}

}  // namespace

bool HidesOthers(const Scene& scene, uint32_t row) {
  const Objects& objects = scene.objects;
  const uint32_t particulars = objects.particulars[row];
  const bool mesh = particulars != kNone && !scene.particulars[particulars].mesh.triangles.empty();
  return objects.chunk[row] != kNone && (objects.inner_box[row] > 0 || mesh);
}

Occluders OccludersOf(const Scene& scene) {
  Occluders occluders;
  for (const uint32_t row : scene.objects.canonical) {
    if (HidesOthers(scene, row)) occluders.object.push_back(row);
  }
  for (const Camera& camera : scene.cameras) occluders.masks = occluders.masks || !camera.masks.empty();
  return occluders;
}

size_t DepthMap::MostBytes(const Camera& camera, const HidingOptions& options) {
  const CellGrid grid = GridOf(camera, options);
  // Least and most of the coarser levels: a quarter of the cells and a quarter again, and rounding up at each.
  const size_t cells = static_cast<size_t>(grid.columns) * static_cast<size_t>(grid.rows);
  return sizeof(float) *
         (cells + cells * 2 / 3 + 4 * static_cast<size_t>(grid.columns + grid.rows) + 64 + CellPyramid::kPadding);
}

DepthMap::DepthMap(const Scene& scene, const Occluders& occluders, size_t camera, int32_t frame_index,
                   const HidingOptions& options) {
  if (occluders.empty()) return;
  const CameraView view = ViewOf(scene.cameras[camera], frame_index);
  grid_ = GridOf(scene.cameras[camera], options);
  ShapePyramid(grid_.columns, grid_.rows, kOpen, pyramid_);
  LayOccluders(scene, occluders, frame_index, view, options);
  LayMasks(scene.cameras[camera], scene.frames.first + frame_index);
  FillPyramid(pyramid_);
  const auto top = static_cast<size_t>(pyramid_.levels) - 1;
  const bool nothing_covered = pyramid_.cells[static_cast<size_t>(pyramid_.most_at[top])] == kOpen;
  if (nothing_covered) pyramid_ = {};
}

bool DepthMap::SameAs(const DepthMap& other) const {
  return empty() == other.empty() && (empty() || pyramid_.cells == other.pyramid_.cells);
}

bool DepthMap::empty() const { return pyramid_.levels == 0; }

size_t DepthMap::bytes() const { return pyramid_.cells.capacity() * sizeof(float); }

void DepthMap::LayOccluders(const Scene& scene, const Occluders& occluders, int32_t frame_index, const CameraView& view,
                            const HidingOptions& options) {
  const Objects& objects = scene.objects;
  const Frustum frustum = FrustumOf(view);
  const int32_t frame = scene.frames.first + frame_index;
  const auto box_of = [&](uint32_t row) {
    return BoxInCamera(scene.chunks[objects.chunk[row]], objects.lane[row], frame_index, view);
  };
  std::vector<Candidate> candidates;
  for (size_t place = 0; place < occluders.object.size(); ++place) {
    const uint32_t row = occluders.object[place];
    if (Contains(scene.replaced_of(row), frame)) continue;
    const double area = EstimatedArea(frustum, view, box_of(row));
    if (area > 0) candidates.push_back({area, place});
  }
  MapLayer layer{grid_, pyramid_.cells};
  for (const Candidate& candidate : Largest(std::move(candidates), options.most_occluders)) {
    const uint32_t row = occluders.object[candidate.place];
    const CameraBox box = box_of(row);
    std::vector<Outline> openings;
    const Particulars* particulars =
        objects.particulars[row] == kNone ? nullptr : &scene.particulars[objects.particulars[row]];
    for (size_t i = 0; particulars != nullptr && i < particulars->openings.size(); ++i) {
      openings.push_back(OutlineOfOpening(view, box, particulars->openings[i]));
    }
    if (particulars != nullptr && !particulars->mesh.triangles.empty()) {
      LayMesh(view, box, particulars->mesh, openings, layer);
    } else {
      LayBox(view, box, objects.inner_box[row], openings, layer);
    }
  }
}

void DepthMap::LayMasks(const Camera& camera, int32_t frame) {
  std::vector<MaskRectangle> masks;
  for (const Mask& mask : camera.masks) {
    if (mask.frames.empty() || Contains(mask.frames, frame)) masks.push_back(RectangleOf(mask, camera));
  }
  for (const MaskRectangle& mask : masks) {
    const Outline outline = {
        {mask.left, mask.top}, {mask.right, mask.top}, {mask.right, mask.bottom}, {mask.left, mask.bottom}};
    const OutlineRows rows(outline, grid_);
    for (int32_t row = rows.begin(); row < rows.end(); ++row) {
      const CellRun run = rows.Touched(row);
      float* const cells = &pyramid_.cells[static_cast<size_t>(row) * static_cast<size_t>(grid_.columns)];
      const double top = grid_.line_px(row), bottom = grid_.line_px(row + 1);
      for (int32_t column = run.begin; column < run.end; ++column) {
        const double left = grid_.left_px + column * grid_.cell_px;
        if (Cover(masks, {left, top, left + grid_.cell_px, bottom})) cells[column] = kMasked;
      }
    }
  }
}

}  // namespace scantling
