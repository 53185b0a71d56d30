// A piece of work is one chunk over all frames: its accumulators stay in cache while the frames go by, and nothing
// wider than a span is kept of any frame. Objects the caller measured himself come in pieces of kChunkLanes.

#include "server/planning/measure.h"

#include <algorithm>
#include <atomic>
#include <mutex>
#include <span>
#include <utility>
#include <vector>

#include "server/planning/parallel.h"

namespace scantling {
namespace {

// Objects without geometry, in rows of the scene.
std::vector<uint32_t> MeasuredOnly(const Objects& objects) {
  std::vector<uint32_t> rows;
  for (uint32_t row = 0; row < objects.size(); ++row) {
    if (objects.chunk[row] == kNone) rows.push_back(row);
  }
  return rows;
}

void KeepSpans(std::span<const uint32_t> rows, std::vector<FrameSpans> spans, std::vector<FrameSpans>& by_object) {
  for (size_t i = 0; i < rows.size(); ++i) by_object[rows[i]] = std::move(spans[i]);
}

void MeasureOneChunk(const ShotOptics& optics, const PoseChunk& chunk, const Stop& stop, Legibility& columns,
                     std::vector<FrameSpans>& by_object) {
  const size_t cameras = optics.scene->cameras.size();
  std::vector<ViewBlock> blocks(cameras);
  ChunkFold fold(optics, chunk);
  for (int32_t frame_index = 0; frame_index < optics.scene->frames.count(); ++frame_index) {
    if (stop.Requested()) return;
    for (size_t camera = 0; camera < cameras; ++camera) {
      MeasureChunk(chunk, frame_index, optics.views[optics.at(camera, frame_index)], blocks[camera]);
    }
    fold.Add(frame_index, blocks);
  }
  KeepSpans(std::span(chunk.object).first(static_cast<size_t>(chunk.count)), fold.Finish(columns), by_object);
}

// Counts finished pieces and tells the sink about every hundredth part, one thread at a time.
class ProgressMeter {
 public:
  ProgressMeter(size_t pieces, const ProgressSink& sink) : pieces_(pieces), sink_(sink) {}

  void Finished() {
    const size_t done = done_.fetch_add(1) + 1;
    if (!sink_ || done * 100 / pieces_ == (done - 1) * 100 / pieces_) return;
    const std::scoped_lock lock(mutex_);
    sink_("measuring", static_cast<double>(done) / static_cast<double>(pieces_));
  }

 private:
  const size_t pieces_;
  const ProgressSink& sink_;
  std::atomic<size_t> done_{0};
  std::mutex mutex_;
};

}  // namespace

Legibility MeasureShot(const ShotOptics& optics, int threads, const Stop& stop, const ProgressSink& progress) {
  const Scene& scene = *optics.scene;
  Legibility columns;
  columns.Resize(scene.objects.size());
  std::vector<FrameSpans> by_object(scene.objects.size());
  const std::vector<uint32_t> measured_only = MeasuredOnly(scene.objects);
  const size_t chunks = scene.chunks.size();
  const size_t pieces = chunks + (measured_only.size() + kChunkLanes - 1) / kChunkLanes;

  ProgressMeter meter(std::max<size_t>(pieces, 1), progress);
  ForEachInParallel(pieces, threads, [&](size_t piece) {
    if (stop.Requested()) return;
    if (piece < chunks) {
      MeasureOneChunk(optics, scene.chunks[piece], stop, columns, by_object);
    } else {
      const size_t begin = (piece - chunks) * kChunkLanes;
      const size_t count = std::min<size_t>(kChunkLanes, measured_only.size() - begin);
      const std::span rows = std::span(measured_only).subspan(begin, count);
      KeepSpans(rows, FoldMeasured(optics, rows, columns), by_object);
    }
    meter.Finished();
  });
  if (!stop.Requested()) AssembleSpans(by_object, columns);
  return columns;
}

}  // namespace scantling
