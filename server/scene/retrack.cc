// Poses. Chunks of the base are shared as they stand; only who stands in which lane is the merged scene's own. Lanes of
// removed and replaced objects are left empty, the change's chunks come behind. A chunk nobody is left in goes; eight
// chunks that are three quarters empty are packed into fewer, so that waste stays under some eight chunks of each kind
// and four times what is used.
//
// Where the frames of the shot changed, everything is packed anew with its tracks cut. A track that stands still in
// what is left becomes one pose, as it would have been had it been sent so.

#include "server/scene/retrack.h"

#include <algorithm>
#include <iterator>
#include <numeric>
#include <optional>
#include <string>
#include <unordered_map>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/chunks.h"
#include "server/scene/faults.h"
#include "server/scene/frame_lists.h"
#include "server/scene/merge.h"

namespace scantling {
namespace {

constexpr int32_t kSparse = kChunkLanes / 4;  // lanes in use at which a chunk counts as nearly empty
constexpr size_t kSparseChunks = 8;           // that many nearly empty chunks are packed

// Adds one object's poses, frames [begin, begin + count) of its chunk, to a writer.
void CopyLane(const PoseChunk& from, size_t lane, FrameRange frame_indices, uint32_t row, ChunkWriter& writer) {
  const bool moves = from.frames > 1;
  const int32_t begin = moves ? frame_indices.first : 0, count = moves ? frame_indices.count() : 1;
  const ChunkPlace place = writer.Open(row, count);
  for (int32_t f = 0; f < count; ++f) {
    const size_t at = from.at(begin + f, static_cast<int32_t>(lane));
    FoldedBox box = {{from.centre_x[at], from.centre_y[at], from.centre_z[at]}, {}};
    for (size_t k = 0; k < 9; ++k) box.axis[k] = from.axis[k][at];
    writer.Put(place, f, box);
  }
}

bool StandsStill(const PoseChunk& chunk, size_t lane, FrameRange frame_indices) {
  const size_t first = chunk.at(frame_indices.first, static_cast<int32_t>(lane));
  for (int32_t f = frame_indices.first + 1; f <= frame_indices.last; ++f) {
    const size_t at = chunk.at(f, static_cast<int32_t>(lane));
    bool same = chunk.centre_x[at] == chunk.centre_x[first] && chunk.centre_y[at] == chunk.centre_y[first] &&
                chunk.centre_z[at] == chunk.centre_z[first];
    for (size_t k = 0; same && k < 9; ++k) same = chunk.axis[k][at] == chunk.axis[k][first];
    if (!same) return false;
  }
  return true;
}

FrameSpans CutSpans(const FrameSpans& spans, FrameRange to) {
  FrameSpans cut;
  for (const FrameRange& span : spans) {
    const FrameRange part = {std::max(span.first, to.first), std::min(span.last, to.last)};
    if (part.count() > 0) cut.push_back(part);
  }
  return cut;
}

class Retracker {
 public:
  Retracker(const RetrackInput& input, Scene& scene) : in_(input), scene_(scene), objects_(scene.objects) {}

  void Run(std::vector<PoseChunk> patch_chunks) {
    objects_.chunk.assign(objects_.size(), kNone);
    objects_.lane.assign(objects_.size(), 0);
    if (frames_changed() && !in_.base.objects.canonical.empty()) {
      CutPoses();
    } else {
      ShareChunks();
    }
    AppendChunks(std::move(patch_chunks));
    DropEmptyChunks();
    PackSparseChunks(1);
    PackSparseChunks(scene_.frames.count());
    MergeMeasured();
    MergeParticulars();
  }

 private:
  bool frames_changed() const { return !(in_.base.frames == scene_.frames); }
  bool frames_within() const {
    return scene_.frames.first >= in_.base.frames.first && scene_.frames.last <= in_.base.frames.last;
  }
  bool Stays(uint32_t base_row) const {
    return in_.places.of_base[base_row] != kNone && in_.places.replaced[base_row] == 0;
  }

  void Refer(uint32_t chunk) {
    const PoseChunk& of = scene_.chunks[chunk];
    for (size_t lane = 0; lane < static_cast<size_t>(of.count); ++lane) {
      if (of.object[lane] == kNone) continue;
      objects_.chunk[of.object[lane]] = chunk;
      objects_.lane[of.object[lane]] = static_cast<uint16_t>(lane);
    }
  }

  void ShareChunks() {
    scene_.chunks = in_.base.chunks;
    for (uint32_t c = 0; c < scene_.chunks.size(); ++c) {
      PoseChunk& chunk = scene_.chunks[c];
      for (size_t lane = 0; lane < static_cast<size_t>(chunk.count); ++lane) {
        uint32_t& row = chunk.object[lane];
        if (row != kNone) row = Stays(row) ? in_.places.of_base[row] : kNone;
      }
      Refer(c);
    }
  }

  void AppendChunks(std::vector<PoseChunk> chunks) {
    for (PoseChunk& chunk : chunks) {
      for (size_t lane = 0; lane < static_cast<size_t>(chunk.count); ++lane) {
        chunk.object[lane] = in_.places.of_patch[chunk.object[lane]];
      }
      scene_.chunks.push_back(std::move(chunk));
      Refer(static_cast<uint32_t>(scene_.chunks.size() - 1));
    }
  }

  void DropEmptyChunks() {
    for (uint32_t c = 0; c < scene_.chunks.size();) {
      if (LiveLanes(scene_.chunks[c]) > 0) {
        ++c;
        continue;
      }
      if (c + 1 < scene_.chunks.size()) scene_.chunks[c] = std::move(scene_.chunks.back());
      scene_.chunks.pop_back();
      if (c < scene_.chunks.size()) Refer(c);
    }
  }

  void PackSparseChunks(int32_t frames) {
    std::vector<uint32_t> rows;
    size_t sparse = 0;
    const auto is_sparse = [&](const PoseChunk& chunk) {
      return chunk.frames == frames && LiveLanes(chunk) <= kSparse;
    };
    for (const PoseChunk& chunk : scene_.chunks) sparse += is_sparse(chunk);
    if (sparse < kSparseChunks) return;
    for (const PoseChunk& chunk : scene_.chunks) {
      if (!is_sparse(chunk)) continue;
      std::copy_if(chunk.object.begin(), chunk.object.begin() + chunk.count, std::back_inserter(rows),
                   [](uint32_t row) { return row != kNone; });
    }
    std::vector<PoseChunk> packed = CopyLanes(scene_, rows);
    std::erase_if(scene_.chunks, is_sparse);
    std::move(packed.begin(), packed.end(), std::back_inserter(scene_.chunks));
    for (uint32_t c = 0; c < scene_.chunks.size(); ++c) Refer(c);
  }

  // The base's poses within the new frames.
  void CutPoses() {
    const FrameRange base = in_.base.frames;
    const FrameRange indices = {scene_.frames.first - base.first, scene_.frames.last - base.first};
    ChunkWriter writer;
    size_t too_short = 0;
    uint32_t example = kNone;
    for (uint32_t row = 0; row < in_.base.objects.size(); ++row) {
      const uint32_t number = in_.base.objects.chunk[row];
      if (number == kNone || !Stays(row)) continue;
      const PoseChunk& chunk = in_.base.chunks[number];
      const size_t lane = in_.base.objects.lane[row];
      if (chunk.frames > 1 && !frames_within()) {
        example = too_short++ == 0 ? row : example;
        continue;
      }
      const bool still = chunk.frames > 1 && StandsStill(chunk, lane, indices);
      const FrameRange first = {indices.first, indices.first};
      CopyLane(chunk, lane, still ? first : indices, in_.places.of_base[row], writer);
    }
    if (too_short > 0) RefuseFrames(example, too_short, "move");
    scene_.chunks = writer.Take();
    for (uint32_t c = 0; c < scene_.chunks.size(); ++c) Refer(c);
  }

  void RefuseFrames(uint32_t example, size_t count, const char* what) {
    in_.violations.Add("frames", absl::StrCat("got ", scene_.frames.first, " to ", scene_.frames.last,
                                              ", want frames within ", in_.base.frames.first, " to ",
                                              in_.base.frames.last, ", or ", QuotedText(in_.base.objects.id[example]),
                                              " and all others that ", what, " (", count, ") sent again"));
  }

  // ---- Measured figures

  // Number in the base of each camera; kNone: it has none.
  std::vector<uint32_t> CamerasInBase() const {
    std::vector<uint32_t> numbers;
    for (const Camera& camera : scene_.cameras) {
      uint32_t found = kNone;
      for (uint32_t i = 0; i < in_.base.cameras.size(); ++i) {
        if (in_.base.cameras[i].id == camera.id) found = i;
      }
      numbers.push_back(found);
    }
    return numbers;
  }

  void AppendMeasured(const Scene& from, uint32_t row, std::span<const uint32_t> cameras, uint32_t to) {
    const int32_t skipped = scene_.frames.first - from.frames.first;
    const auto count = static_cast<size_t>(scene_.frames.count());
    objects_.measured[to] = static_cast<uint32_t>(scene_.measured.size() / (cameras.size() * count));
    for (const uint32_t camera : cameras) {
      const MeasuredFigure* first = &from.measured_at(row, camera, skipped);
      scene_.measured.insert(scene_.measured.end(), first, first + count);
    }
  }

  void MergeMeasured() {
    objects_.measured.assign(objects_.size(), kNone);
    const std::vector<uint32_t> in_base = CamerasInBase();
    std::vector<uint32_t> as_sent(scene_.cameras.size());
    std::iota(as_sent.begin(), as_sent.end(), 0u);
    size_t lost = 0;
    uint32_t example = kNone;
    for (uint32_t row = 0; row < in_.base.objects.size() && !in_.base.measured.empty(); ++row) {
      if (in_.base.objects.measured[row] == kNone || !Stays(row)) continue;
      const bool whole = frames_within() && std::find(in_base.begin(), in_base.end(), kNone) == in_base.end();
      if (whole) {
        AppendMeasured(in_.base, row, in_base, in_.places.of_base[row]);
      } else {
        example = lost++ == 0 ? row : example;
      }
    }
    for (uint32_t i = 0; i < in_.patch.objects.size(); ++i) {
      if (in_.patch.objects.measured[i] != kNone) AppendMeasured(in_.patch, i, as_sent, in_.places.of_patch[i]);
    }
    if (lost > 0 && !frames_within()) RefuseFrames(example, lost, "were measured");
    if (lost > 0 && frames_within()) RefuseCameras(in_base, example, lost);
  }

  void RefuseCameras(const std::vector<uint32_t>& in_base, uint32_t example, size_t count) {
    const auto at = static_cast<size_t>(std::find(in_base.begin(), in_base.end(), kNone) - in_base.begin());
    in_.violations.Add(absl::StrCat("cameras[", at, "].id"),
                       absl::StrCat("got ", QuotedText(scene_.cameras[at].id), ", which is new, want ",
                                    QuotedText(in_.base.objects.id[example]), " and all others that were measured (",
                                    count, ") sent again"));
  }

  // ---- What only some objects have

  void MergeParticulars() {
    objects_.particulars.assign(objects_.size(), kNone);
    for (const Particulars& one : in_.base.particulars) {
      if (Stays(one.object)) Append(one, in_.base.hold_groups, in_.places.of_base[one.object], true);
    }
    for (const Particulars& one : in_.patch.particulars) {
      Append(one, in_.patch.hold_groups, in_.places.of_patch[one.object], false);
    }
    CheckTotals();
  }

  void Append(const Particulars& one, const StringColumn& groups, uint32_t row, bool refresh) {
    Particulars to = one;
    to.object = row;
    if (one.hold_group != kNone) to.hold_group = GroupNumber(groups[one.hold_group]);
    if (refresh) Refresh(to);
    objects_.particulars[row] = static_cast<uint32_t>(scene_.particulars.size());
    scene_.particulars.push_back(std::move(to));
  }

  uint32_t GroupNumber(std::string_view name) {
    const auto [at, is_new] = groups_.emplace(std::string(name), static_cast<uint32_t>(scene_.hold_groups.size()));
    if (is_new) scene_.hold_groups.Append(name);
    return at->second;
  }

  // Lists of frames as they are in the new frames, the shot's own taken in anew.
  void Refresh(Particulars& one) const {
    if (!frames_changed() && in_.base.replaced == scene_.replaced && in_.base.beats == scene_.beats) return;
    one.own_replaced = CutSpans(one.own_replaced, scene_.frames);
    std::erase_if(one.own_beats, [&](int32_t beat) { return !scene_.frames.contains(beat); });
    one.replaced = one.own_replaced.empty() ? FrameSpans() : UniteSpans(one.own_replaced, scene_.replaced);
    one.beats.clear();
    if (!one.own_beats.empty()) {
      std::set_union(one.own_beats.begin(), one.own_beats.end(), scene_.beats.begin(), scene_.beats.end(),
                     std::back_inserter(one.beats));
    }
    for (IndirectSight& sight : one.indirect) {
      sight.frames = sight.whole_shot ? FrameSpans{scene_.frames} : CutSpans(sight.frames, scene_.frames);
    }
    std::erase_if(one.indirect, [](const IndirectSight& sight) { return sight.frames.empty(); });
  }

  void CheckTotals() {
    int64_t vertices = 0, triangles = 0, openings = 0, marks = 0;
    for (const Particulars& one : scene_.particulars) {
      vertices += static_cast<int64_t>(one.mesh.vertices.size());
      triangles += static_cast<int64_t>(one.mesh.triangles.size());
      openings += static_cast<int64_t>(one.openings.size());
      marks += static_cast<int64_t>(one.replaced.size() + one.beats.size());
      for (const IndirectSight& sight : one.indirect) marks += static_cast<int64_t>(sight.frames.size());
    }
    const auto check = [&](int64_t got, int64_t most, const char* what) {
      if (got <= most) return;
      in_.violations.Add("objects", GotInteger(got, absl::StrCat("at most ", most, " ", what, " of all objects")));
    };
    check(vertices, in_.limits.mesh_vertices, "vertices of meshes");
    check(triangles, in_.limits.mesh_triangles, "triangles of meshes");
    check(openings, in_.limits.all_openings, "openings");
    check(marks, in_.limits.frame_marks, "beats and ranges of frames");
  }

  const RetrackInput& in_;
  Scene& scene_;
  Objects& objects_;
  std::unordered_map<std::string, uint32_t> groups_;
};

}  // namespace

int32_t LiveLanes(const PoseChunk& chunk) {
  const auto* const begin = chunk.object.begin();
  return chunk.count - static_cast<int32_t>(std::count(begin, begin + chunk.count, kNone));
}

std::vector<PoseChunk> CopyLanes(const Scene& scene, const std::vector<uint32_t>& rows) {
  ChunkWriter writer;
  for (const uint32_t row : rows) {
    const uint32_t number = scene.objects.chunk[row];
    if (number == kNone) continue;
    const PoseChunk& chunk = scene.chunks[number];
    CopyLane(chunk, scene.objects.lane[row], {0, chunk.frames - 1}, row, writer);
  }
  return writer.Take();
}

void Retrack(const RetrackInput& input, std::vector<PoseChunk> patch_chunks, Scene& scene) {
  Retracker(input, scene).Run(std::move(patch_chunks));
}

}  // namespace scantling
