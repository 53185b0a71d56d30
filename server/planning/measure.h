// Measures objects at every frame through every camera, finds what of them is hidden, and folds it at once: view and
// legibility, fused by chunk.

#ifndef SCANTLING_SERVER_PLANNING_MEASURE_H_
#define SCANTLING_SERVER_PLANNING_MEASURE_H_

#include <cstdint>
#include <vector>

#include "server/legibility/legibility.h"
#include "server/planning/depth_maps.h"
#include "server/planning/plan_shot.h"
#include "server/units/stop.h"

namespace scantling {

// What is measured, with how many threads, until when.
struct MeasureTask {
  const ShotOptics& optics;
  std::vector<const PoseChunk*> chunks;  // their lanes all hold objects of the scene
  std::vector<uint32_t> measured_only;   // rows without geometry
  FrameRange frame_indices;              // all frames of the shot, or a run of them for a first look
  int threads = 1;
  const Stop& stop;
  const ProgressSink& progress;
  DepthMaps* maps = nullptr;  // kept from before and for later; none: made and thrown away
};

// What was found of some rows and does not go into a column.
struct Measured {
  std::vector<uint32_t> rows;
  std::vector<LaneFindings> findings;
};

// Writes the columns of the objects measured (others are not touched; columns must be as long as the scene's objects)
// and returns the rest of what was found, chunk by chunk. When the stop is requested, only of those that were done.
// The same bytes on any number of threads.
Measured Measure(const MeasureTask& task, Legibility& columns);

// Columns for all objects of optics.scene. When `stop` is requested the columns are incomplete and must be thrown away.
Legibility MeasureShot(const ShotOptics& optics, int threads, const Stop& stop, const ProgressSink& progress);

// The map of one camera and frame, kept or made. Empty in frames in which a drawing stands for the whole picture.
std::shared_ptr<const DepthMap> MapOf(const ShotOptics& optics, size_t camera, int32_t frame_index, DepthMaps* maps);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_MEASURE_H_
