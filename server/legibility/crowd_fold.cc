// Sums by lane, crowd and cell.
//
// A member stays in a cell for many frames, so the cell it was in last is asked first. Sums are brought to whole
// 1024ths of a px at the end: whoever adds up the members of a cell then gets the same sum in whatever order they come.

#include "server/legibility/crowd_fold.h"

#include <algorithm>
#include <cmath>

namespace scantling {
namespace {

constexpr double kCoverParts = 1024;  // of a px

int32_t CellAt(const Crowd& crowd, const CameraView& view, double u_px, double v_px) {
  const auto part = [](double at, double whole, int32_t parts) {
    return static_cast<int32_t>(std::clamp(std::floor(at / whole * parts), 0.0, parts - 1.0));
  };
  return part(v_px, view.height_px, crowd.rows) * crowd.columns + part(u_px, view.width_px, crowd.columns);
}

void Extend(int32_t frame, FrameSpans& spans) {
  if (!spans.empty() && spans.back().last + 1 == frame) {
    spans.back().last = frame;
  } else {
    spans.push_back({frame, frame});
  }
}

}  // namespace

CrowdFold::CrowdFold(const ShotOptics& optics, std::span<const uint32_t> rows) : optics_(optics) {
  if (optics.crowd_places.empty()) return;
  place_.assign(rows.size(), kNone);
  for (size_t lane = 0; lane < rows.size(); ++lane) {
    const auto before = [](const CrowdPlace& place, uint32_t row) { return place.row < row; };
    auto found = std::lower_bound(optics.crowd_places.begin(), optics.crowd_places.end(), rows[lane], before);
    for (; found != optics.crowd_places.end() && found->row == rows[lane]; ++found) {
      if (place_[lane] == kNone) {
        place_[lane] = static_cast<uint32_t>(lanes_.size());
        lanes_.emplace_back();
      }
      if (optics.scene->crowds[found->crowd].columns == 0) continue;
      lanes_.back().members.push_back({found->crowd, found->member, {}, 0});
    }
  }
}

void CrowdFold::AddTo(int32_t cell, double px, Member& member) {
  if (member.last >= member.px.size() || member.px[member.last].first != cell) {
    const auto known =
        std::find_if(member.px.begin(), member.px.end(), [cell](const auto& one) { return one.first == cell; });
    member.last = static_cast<size_t>(known - member.px.begin());
    if (known == member.px.end()) member.px.push_back({cell, 0});
  }
  member.px[member.last].second += px;
}

void CrowdFold::Add(const At& at, const ViewBlock& block, std::span<const uint16_t> picked,
                    std::span<const double> covered_px) {
  const Scene& scene = *optics_.scene;
  const CameraView& view = optics_.views[optics_.at(at.camera, at.frame_index)];
  for (size_t i = 0; i < picked.size(); ++i) {
    const uint16_t picked_lane = picked[i];
    if (place_[picked_lane] == kNone) continue;
    Lane& lane = lanes_[place_[picked_lane]];
    lane.seen = true;
    if (scene.cameras.size() > 1) {
      lane.through.resize(scene.cameras.size());
      Extend(scene.frames.first + at.frame_index, lane.through[at.camera]);
    }
    const double u_px = block.u_px[picked_lane], v_px = block.v_px[picked_lane];
    // Nowhere; or in the overscan alone, where nothing is delivered.
    if (std::isnan(u_px) || std::isnan(v_px) || !(covered_px[i] > 0)) continue;
    for (Member& member : lane.members) {
      AddTo(CellAt(scene.crowds[member.crowd], view, u_px, v_px), covered_px[i], member);
    }
  }
}

std::unique_ptr<CrowdFindings> CrowdFold::Finish(size_t lane) const {
  if (empty() || place_[lane] == kNone || !lanes_[place_[lane]].seen) return nullptr;
  auto found = std::make_unique<CrowdFindings>();
  found->through = lanes_[place_[lane]].through;
  for (const Member& member : lanes_[place_[lane]].members) {
    std::vector<std::pair<int32_t, double>> px = member.px;
    std::sort(px.begin(), px.end());
    for (const auto& [cell, sum] : px) {
      const double whole = std::max(std::round(sum * kCoverParts), 1.0) / kCoverParts;
      found->cover.push_back({member.crowd, {member.member, cell, whole}});
    }
  }
  return found;
}

}  // namespace scantling
