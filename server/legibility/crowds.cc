// Cover by cell, chunk by chunk; and the nearest twins by a sweep.
//
// The sweep: the centres of one asset in one frame and picture, sorted by u; a pair whose u differ by more than the
// best distance so far cannot be nearer, so each is measured against few neighbours. The best is carried on from frame
// to frame, so later ones mostly end at once.

#include "server/legibility/crowds.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "server/legibility/reading.h"

namespace scantling {
namespace {

int32_t CellAt(const Crowd& crowd, const CameraView& view, double u_px, double v_px) {
  const auto part = [](double at, double whole, int32_t parts) {
    const double place = std::floor(at / whole * parts);
    return static_cast<int32_t>(std::clamp(place, 0.0, static_cast<double>(parts - 1)));
  };
  return part(v_px, view.height_px, crowd.rows) * crowd.columns + part(u_px, view.width_px, crowd.columns);
}

// One object in one picture of one frame.
struct Standing {
  uint32_t asset = kNone, row = kNone;
  double u_px = 0, v_px = 0;
};

class TwinSearch {
 public:
  explicit TwinSearch(const Scene& scene) : scene_(scene) {}

  // One picture of one frame; in order of frames, then cameras.
  void Look(int32_t frame, std::vector<Standing>& standing) {
    frame_ = frame;
    found_here_ = false;
    std::sort(standing.begin(), standing.end(), [](const Standing& a, const Standing& b) {
      return std::tie(a.asset, a.u_px, a.v_px, a.row) < std::tie(b.asset, b.u_px, b.v_px, b.row);
    });
    for (size_t i = 1; i < standing.size(); ++i) {
      for (size_t j = i; j-- > 0 && standing[j].asset == standing[i].asset;) {
        if (standing[i].u_px - standing[j].u_px > nearest_px_) break;
        Weigh(standing[i], standing[j]);
      }
    }
  }

  const Twins& result() const { return twins_; }

 private:
  void Weigh(const Standing& one, const Standing& other) {
    const double px = TravelPx(one.u_px, one.v_px, other.u_px, other.v_px);
    uint32_t a = one.row, b = other.row;
    if (scene_.objects.id[b] < scene_.objects.id[a]) std::swap(a, b);
    if (px > nearest_px_ || (px == nearest_px_ && !ComesFirst(a, b))) return;
    nearest_px_ = px;
    found_here_ = true;
    twins_ = {a, b, px, frame_};
  }

  // Of pairs as near as the best: an earlier picture's stays, of one picture's the one of least ids.
  bool ComesFirst(uint32_t a, uint32_t b) const {
    if (!found_here_) return twins_.a == kNone;
    const StringColumn& id = scene_.objects.id;
    return std::make_pair(id[a], id[b]) < std::make_pair(id[twins_.a], id[twins_.b]);
  }

  const Scene& scene_;
  int32_t frame_ = 0;
  bool found_here_ = false;  // the best is of the picture being looked at
  double nearest_px_ = std::numeric_limits<double>::infinity();
  Twins twins_;
};

}  // namespace

CellFold::CellFold(const ShotOptics& optics, const PoseChunk& chunk) : optics_(optics), chunk_(chunk) {
  if (optics.celled_crowds.empty()) return;
  for (size_t lane = 0; lane < static_cast<size_t>(chunk.count); ++lane) {
    const auto found = optics.celled_crowds.find(chunk.object[lane]);
    if (found == optics.celled_crowds.end()) continue;
    for (const auto& [crowd, member] : found->second) members_.push_back({lane, crowd, member, {}});
  }
}

void CellFold::Add(int32_t frame_index, std::span<const ViewBlock> blocks) {
  const Scene& scene = *optics_.scene;
  const int32_t frame = scene.frames.first + frame_index;
  for (Member& member : members_) {
    if (Contains(scene.replaced_of(chunk_.object[member.lane]), frame)) continue;
    for (size_t camera = 0; camera < blocks.size(); ++camera) AddTo(member, camera, frame_index, blocks[camera]);
  }
}

void CellFold::AddTo(Member& member, size_t camera, int32_t frame_index, const ViewBlock& block) const {
  const Scene& scene = *optics_.scene;
  const uint32_t row = chunk_.object[member.lane];
  const double u_px = block.u_px[member.lane], v_px = block.v_px[member.lane];
  if (std::isnan(u_px) || std::isnan(v_px)) return;
  double covered_px = 0;
  if (scene.objects.measured[row] != kNone) {
    const MeasuredFigure& figure = scene.measured_at(row, camera, frame_index);
    covered_px = figure.height_px > 0 ? figure.covered_px : 0;
    if (covered_px <= optics_.style->smallest_covered_px) return;
  } else {
    const ObjectClass& object_class = optics_.catalogue->classes[scene.objects.class_index[row]];
    const double share = VisibleShare(block, member.lane, object_class.solidity);
    if (!IsLargeEnough(block, member.lane, share, optics_.style->smallest_covered_px)) return;
    covered_px = block.covered_px[member.lane] * share;
  }
  if (covered_px <= 0) return;  // in the overscan alone
  const CameraView& view = optics_.views[optics_.at(camera, frame_index)];
  member.px[CellAt(scene.crowds[member.crowd], view, u_px, v_px)] += covered_px;
}

std::vector<CellFold::Found> CellFold::Finish() const {
  std::vector<Found> found;
  for (const Member& member : members_) {
    for (const auto& [cell, px] : member.px) found.push_back({member.crowd, {member.member, cell, px}});
  }
  return found;
}

Twins NearestTwins(const ShotOptics& optics, const Legibility& legibility, std::span<const uint32_t> rows,
                   const Stop& stop) {
  const Scene& scene = *optics.scene;
  TwinSearch search(scene);
  std::vector<uint32_t> candidates;
  for (const uint32_t row : rows) {
    if (scene.objects.asset[row] != kNone && scene.objects.chunk[row] != kNone) candidates.push_back(row);
  }
  std::vector<size_t> span_of(candidates.size(), 0);  // the first span that does not end before the frame
  std::vector<Standing> standing;
  for (int32_t frame_index = 0; frame_index < scene.frames.count(); ++frame_index) {
    if (stop.Requested()) return {};
    const int32_t frame = scene.frames.first + frame_index;
    for (size_t camera = 0; camera < scene.cameras.size(); ++camera) {
      const CameraView& view = optics.views[optics.at(camera, frame_index)];
      standing.clear();
      for (size_t i = 0; i < candidates.size(); ++i) {
        const std::span<const FrameRange> spans = legibility.spans_of(candidates[i]);
        while (span_of[i] < spans.size() && spans[span_of[i]].last < frame) ++span_of[i];
        if (span_of[i] == spans.size() || !spans[span_of[i]].contains(frame)) continue;
        const uint32_t row = candidates[i];
        const std::array<double, 2> at =
            ProjectCentre(scene.chunks[scene.objects.chunk[row]], scene.objects.lane[row], frame_index, view);
        if (!std::isnan(at[0]) && !std::isnan(at[1])) standing.push_back({scene.objects.asset[row], row, at[0], at[1]});
      }
      search.Look(frame, standing);
    }
  }
  return search.result();
}

}  // namespace scantling
