// Frames go by in blocks of as many as depth maps are kept of at once; where nothing hides anything, or the maps of all
// frames fit, that is one block. Within a block first its maps are made, a map a piece of work; then every chunk goes
// through the block's frames, a chunk a piece: its accumulators stay in cache, and nothing wider than a span is kept of
// any frame. Between blocks the folds of all chunks wait for the next.
//
// Objects the caller measured himself hide nothing and are not hidden; they come in pieces of kChunkLanes.

#include "server/planning/measure.h"

#include <algorithm>
#include <atomic>
#include <functional>
#include <iterator>
#include <memory>
#include <mutex>
#include <span>
#include <utility>
#include <vector>

#include "server/planning/parallel.h"

namespace scantling {
namespace {

// Depth maps kept at once: some 400 of a wide picture, ten seconds of one camera and more.
constexpr size_t kMapBytes = size_t{192} << 20;

// Objects without geometry, in rows of the scene.
std::vector<uint32_t> MeasuredOnly(const Objects& objects) {
  std::vector<uint32_t> rows;
  for (uint32_t row = 0; row < objects.size(); ++row) {
    if (objects.chunk[row] == kNone) rows.push_back(row);
  }
  return rows;
}

// Frame indices [begin, end) that are taken at once, and what hides what in them.
struct FrameBlock {
  int32_t begin = 0, end = 0;
  // [camera * (end - begin) + frame_index - begin]; none where nothing hides
  std::vector<std::shared_ptr<const DepthMap>> maps;

  const DepthMap* map(size_t camera, int32_t frame_index) const {
    if (maps.empty()) return nullptr;
    const DepthMap& found = *maps[camera * static_cast<size_t>(end - begin) + static_cast<size_t>(frame_index - begin)];
    return found.empty() ? nullptr : &found;
  }
};

// Frames whose maps are held at once: all where that stays under the limit, or where they are held anyway.
int32_t FramesAtOnce(const MeasureTask& task) {
  const ShotOptics& optics = task.optics;
  const int32_t frames = task.frame_indices.count();
  if (optics.occluders.empty() || (task.maps != nullptr && task.maps->complete())) return frames;
  size_t bytes = 1;
  for (const Camera& camera : optics.scene->cameras) bytes += DepthMap::MostBytes(camera, optics.hiding);
  return static_cast<int32_t>(std::clamp<size_t>(kMapBytes / bytes, 1, static_cast<size_t>(frames)));
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

class Measuring {
 public:
  Measuring(const MeasureTask& task, Legibility& columns)
      : task_(task),
        optics_(task.optics),
        scene_(*optics_.scene),
        columns_(columns),
        frames_at_once_(FramesAtOnce(task)),
        meter_(std::max<size_t>(PieceCount(), 1), task.progress),
        folds_(task.chunks.size()),
        pieces_(MeasuredPieces() + task.chunks.size()) {}

  Measured Run() {
    FoldMeasuredOnly();
    const int32_t end = task_.frame_indices.last + 1;
    for (int32_t begin = task_.frame_indices.first; begin < end; begin += frames_at_once_) {
      FrameBlock block{begin, std::min(begin + frames_at_once_, end), {}};
      MakeMaps(block);
      ForEach(task_.chunks.size(), [&](size_t chunk) { MeasureInBlock(chunk, block); });
    }
    Measured all;
    for (Measured& piece : pieces_) {
      all.rows.insert(all.rows.end(), piece.rows.begin(), piece.rows.end());
      std::move(piece.findings.begin(), piece.findings.end(), std::back_inserter(all.findings));
      piece = {};
    }
    return all;
  }

 private:
  size_t MeasuredPieces() const { return (task_.measured_only.size() + kChunkLanes - 1) / kChunkLanes; }

  size_t PieceCount() const {
    const auto frames = static_cast<size_t>(task_.frame_indices.count());
    const auto at_once = static_cast<size_t>(frames_at_once_);
    const size_t maps = optics_.occluders.empty() ? 0 : frames * scene_.cameras.size();
    return MeasuredPieces() + maps + task_.chunks.size() * ((frames + at_once - 1) / at_once);
  }

  void ForEach(size_t count, const std::function<void(size_t)>& work) {
    ForEachInParallel(count, task_.threads, [&](size_t piece) {
      if (task_.stop.Requested()) return;
      work(piece);
      meter_.Finished();
    });
  }

  void FoldMeasuredOnly() {
    ForEach(MeasuredPieces(), [&](size_t piece) {
      const size_t begin = piece * kChunkLanes;
      const std::span rows = std::span(task_.measured_only)
                                 .subspan(begin, std::min<size_t>(kChunkLanes, task_.measured_only.size() - begin));
      pieces_[piece] = {{rows.begin(), rows.end()}, FoldMeasured(optics_, rows, columns_)};
    });
  }

  void MakeMaps(FrameBlock& block) {
    if (optics_.occluders.empty()) return;
    const auto frames = static_cast<size_t>(block.end - block.begin);
    block.maps.resize(frames * scene_.cameras.size());
    ForEach(block.maps.size(), [&](size_t i) {
      const int32_t frame_index = block.begin + static_cast<int32_t>(i % frames);
      block.maps[i] = MapOf(optics_, i / frames, frame_index, task_.maps);
    });
  }

  void MeasureInBlock(size_t number, const FrameBlock& block) {
    const PoseChunk& chunk = *task_.chunks[number];
    std::unique_ptr<ChunkFold> fold = std::move(folds_[number]);
    if (fold == nullptr) fold = std::make_unique<ChunkFold>(optics_, chunk);
    FoldScratch scratch;
    std::vector<ViewBlock> views(scene_.cameras.size());
    for (int32_t frame_index = block.begin; frame_index < block.end; ++frame_index) {
      if (task_.stop.Requested()) return;
      for (size_t camera = 0; camera < views.size(); ++camera) {
        const CameraView& view = optics_.views[optics_.at(camera, frame_index)];
        MeasureChunk(chunk, frame_index, view, views[camera]);
        const DepthMap* map = block.map(camera, frame_index);
        if (map != nullptr) map->FindVisible(chunk, frame_index, view, views[camera]);
      }
      fold->Add(frame_index, views, scratch);
    }
    if (block.end <= task_.frame_indices.last) {
      folds_[number] = std::move(fold);
      return;
    }
    const auto rows = std::span(chunk.object).first(static_cast<size_t>(chunk.count));
    pieces_[MeasuredPieces() + number] = {{rows.begin(), rows.end()}, fold->Finish(columns_)};
  }

  const MeasureTask& task_;
  const ShotOptics& optics_;
  const Scene& scene_;
  Legibility& columns_;
  const int32_t frames_at_once_;
  ProgressMeter meter_;
  std::vector<std::unique_ptr<ChunkFold>> folds_;  // between blocks
  std::vector<Measured> pieces_;                   // measured-only ones first, then by chunk
};

}  // namespace

Measured Measure(const MeasureTask& task, Legibility& columns) { return Measuring(task, columns).Run(); }

Legibility MeasureShot(const ShotOptics& optics, int threads, const Stop& stop, const ProgressSink& progress) {
  const Scene& scene = *optics.scene;
  MeasureTask task = {optics,   {},     MeasuredOnly(scene.objects), {0, scene.frames.count() - 1}, threads, stop,
                      progress, nullptr};
  for (const PoseChunk& chunk : scene.chunks) task.chunks.push_back(&chunk);
  Legibility columns;
  columns.Resize(scene.objects.size());
  columns.cell_cover.resize(scene.crowds.size());
  Measured measured = Measure(task, columns);
  if (stop.Requested()) return columns;
  std::vector<LaneFindings> by_object(scene.objects.size());
  for (size_t i = 0; i < measured.rows.size(); ++i) by_object[measured.rows[i]] = std::move(measured.findings[i]);
  Assemble(std::move(by_object), columns);
  return columns;
}

std::shared_ptr<const DepthMap> MapOf(const ShotOptics& optics, size_t camera, int32_t frame_index, DepthMaps* maps) {
  const size_t place = optics.at(camera, frame_index);
  if (maps != nullptr) {
    if (std::shared_ptr<const DepthMap> kept = maps->Find(place); kept != nullptr) return kept;
  }
  const Scene& scene = *optics.scene;
  auto map = std::make_shared<const DepthMap>();
  if (!Contains(scene.replaced, scene.frames.first + frame_index)) {
    map = std::make_shared<const DepthMap>(scene, optics.occluders, camera, frame_index, optics.hiding);
  }
  if (maps != nullptr) maps->Offer(place, map);
  return map;
}

}  // namespace scantling
