// Small shots for the tests of the fold: built by hand, measured by hand or by the view stage.

#ifndef SCANTLING_TESTS_LEGIBILITY_SHOT_H_
#define SCANTLING_TESTS_LEGIBILITY_SHOT_H_

#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numbers>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "server/legibility/legibility.h"

namespace scantling {

inline constexpr size_t kOmit = 0, kPatch = 1, kProxy = 2, kFull = 3;  // tiers as array indices

// One box, its half-axes as given; frame by frame where there is more than one pose.
struct Pose {
  Vec3 centre = {0, 0, -10};
  std::array<float, 9> axes = {1, 0, 0, 0, 1, 0, 0, 0, 1};
};

// One lane of a hand-made block.
struct Figure {
  float height_px = 0, area_px = 0, depth_m = 10;
  float u_px = 1000, v_px = 500;
  bool in_frame = true;
  float visible = 1;
};

struct Shot {
  Scene scene;
  ClassCatalogue catalogue;
  Style style;

  // `frames` frames from 1001; an acuity of 1 px at 1000 lines; sums only (k = 0).
  explicit Shot(int32_t frames) {
    scene.frames = {1001, 1000 + frames};
    style.viewing_distance_heights = 1 / (std::tan(std::numbers::pi / 180 / 60) * 1000);
    style.worst_frame_share = 0;
  }

  // Powers of two, so that octaves come out whole: PROXY 1/4, COLOUR_PATCH 1/2, OMITTED 1 and three times the weight.
  uint16_t AddClass(ClassKind kind, double solidity = 0.5) {
    ObjectClass made;
    made.name = std::string(1, static_cast<char>('a' + catalogue.classes.size()));
    made.kind = kind;
    made.phi = {1, 0.5, 0.25, 0};
    made.solidity = solidity;
    catalogue.classes.push_back(made);
    return static_cast<uint16_t>(catalogue.classes.size() - 1);
  }

  // 2000 x 1000 px, looking down -Z from the origin, one metre at ten metres is 100 px both ways.
  Camera& AddCamera(int32_t picture) {
    Camera camera;
    camera.width_px = 2000;
    camera.height_px = 1000;
    camera.window_width = 40;
    camera.window_height = 20;
    camera.picture = picture;
    camera.poses.resize(1);
    camera.poses[0].focal_mm = 20;
    scene.cameras.push_back(camera);
    scene.pictures = std::max(scene.pictures, picture + 1);
    return scene.cameras.back();
  }

  // The next row, without a place: neither geometry nor measured figures.
  uint32_t AddRow(uint16_t class_index, float importance = 1) {
    Objects& objects = scene.objects;
    const auto row = static_cast<uint32_t>(objects.size());
    objects.id.Append(std::to_string(row));
    objects.class_index.push_back(class_index);
    objects.asset.push_back(kNone);
    objects.container.push_back(kNone);
    objects.importance.push_back(importance);
    objects.complexity.push_back(1);
    objects.colour.push_back({0, 0, 0, 0});
    objects.chunk.push_back(kNone);
    objects.lane.push_back(0);
    objects.measured.push_back(kNone);
    objects.inner_box.push_back(0);
    objects.particulars.push_back(kNone);
    objects.canonical.push_back(row);
    return row;
  }

  // Puts a row into chunk `chunk` (made as needed); all rows of one chunk have equally many poses.
  void Place(uint32_t row, size_t chunk_index, const std::vector<Pose>& poses) {
    if (scene.chunks.size() <= chunk_index) scene.chunks.resize(chunk_index + 1);
    PoseChunk& chunk = scene.chunks[chunk_index];
    chunk.frames = static_cast<int32_t>(poses.size());
    const size_t size = poses.size() * kChunkLanes;
    for (auto* column : {&chunk.centre_x, &chunk.centre_y, &chunk.centre_z}) column->resize(size);
    for (auto& column : chunk.axis) column.resize(size);
    const int32_t lane = chunk.count++;
    chunk.object[static_cast<size_t>(lane)] = row;
    for (size_t f = 0; f < poses.size(); ++f) {
      const size_t at = f * kChunkLanes + static_cast<size_t>(lane);
      chunk.centre_x[at] = poses[f].centre[0];
      chunk.centre_y[at] = poses[f].centre[1];
      chunk.centre_z[at] = poses[f].centre[2];
      for (size_t i = 0; i < 9; ++i) chunk.axis[i][at] = poses[f].axes[i];
    }
    scene.objects.chunk[row] = static_cast<uint32_t>(chunk_index);
    scene.objects.lane[row] = static_cast<uint16_t>(lane);
  }

  // Measured figures, camera-major; rows must be measured in the order of the column.
  void Measure(uint32_t row, const std::vector<MeasuredFigure>& figures) {
    scene.objects.measured[row] = static_cast<uint32_t>(
        scene.measured.size() / (scene.cameras.size() * static_cast<size_t>(scene.frames.count())));
    scene.measured.insert(scene.measured.end(), figures.begin(), figures.end());
  }

  // What only this row has, made where it has nothing yet; the shot's own replaced frames and beats are taken in, so
  // those must be set before.
  Particulars& Own(uint32_t row) {
    if (scene.objects.particulars[row] == kNone) {
      scene.objects.particulars[row] = static_cast<uint32_t>(scene.particulars.size());
      Particulars& made = scene.particulars.emplace_back();
      made.object = row;
      made.replaced = scene.replaced;
      made.beats = scene.beats;
    }
    return scene.particulars[scene.objects.particulars[row]];
  }

  ShotOptics Optics() const { return OpticsOf(scene, catalogue, style); }
};

inline ViewBlock BlockOf(const std::vector<Figure>& lanes) {
  ViewBlock block = {};
  block.count = static_cast<int32_t>(lanes.size());
  for (size_t i = 0; i < lanes.size(); ++i) {
    block.u_px[i] = lanes[i].u_px;
    block.v_px[i] = lanes[i].v_px;
    if (!lanes[i].in_frame) continue;
    block.flags[i] = kInFrame;
    block.height_px[i] = lanes[i].height_px;
    block.covered_px[i] = block.rendered_px[i] = lanes[i].area_px;
    block.near_m[i] = block.far_m[i] = lanes[i].depth_m;
    block.visible[i] = lanes[i].visible;
  }
  return block;
}

// Puts what a fold found of `rows` where Assemble wants it.
inline void Keep(std::span<const uint32_t> rows, std::vector<LaneFindings> found,
                 std::vector<LaneFindings>& by_object) {
  for (size_t i = 0; i < found.size(); ++i) by_object[rows[i]] = std::move(found[i]);
}

// Folds chunk 0 over hand-made blocks: [frame][camera][lane].
inline Legibility FoldByHand(const Shot& shot, const std::vector<std::vector<std::vector<Figure>>>& frames) {
  const ShotOptics optics = shot.Optics();
  Legibility columns;
  columns.Resize(shot.scene.objects.size());
  ChunkFold fold(optics, shot.scene.chunks[0]);
  FoldScratch scratch;
  for (size_t f = 0; f < frames.size(); ++f) {
    std::vector<ViewBlock> blocks;
    for (const std::vector<Figure>& lanes : frames[f]) blocks.push_back(BlockOf(lanes));
    fold.Add(static_cast<int32_t>(f), blocks, scratch);
  }
  std::vector<LaneFindings> by_object(shot.scene.objects.size());
  Keep(shot.scene.chunks[0].object, fold.Finish(columns), by_object);
  Assemble(std::move(by_object), columns);
  return columns;
}

// Measures one frame of a chunk through one camera, hidden things taken off.
inline void MeasureHidden(const ShotOptics& optics, const PoseChunk& chunk, size_t camera, int32_t frame_index,
                          ViewBlock& block) {
  const Scene& scene = *optics.scene;
  const CameraView& view = optics.views[optics.at(camera, frame_index)];
  MeasureChunk(chunk, frame_index, view, block);
  if (optics.occluders.empty() || Contains(scene.replaced, scene.frames.first + frame_index)) return;
  const DepthMap map(scene, optics.occluders, camera, frame_index, optics.hiding);
  if (!map.empty()) map.FindVisible(chunk, frame_index, view, block);
}

inline std::vector<uint32_t> Placeless(const Objects& objects) {
  std::vector<uint32_t> rows;
  for (uint32_t row = 0; row < objects.size(); ++row) {
    if (objects.chunk[row] == kNone) rows.push_back(row);
  }
  return rows;
}

// Folds everything as planning does: every chunk measured by the view stage, then what has no geometry.
inline Legibility FoldForReal(const Shot& shot) {
  const ShotOptics optics = shot.Optics();
  Legibility columns;
  columns.Resize(shot.scene.objects.size());
  std::vector<LaneFindings> by_object(shot.scene.objects.size());
  std::vector<ViewBlock> blocks(shot.scene.cameras.size());
  FoldScratch scratch;
  for (const PoseChunk& chunk : shot.scene.chunks) {
    ChunkFold fold(optics, chunk);
    for (int32_t f = 0; f < shot.scene.frames.count(); ++f) {
      for (size_t c = 0; c < blocks.size(); ++c) MeasureHidden(optics, chunk, c, f, blocks[c]);
      fold.Add(f, blocks, scratch);
    }
    Keep(chunk.object, fold.Finish(columns), by_object);
  }
  const std::vector<uint32_t> placeless = Placeless(shot.scene.objects);
  Keep(placeless, FoldMeasured(optics, placeless, columns), by_object);
  Assemble(std::move(by_object), columns);
  return columns;
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_LEGIBILITY_SHOT_H_
