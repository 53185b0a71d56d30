// The nearest twins by a sweep over each picture.
//
// The centres of one asset are sorted by u and gone through from left to right. Those not further back than the best
// distance so far are kept by v; each newcomer is measured against those of them that are not further up or down. All
// that are kept stand at least the best distance from each other, so there are few to measure against, however the
// crowd stands. Places that several share make the distance 0, which nothing can beat; they are looked for first, and
// end the search. The best is carried on from picture to picture.
//
// Source: Hinrichs, Nievergelt, Schorn, Plane-sweep solves the closest pair problem elegantly, 1988.

#include "server/legibility/crowds.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <tuple>
#include <utility>
#include <vector>

#include "server/legibility/reading.h"

namespace scantling {
namespace {

constexpr size_t kBetweenStops = 4096;  // objects
// What is as near as the best to rounding is measured too, so that ties are found.
constexpr double kHair = 1 + 1e-9;

// One object in one picture of one frame.
struct Standing {
  uint32_t asset = kNone, row = kNone;
  double u_px = 0, v_px = 0;

  auto place() const { return std::tie(asset, u_px, v_px); }
};

class TwinSearch {
 public:
  TwinSearch(const Scene& scene, const Stop& stop) : scene_(scene), stop_(stop) {}

  // One picture of one frame; in order of frames, then cameras. Sorts `standing`.
  void Look(int32_t frame, std::vector<Standing>& standing) {
    frame_ = frame;
    found_here_ = false;
    std::sort(standing.begin(), standing.end(), [this](const Standing& a, const Standing& b) {
      if (a.place() != b.place()) return a.place() < b.place();
      return scene_.objects.id[a.row] < scene_.objects.id[b.row];
    });
    for (size_t i = 1; i < standing.size(); ++i) {
      if (standing[i].place() == standing[i - 1].place()) Weigh(standing[i - 1], standing[i]);
    }
    if (!nothing_is_nearer()) Sweep(standing);
  }

  bool nothing_is_nearer() const { return nearest_px_ == 0; }
  const Twins& result() const { return twins_; }

 private:
  // Wants no two of one asset in one place.
  void Sweep(const std::vector<Standing>& standing) {
    std::set<std::pair<double, size_t>> kept;  // by v
    size_t left = 0;                           // the first that is kept
    for (size_t i = 0; i < standing.size(); ++i) {
      if (i % kBetweenStops == 0 && stop_.Requested()) return;
      const Standing& one = standing[i];
      for (; left < i && (standing[left].asset != one.asset || one.u_px - standing[left].u_px > nearest_px_ * kHair);
           ++left) {
        kept.erase({standing[left].v_px, left});
      }
      auto near = kept.lower_bound({one.v_px - nearest_px_ * kHair, 0});
      for (; near != kept.end() && near->first - one.v_px <= nearest_px_ * kHair; ++near) {
        Weigh(standing[near->second], one);
      }
      kept.insert({one.v_px, i});
    }
  }

  void Weigh(const Standing& one, const Standing& other) {
    const double px = TravelPx(one.u_px, one.v_px, other.u_px, other.v_px);
    if (px > nearest_px_) return;
    uint32_t a = one.row, b = other.row;
    if (scene_.objects.id[b] < scene_.objects.id[a]) std::swap(a, b);
    if (px == nearest_px_ && !ComesFirst(a, b)) return;
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
  const Stop& stop_;
  int32_t frame_ = 0;
  bool found_here_ = false;  // the best is of the picture being looked at
  double nearest_px_ = std::numeric_limits<double>::infinity();
  Twins twins_;
};

// Who is seen where, picture by picture, in order of frames.
class Places {
 public:
  Places(const ShotOptics& optics, const Legibility& legibility, std::span<const uint32_t> rows)
      : optics_(optics), scene_(*optics.scene) {
    for (const uint32_t row : rows) {
      if (scene_.objects.asset[row] != kNone && scene_.objects.chunk[row] != kNone) rows_.push_back(row);
    }
    through_.resize(scene_.cameras.size());
    for (size_t camera = 0; camera < through_.size(); ++camera) {
      for (const uint32_t row : rows_) through_[camera].push_back(legibility.spans_through(row, camera));
    }
  }

  // False where the stop came in.
  bool Fill(size_t camera, int32_t frame_index, const Stop& stop, std::vector<Standing>& standing) {
    const CameraView& view = optics_.views[optics_.at(camera, frame_index)];
    const int32_t frame = scene_.frames.first + frame_index;
    standing.clear();
    for (size_t i = 0; i < rows_.size(); ++i) {
      if (i % kBetweenStops == 0 && stop.Requested()) return false;
      std::span<const FrameRange>& spans = through_[camera][i];
      while (!spans.empty() && spans.front().last < frame) spans = spans.subspan(1);
      if (spans.empty() || !spans.front().contains(frame)) continue;
      const uint32_t row = rows_[i];
      const auto [u_px, v_px] =
          ProjectCentre(scene_.chunks[scene_.objects.chunk[row]], scene_.objects.lane[row], frame_index, view);
      if (std::isnan(u_px) || std::isnan(v_px)) continue;
      standing.push_back({scene_.objects.asset[row], row, u_px, v_px});
    }
    return !stop.Requested();
  }

 private:
  const ShotOptics& optics_;
  const Scene& scene_;
  std::vector<uint32_t> rows_;
  std::vector<std::vector<std::span<const FrameRange>>> through_;  // [camera][rows_], those that are not over
};

}  // namespace

Twins NearestTwins(const ShotOptics& optics, const Legibility& legibility, std::span<const uint32_t> rows,
                   const Stop& stop) {
  const Scene& scene = *optics.scene;
  TwinSearch search(scene, stop);
  Places places(optics, legibility, rows);
  std::vector<Standing> standing;
  for (int32_t frame_index = 0; frame_index < scene.frames.count(); ++frame_index) {
    for (size_t camera = 0; camera < scene.cameras.size(); ++camera) {
      if (!places.Fill(camera, frame_index, stop, standing)) return {};
      search.Look(scene.frames.first + frame_index, standing);
      if (stop.Requested()) return {};
      if (search.nothing_is_nearer()) return search.result();
    }
  }
  return search.result();
}

}  // namespace scantling
