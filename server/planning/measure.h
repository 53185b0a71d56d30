// Measures every object at every frame through every camera, finds what of it is hidden, and folds it at once: view and
// legibility, fused by chunk.

#ifndef SCANTLING_SERVER_PLANNING_MEASURE_H_
#define SCANTLING_SERVER_PLANNING_MEASURE_H_

#include "server/legibility/legibility.h"
#include "server/planning/plan_shot.h"
#include "server/units/stop.h"

namespace scantling {

// Columns for all objects of optics.scene. When `stop` is requested the columns are incomplete and must be thrown away.
// The same bytes on any number of threads.
Legibility MeasureShot(const ShotOptics& optics, int threads, const Stop& stop, const ProgressSink& progress);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_MEASURE_H_
