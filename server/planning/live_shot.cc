// What is known and what is stale.
//
// `shot_` holds the scene and the last values of all stages; a change makes some of them stale, and nothing is read of
// those until they are made anew. Measured columns are the dear ones and are kept by row. What was solved last is kept
// apart (Solved), with the row that each present row was then, so that it can be asked for a first look and be solved
// from (live_plan.cc).

#include "server/planning/live_shot.h"

#include <algorithm>
#include <iterator>
#include <numeric>
#include <utility>

#include "server/planning/live_solved.h"
#include "server/planning/measure.h"
#include "server/planning/parallel.h"
#include "server/planning/prepare.h"
#include "server/planning/touched.h"
#include "server/scene/merge.h"

namespace scantling {
namespace {

// Sets what is to be measured: chunks as they stand where all objects are, else the lanes of `rows`, copied into chunks
// that are returned and must outlive the task. Chunks that objects have left are copied either way.
std::vector<PoseChunk> ChunksOf(const Scene& scene, const std::vector<uint32_t>& rows, MeasureTask& task) {
  std::vector<uint32_t> copies;
  if (rows.size() == scene.objects.size()) {
    for (const PoseChunk& chunk : scene.chunks) {
      if (LiveLanes(chunk) == chunk.count) {
        task.chunks.push_back(&chunk);
      } else {
        std::copy_if(chunk.object.begin(), chunk.object.begin() + chunk.count, std::back_inserter(copies),
                     [](uint32_t row) { return row != kNone; });
      }
    }
  } else {
    copies = rows;
  }
  std::vector<PoseChunk> copied = CopyLanes(scene, copies);
  for (const PoseChunk& chunk : copied) task.chunks.push_back(&chunk);
  std::copy_if(rows.begin(), rows.end(), std::back_inserter(task.measured_only),
               [&](uint32_t row) { return scene.objects.chunk[row] == kNone; });
  return copied;
}

}  // namespace

LiveShot::LiveShot(const Policy& policy, size_t most_map_bytes)
    : policy_(policy), maps_(most_map_bytes), solved_(std::make_unique<Solved>()) {
  shot_.policy = &policy;
  shot_.legibility.Resize(0);
}

LiveShot::~LiveShot() = default;

std::unique_ptr<LiveShot> LiveShot::Copy() const {
  auto copy = std::make_unique<LiveShot>(policy_, maps_.most_bytes());
  copy->shot_.scene = shot_.scene;
  copy->shot_.style = shot_.style;
  if (shot_.style != nullptr) copy->shot_.optics = OpticsOf(copy->shot_.scene, policy_.catalogue, *shot_.style);
  copy->shot_.legibility = shot_.legibility;
  copy->maps_.Clear(maps_.places());
  copy->everything_ = everything_;
  copy->hiding_ = hiding_;
  copy->stale_ = stale_;
  copy->stale_count_ = stale_count_;
  copy->remeasured_.assign(remeasured_.size(), 0);
  copy->solved_->row_was.assign(stale_.size(), kNone);
  copy->solved_->unsolved.assign(stale_.size(), 1);
  return copy;
}

void LiveShot::TakeScene(MergedScene merged, const Style& style) {
  Retire();
  const bool rows_change = merged.rows_moved || merged.was.size() != shot_.scene.objects.size();
  Touched touched = TouchedBy({shot_.scene, shot_.style}, merged, &style);
  // Without the maps of before it cannot be told what they hid.
  if (touched.hiding && !maps_.complete()) touched.everything = true;
  if (merged.rows_moved || touched.everything || touched.crowds) solved_->twins.clear();
  if (rows_change) {
    MoveRows(merged.was, shot_.legibility);
    stale_ = MovedColumn(merged.was, stale_, uint8_t{1});
    remeasured_ = MovedColumn(merged.was, remeasured_, uint8_t{1});
    solved_->row_was = MovedColumn(merged.was, solved_->row_was, kNone);
    solved_->unsolved = MovedColumn(merged.was, solved_->unsolved, uint8_t{1});
  }
  shot_.scene = std::move(merged.scene);
  shot_.style = &style;
  shot_.optics = OpticsOf(shot_.scene, policy_.catalogue, style);
  if (touched.crowds) shot_.legibility.cell_cover.assign(shot_.scene.crowds.size(), {});
  for (size_t row = 0; row < merged.changed.size(); ++row) {
    remeasured_[row] |= merged.changed[row];
    solved_->unsolved[row] |= merged.changed[row];
  }
  if (touched.everything) return ForgetMeasured();
  hiding_ |= touched.hiding;
  MarkStale(touched.rows);
}

void LiveShot::MarkStale(const std::vector<uint8_t>& rows) {
  for (size_t row = 0; row < rows.size(); ++row) stale_[row] |= rows[row];
  stale_count_ = static_cast<size_t>(std::count(stale_.begin(), stale_.end(), 1));
}

void LiveShot::ForgetMeasured() {
  const size_t count = shot_.scene.objects.size();
  everything_ = true;
  hiding_ = false;
  shot_.legibility = Legibility();
  shot_.legibility.Resize(count);
  shot_.legibility.cell_cover.resize(shot_.scene.crowds.size());
  maps_.Clear(shot_.optics.views.size());
  stale_.assign(count, 1);
  stale_count_ = count;
}

std::vector<uint32_t> LiveShot::StaleRows() const {
  std::vector<uint32_t> rows;
  for (uint32_t row = 0; row < stale_.size(); ++row) {
    if (stale_[row] != 0) rows.push_back(row);
  }
  return rows;
}

// ---- Measuring

// Maps are made anew, and what shows of an object in a frame is asked of the old one and the new one: where the answers
// differ anywhere, it is measured again. O(objects * frames whose map changed).
absl::Status LiveShot::FindHidingChanges(int threads, const Stop& stop) {
  const size_t cameras = shot_.scene.cameras.size();
  const auto frames = static_cast<size_t>(shot_.scene.frames.count());
  std::vector<std::shared_ptr<const DepthMap>> next(cameras * frames);
  ForEachInParallel(next.size(), threads, [&](size_t i) {
    if (stop.Requested()) return;
    next[i] = MapOf(shot_.optics, i / frames, static_cast<int32_t>(i % frames), nullptr);
  });
  if (absl::Status status = StopStatus(stop); !status.ok()) return status;
  std::vector<size_t> changed;
  for (size_t i = 0; i < next.size(); ++i) {
    if (!next[i]->SameAs(*maps_.Find(i))) changed.push_back(i);
  }
  std::vector<uint8_t> rows(stale_.size(), 0);
  ForEachInParallel(shot_.scene.chunks.size(), threads, [&](size_t number) {
    const PoseChunk& chunk = shot_.scene.chunks[number];
    ViewBlock before, now;
    for (const size_t i : changed) {
      if (stop.Requested()) return;
      const auto frame_index = static_cast<int32_t>(i % frames);
      const CameraView& view = shot_.optics.views[i];
      MeasureChunk(chunk, frame_index, view, before);
      now = before;
      const std::shared_ptr<const DepthMap> map = maps_.Find(i);
      if (!map->empty()) map->FindVisible(chunk, frame_index, view, before);
      if (!next[i]->empty()) next[i]->FindVisible(chunk, frame_index, view, now);
      for (size_t lane = 0; lane < static_cast<size_t>(chunk.count); ++lane) {
        if (chunk.object[lane] != kNone) rows[chunk.object[lane]] |= before.visible[lane] != now.visible[lane];
      }
    }
  });
  if (absl::Status status = StopStatus(stop); !status.ok()) return status;
  MarkStale(rows);
  for (const size_t i : changed) maps_.Replace(i, next[i]);
  hiding_ = false;
  return absl::OkStatus();
}

void LiveShot::MeasureRows(const std::vector<uint32_t>& rows, int threads, const Stop& stop,
                           const ProgressSink& progress) {
  const Scene& scene = shot_.scene;
  MeasureTask task = {shot_.optics, {}, {}, {0, scene.frames.count() - 1}, threads, stop, progress, &maps_};
  const std::vector<PoseChunk> copied = ChunksOf(scene, rows, task);
  Measured measured = scantling::Measure(task, shot_.legibility);
  for (const uint32_t row : measured.rows) {
    stale_[row] = 0;
    remeasured_[row] = 1;
    solved_->unsolved[row] = 1;
  }
  stale_count_ -= measured.rows.size();
  PutFindings(measured.rows, std::move(measured.findings), scene.crowds, shot_.legibility);
}

absl::Status LiveShot::Measure(int threads, const Stop& stop, const ProgressSink& progress) {
  if (measured()) return absl::OkStatus();
  Retire();
  const auto begin = Stop::Clock::now();
  if (hiding_) {
    if (absl::Status status = FindHidingChanges(threads, stop); !status.ok()) return status;
  }
  if (stale_count_ > 0) MeasureRows(StaleRows(), threads, stop, progress);
  if (stale_count_ == 0) everything_ = false;
  measured_ms_ += std::chrono::duration<double, std::milli>(Stop::Clock::now() - begin).count();
  return measured() ? absl::OkStatus() : StopStatus(stop);
}

// ---- First looks

std::vector<QuickLook> LiveShot::LookAtFrame(int32_t frame_index, int threads, const Stop& stop) const {
  const Scene& scene = shot_.scene;
  // Blur comes from the frame before.
  const int32_t first = shot_.style->shutter_fraction > 0 ? std::max(frame_index - 1, 0) : frame_index;
  const ProgressSink no_progress;
  MeasureTask task = {shot_.optics, {}, {}, {first, frame_index}, threads, stop, no_progress, nullptr};
  std::vector<uint32_t> rows = StaleRows();
  if (everything_ || hiding_) {
    rows.resize(stale_.size());
    std::iota(rows.begin(), rows.end(), 0u);
  }
  const std::vector<PoseChunk> copied = ChunksOf(scene, rows, task);
  Legibility columns;
  columns.Resize(scene.objects.size());
  columns.cell_cover.resize(scene.crowds.size());
  const Measured measured = scantling::Measure(task, columns);
  std::vector<QuickLook> looks;
  for (const uint32_t row : measured.rows) {
    const PerTier<double>& loss = columns.loss[row][kPhiAsGiven];
    QuickLook look = {row, Tier::kFullRig, columns.sight[row] == Sight::kSeen, false};
    for (const Tier tier : kAllTiers) {
      if (loss[Index(tier)] == 0) look.tier = std::min(look.tier, tier);
    }
    if (!HasLast(row) || LastTier(row) != look.tier) looks.push_back(look);
  }
  std::sort(looks.begin(), looks.end(), [](const QuickLook& a, const QuickLook& b) { return a.row < b.row; });
  return looks;
}

std::vector<QuickLook> LiveShot::LookAtMeasured(const std::vector<uint32_t>& rows, RoughHoursChange& change) const {
  std::vector<QuickLook> looks;
  for (const uint32_t row : rows) {
    const bool known = HasLast(row);
    RoughHours hours = PriceRoughly(shot_.scene, shot_.legibility, policy_.rates, row);
    uint8_t allowed = 15;
    const uint32_t before = known ? solved_->row_was[row] : kNone;
    if (known) {
      hours.anim = solved_->costs.anim_hours[before];
      hours.core = solved_->costs.core_hours[before];
      allowed = solved_->choice.problem.allowed[solved_->choice.node_of_row[before]];
    }
    QuickLook look = {row, Tier::kFullRig, shot_.legibility.sight[row] == Sight::kSeen, true};
    double least = -1;
    for (const Tier tier : kAllTiers) {
      if ((allowed >> Index(tier) & 1) == 0) continue;
      const auto t = static_cast<size_t>(Index(tier));
      const double priced = static_cast<double>(LossQuanta(shot_.legibility.loss[row][kPhiAsGiven][t])) +
                            solved_->Price(kAnimHours) * static_cast<double>(HoursQuanta(hours.anim[t])) +
                            solved_->Price(kCoreHours) * static_cast<double>(HoursQuanta(hours.core[t]));
      if (least >= 0 && priced >= least) continue;
      least = priced;
      look.tier = tier;
    }
    change.anim_hours += hours.anim[Index(look.tier)] - (known ? hours.anim[Index(LastTier(row))] : 0);
    change.core_hours += hours.core[Index(look.tier)] - (known ? hours.core[Index(LastTier(row))] : 0);
    looks.push_back(look);
  }
  return looks;
}

std::vector<uint8_t> LiveShot::TakeRemeasured() {
  return std::exchange(remeasured_, std::vector<uint8_t>(remeasured_.size(), 0));
}

size_t LiveShot::BytesFor(const Scene& scene, size_t most_map_bytes) {
  size_t maps = 0;
  if (!OccludersOf(scene).empty()) {
    for (const Camera& camera : scene.cameras) {
      maps += static_cast<size_t>(scene.frames.count()) * DepthMap::MostBytes(camera, HidingOptions());
    }
  }
  size_t poses = 0;
  for (const PoseChunk& chunk : scene.chunks) poses += static_cast<size_t>(chunk.frames) * kChunkLanes * 60 + 1200;
  // Columns of the scene, of what is measured, held, priced, chosen (twice: now and as solved last) and answered; and
  // sections, spans and jumps, a few an object.
  constexpr size_t kPerObject = 90 + 260 + 40 + 2 * 200 + 2 * 170 + 110 + 150;
  return std::min(maps, most_map_bytes) + poses + scene.measured.size() * sizeof(MeasuredFigure) +
         scene.objects.size() * kPerObject;
}

}  // namespace scantling
