// A list of frames is a set, so nothing is said against order or repetition: what is kept is sorted, each frame once.
// What lies outside the shot is refused rather than cut off, for it is nearly always the numbering of another cut.
//
// Nothing is counted before a range is known to lie within the shot: {-2147483648, 2147483647} is a range somebody will
// send, and holds more frames than an int32_t counts.

#include "server/scene/frame_lists.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/faults.h"

namespace scantling {
namespace {

std::string ShotFrames(FrameRange shot) { return absl::StrCat("frames of the shot, ", shot.first, " to ", shot.last); }

bool CheckShares(const Mask& mask, const std::string& here, Violations& violations) {
  bool good = true;
  for (const auto& [name, value] :
       {std::pair{"left", mask.left}, {"top", mask.top}, {"right", mask.right}, {"bottom", mask.bottom}}) {
    if (value >= 0 && value <= 1) continue;
    violations.Add(absl::StrCat(here, ".", name), GotNumber(value, "a share of the picture, 0 to 1"));
    good = false;
  }
  return good;
}

}  // namespace

FrameSpans CheckFrames(std::span<const FrameRange> ranges, FrameRange shot, const std::string& field,
                       Violations& violations) {
  const bool shot_known = shot.count() > 0;
  std::vector<FrameRange> good;
  for (size_t i = 0; i < ranges.size(); ++i) {
    const FrameRange range = ranges[i];
    const bool ordered = range.first <= range.last;
    const bool within = !shot_known || (shot.contains(range.first) && shot.contains(range.last));
    if (ordered && within) {
      if (shot_known) good.push_back(range);
      continue;
    }
    AddFault(
        violations, [&] { return absl::StrCat(field, "[", i, "]"); },
        [&] {
          return absl::StrCat("got ", range.first, " to ", range.last, ", want ",
                              ordered ? ShotFrames(shot) : std::string("last not below first"));
        });
  }
  return NormalSpans(std::move(good));
}

std::vector<int32_t> CheckBeats(std::span<const int32_t> beats, FrameRange shot, const std::string& field,
                                const SceneLimits& limits, Violations& violations) {
  if (beats.size() > limits.beats) {
    violations.Add(field, GotCount(beats.size(), absl::StrCat("at most ", limits.beats)));
    return {};
  }
  if (shot.count() == 0) return {};
  std::vector<int32_t> good;
  for (size_t i = 0; i < beats.size(); ++i) {
    if (shot.contains(beats[i])) {
      good.push_back(beats[i]);
      continue;
    }
    AddFault(
        violations, [&] { return absl::StrCat(field, "[", i, "]"); },
        [&] { return GotInteger(beats[i], ShotFrames(shot)); });
  }
  std::sort(good.begin(), good.end());
  good.erase(std::unique(good.begin(), good.end()), good.end());
  return good;
}

std::vector<Mask> CheckMasks(std::span<const Mask> masks, FrameRange shot, const std::string& path,
                             const SceneLimits& limits, Violations& violations) {
  if (masks.size() > limits.masks) {
    violations.Add(path + ".masks", GotCount(masks.size(), absl::StrCat("at most ", limits.masks)));
    return {};
  }
  std::vector<Mask> checked;
  for (size_t i = 0; i < masks.size(); ++i) {
    Mask mask = masks[i];
    const std::string here = absl::StrCat(path, ".masks[", i, "]");
    const bool shares = CheckShares(mask, here, violations);
    if (shares && !(mask.left < mask.right)) {
      violations.Add(here + ".right", GotNumber(mask.right, absl::StrCat("a number above left (", mask.left, ")")));
    }
    if (shares && !(mask.top < mask.bottom)) {
      violations.Add(here + ".bottom", GotNumber(mask.bottom, absl::StrCat("a number above top (", mask.top, ")")));
    }
    mask.frames = CheckFrames(masks[i].frames, shot, here + ".frames", violations);
    if (masks[i].frames.empty() && shot.count() > 0) mask.frames = {shot};
    checked.push_back(std::move(mask));
  }
  return checked;
}

}  // namespace scantling
