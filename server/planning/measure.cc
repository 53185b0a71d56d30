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

void Keep(std::span<const uint32_t> rows, std::vector<LaneFindings> findings, std::vector<LaneFindings>& by_object) {
  for (size_t i = 0; i < rows.size(); ++i) by_object[rows[i]] = std::move(findings[i]);
}

// Frame indices [begin, end) that are taken at once, and what hides what in them.
struct FrameBlock {
  int32_t begin = 0, end = 0;
  std::vector<DepthMap> maps;  // [camera * (end - begin) + frame_index - begin]; empty where nothing hides

  const DepthMap* map(size_t camera, int32_t frame_index) const {
    if (maps.empty()) return nullptr;
    const DepthMap& found = maps[camera * static_cast<size_t>(end - begin) + static_cast<size_t>(frame_index - begin)];
    return found.empty() ? nullptr : &found;
  }
};

// Frames whose maps are kept at once: all where that stays under the limit.
int32_t FramesAtOnce(const ShotOptics& optics) {
  const int32_t frames = optics.scene->frames.count();
  if (optics.occluders.empty()) return frames;
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

class ShotMeasuring {
 public:
  ShotMeasuring(const ShotOptics& optics, int threads, const Stop& stop, const ProgressSink& progress)
      : optics_(optics),
        scene_(*optics.scene),
        threads_(threads),
        stop_(stop),
        frames_at_once_(FramesAtOnce(optics)),
        measured_only_(MeasuredOnly(scene_.objects)),
        meter_(std::max<size_t>(PieceCount(), 1), progress) {
    columns_.Resize(scene_.objects.size());
    by_object_.resize(scene_.objects.size());
    folds_.resize(scene_.chunks.size());
    columns_.cell_cover.resize(scene_.crowds.size());
  }

  Legibility Run() {
    FoldMeasuredOnly();
    for (int32_t begin = 0; begin < scene_.frames.count(); begin += frames_at_once_) {
      FrameBlock block{begin, std::min(begin + frames_at_once_, scene_.frames.count()), {}};
      MakeMaps(block);
      ForEach(scene_.chunks.size(), [&](size_t chunk) { MeasureInBlock(chunk, block); });
    }
    if (!stop_.Requested()) Assemble(std::move(by_object_), columns_);
    return std::move(columns_);
  }

 private:
  size_t MeasuredPieces() const { return (measured_only_.size() + kChunkLanes - 1) / kChunkLanes; }

  size_t PieceCount() const {
    const auto frames = static_cast<size_t>(scene_.frames.count());
    const auto at_once = static_cast<size_t>(frames_at_once_);
    const size_t maps = optics_.occluders.empty() ? 0 : frames * scene_.cameras.size();
    return MeasuredPieces() + maps + scene_.chunks.size() * ((frames + at_once - 1) / at_once);
  }

  void ForEach(size_t count, const std::function<void(size_t)>& work) {
    ForEachInParallel(count, threads_, [&](size_t piece) {
      if (stop_.Requested()) return;
      work(piece);
      meter_.Finished();
    });
  }

  void FoldMeasuredOnly() {
    ForEach(MeasuredPieces(), [&](size_t piece) {
      const size_t begin = piece * kChunkLanes;
      const std::span rows =
          std::span(measured_only_).subspan(begin, std::min<size_t>(kChunkLanes, measured_only_.size() - begin));
      Keep(rows, FoldMeasured(optics_, rows, columns_), by_object_);
    });
  }

  void MakeMaps(FrameBlock& block) {
    if (optics_.occluders.empty()) return;
    const auto frames = static_cast<size_t>(block.end - block.begin);
    block.maps.resize(frames * scene_.cameras.size());
    ForEach(block.maps.size(), [&](size_t i) {
      const int32_t frame_index = block.begin + static_cast<int32_t>(i % frames);
      if (Contains(scene_.replaced, scene_.frames.first + frame_index)) return;
      block.maps[i] = DepthMap(scene_, optics_.occluders, i / frames, frame_index, optics_.hiding);
    });
  }

  void MeasureInBlock(size_t number, const FrameBlock& block) {
    const PoseChunk& chunk = scene_.chunks[number];
    std::unique_ptr<ChunkFold> fold = std::move(folds_[number]);
    if (fold == nullptr) fold = std::make_unique<ChunkFold>(optics_, chunk);
    FoldScratch scratch;
    std::vector<ViewBlock> views(scene_.cameras.size());
    for (int32_t frame_index = block.begin; frame_index < block.end; ++frame_index) {
      if (stop_.Requested()) return;
      for (size_t camera = 0; camera < views.size(); ++camera) {
        const CameraView& view = optics_.views[optics_.at(camera, frame_index)];
        MeasureChunk(chunk, frame_index, view, views[camera]);
        const DepthMap* map = block.map(camera, frame_index);
        if (map != nullptr) map->FindVisible(chunk, frame_index, view, views[camera]);
      }
      fold->Add(frame_index, views, scratch);
    }
    if (block.end < scene_.frames.count()) {
      folds_[number] = std::move(fold);
    } else {
      Keep(std::span(chunk.object).first(static_cast<size_t>(chunk.count)), fold->Finish(columns_), by_object_);
    }
  }

  const ShotOptics& optics_;
  const Scene& scene_;
  const int threads_;
  const Stop& stop_;
  const int32_t frames_at_once_;
  const std::vector<uint32_t> measured_only_;
  ProgressMeter meter_;
  Legibility columns_;
  std::vector<LaneFindings> by_object_;
  std::vector<std::unique_ptr<ChunkFold>> folds_;  // between blocks
};

}  // namespace

Legibility MeasureShot(const ShotOptics& optics, int threads, const Stop& stop, const ProgressSink& progress) {
  return ShotMeasuring(optics, threads, stop, progress).Run();
}

}  // namespace scantling
