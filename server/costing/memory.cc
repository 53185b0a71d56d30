// Memory of frames: per asset and tier the frames in which any of its objects is there, united, hold it once.
//
// What an asset holds at one tier may differ between classes: the greatest counts. Frames come as spans, so a plan's
// memory is a sum of steps: each united span adds its figure at its first frame and takes it away behind its last.

#include <algorithm>
#include <map>
#include <utility>

#include "server/costing/costing.h"
#include "server/costing/work.h"

namespace scantling {
namespace {

// Frames in which an object is seen or cast, replaced ones left out.
FrameSpans PresentFrames(const PricingInput& input, uint32_t row) {
  const std::span<const FrameRange> seen = input.legibility.spans_of(row);
  FrameSpans present(seen.begin(), seen.end());
  const FrameSpans cast = IndirectFrames(input.scene, row);
  return cast.empty() ? present : UniteSpans(present, cast);
}

double MemoryOf(const PricingInput& input, uint32_t row, Tier tier) {
  const Terms terms = TermsOf(input, row);
  return tier == Tier::kOmitted || IsPaintedIn(terms, tier) ? 0 : RateOf(terms, tier).memory_mb;
}

class Steps {
 public:
  explicit Steps(const FrameRange& frames) : first_(frames.first), step_(static_cast<size_t>(frames.count()) + 1, 0) {}

  void Add(const FrameSpans& spans, double memory_mb) {
    for (const FrameRange& span : spans) {
      step_[static_cast<size_t>(span.first - first_)] += memory_mb;
      step_[static_cast<size_t>(span.last - first_) + 1] -= memory_mb;
    }
  }

  std::vector<double> Sums() const {
    std::vector<double> sums(step_.size() - 1);
    double sum = 0;
    for (size_t i = 0; i < sums.size(); ++i) {
      sum += step_[i];
      sums[i] = std::max(sum, 0.0);  // what rounding leaves where nothing is
    }
    return sums;
  }

 private:
  int32_t first_;
  std::vector<double> step_;
};

}  // namespace

std::vector<double> MemoryByFrame(const PricingInput& input, std::span<const Tier> tier) {
  const Objects& objects = input.scene.objects;
  Steps steps(input.scene.frames);
  // By asset, tier and figure: where classes differ, only what is greater is added on top.
  std::map<std::pair<uint32_t, Tier>, std::map<double, std::vector<FrameRange>>> held;
  for (const uint32_t row : objects.canonical) {
    const double memory_mb = MemoryOf(input, row, tier[row]);
    if (memory_mb <= 0) continue;
    const FrameSpans present = PresentFrames(input, row);
    if (present.empty()) continue;
    if (objects.asset[row] == kNone) {
      steps.Add(present, memory_mb);
      continue;
    }
    std::vector<FrameRange>& frames = held[{objects.asset[row], tier[row]}][memory_mb];
    frames.insert(frames.end(), present.begin(), present.end());
  }
  for (const auto& [key, by_figure] : held) {
    // From the greatest down: frames where the greater is held hold no less already.
    FrameSpans covered;
    for (auto it = by_figure.rbegin(); it != by_figure.rend(); ++it) {
      const FrameSpans frames = NormalSpans(it->second);
      steps.Add(SubtractSpans(frames, covered), it->first);
      covered = UniteSpans(covered, frames);
    }
  }
  return steps.Sums();
}

FrameMemory MemoryOfFrame(const PricingInput& input, int32_t frame) {
  const Objects& objects = input.scene.objects;
  FrameMemory memory;
  std::map<std::pair<uint32_t, Tier>, FrameMemory::Holding> held;
  for (uint32_t row = 0; row < objects.size(); ++row) {
    if (!Contains(PresentFrames(input, row), frame)) continue;
    for (const Tier tier : {Tier::kColourPatch, Tier::kProxy, Tier::kFullRig}) {
      const double memory_mb = MemoryOf(input, row, tier);
      if (memory_mb <= 0) continue;
      if (objects.asset[row] == kNone) {
        memory.holdings.push_back({kNone, tier, memory_mb, {row}});
        continue;
      }
      FrameMemory::Holding& holding = held[{objects.asset[row], tier}];
      holding.asset = objects.asset[row];
      holding.tier = tier;
      holding.memory_mb = std::max(holding.memory_mb, memory_mb);
      holding.users.push_back(row);
    }
  }
  for (auto& [key, holding] : held) memory.holdings.push_back(std::move(holding));
  return memory;
}

}  // namespace scantling
