// Memory of frames: per asset and tier, the frames in which any of its objects is there, united, hold it once.
//
// Frames come as spans, so what a plan holds is a sum of steps: each united span adds its figure at its first frame and
// takes it away behind its last. That costs by spans, not by frames. What an asset holds at one tier may differ between
// classes: the greatest counts, so the united spans of the greatest are laid down first and every lesser figure only in
// frames that are still free.
//
// One frame as a limit on a plan is not known to hold this class or that, only what any of them would add: the least
// figure is held by whoever uses the asset, and each greater one adds its difference where one of its own users is
// there. For every plan these add up to what MemoryByFrame says of the frame.
//
// Figures count in whole thousandths of a MB, as budgets of memory do (choice/). Doubles hold such sums exactly up to
// 9e12 MB, so neither the order of objects nor of assets changes a digit, and where nothing is held nothing is left.

#include <algorithm>
#include <cmath>
#include <unordered_map>
#include <utility>

#include "server/costing/costing.h"
#include "server/costing/work.h"

namespace scantling {
namespace {

constexpr double kStepsPerMb = 1000;

double MemorySteps(const Terms& terms, Tier tier) {
  if (tier == Tier::kOmitted || IsPaintedIn(terms, tier)) return 0;
  return std::round(RateOf(terms, tier).memory_mb * kStepsPerMb);
}

bool Has(std::span<const FrameRange> spans, int32_t frame) {
  const auto at =
      std::partition_point(spans.begin(), spans.end(), [frame](const FrameRange& span) { return span.last < frame; });
  return at != spans.end() && at->first <= frame;
}

bool IsPresent(const PricingInput& input, uint32_t row, int32_t frame) {
  return Has(input.legibility.spans_of(row), frame) || Contains(IndirectFrames(input.scene, row), frame);
}

class StepSum {
 public:
  explicit StepSum(const FrameRange& frames)
      : first_(frames.first), step_(static_cast<size_t>(frames.count()) + 1, 0) {}

  void Add(std::span<const FrameRange> spans, double steps) {
    for (const FrameRange& span : spans) {
      step_[static_cast<size_t>(span.first - first_)] += steps;
      step_[static_cast<size_t>(span.last - first_) + 1] -= steps;
    }
  }

  std::vector<double> ByFrame() const {
    std::vector<double> memory_mb(step_.size() - 1);
    double sum = 0;
    for (size_t i = 0; i < memory_mb.size(); ++i) memory_mb[i] = (sum += step_[i]) / kStepsPerMb;
    return memory_mb;
  }

 private:
  int32_t first_;
  std::vector<double> step_;
};

// One span of one object of an asset.
struct Piece {
  uint32_t asset = 0;
  Tier tier = Tier::kFullRig;
  double steps = 0;
  FrameRange frames;

  bool is_held_with(const Piece& other) const { return asset == other.asset && tier == other.tier; }
};

bool Precedes(const Piece& a, const Piece& b) {
  if (a.asset != b.asset) return a.asset < b.asset;
  if (a.tier != b.tier) return a.tier < b.tier;
  return a.steps > b.steps;
}

// Pieces of one asset at one tier, from the greatest figure down.
void AddUnited(std::span<const Piece> pieces, StepSum& sum) {
  FrameSpans covered;
  for (size_t begin = 0; begin < pieces.size();) {
    std::vector<FrameRange> ranges;
    size_t end = begin;
    for (; end < pieces.size() && pieces[end].steps == pieces[begin].steps; ++end) ranges.push_back(pieces[end].frames);
    const FrameSpans frames = NormalSpans(std::move(ranges));
    sum.Add(SubtractSpans(frames, covered), pieces[begin].steps);
    covered = UniteSpans(covered, frames);
    begin = end;
  }
}

// Those in the frame who would need the asset at the tier, and how much.
struct Needs {
  uint32_t asset = kNone;
  Tier tier = Tier::kFullRig;
  std::vector<std::pair<double, uint32_t>> steps_of_row;  // rows in canonical order
};

// The least figure for all, what is more for those who need it.
void AddHoldings(const Needs& needs, FrameMemory& memory) {
  std::vector<double> figures;
  for (const auto& [steps, row] : needs.steps_of_row) figures.push_back(steps);
  std::sort(figures.begin(), figures.end());
  figures.erase(std::unique(figures.begin(), figures.end()), figures.end());
  double below = 0;
  for (const double figure : figures) {
    FrameMemory::Holding holding = {needs.asset, needs.tier, (figure - below) / kStepsPerMb, {}};
    for (const auto& [steps, row] : needs.steps_of_row) {
      if (steps >= figure) holding.users.push_back(row);
    }
    memory.holdings.push_back(std::move(holding));
    below = figure;
  }
}

}  // namespace

std::vector<double> MemoryByFrame(const PricingInput& input, std::span<const Tier> tier) {
  const Objects& objects = input.scene.objects;
  StepSum sum(input.scene.frames);
  std::vector<Piece> pieces;
  for (uint32_t row = 0; row < objects.size(); ++row) {
    const double steps = MemorySteps(TermsOf(input, row), tier[row]);
    if (steps <= 0) continue;
    std::span<const FrameRange> present = input.legibility.spans_of(row);
    FrameSpans with_cast;
    if (FrameSpans cast = IndirectFrames(input.scene, row); !cast.empty()) {
      present = with_cast = UniteSpans({present.begin(), present.end()}, cast);
    }
    if (objects.asset[row] == kNone) {
      sum.Add(present, steps);
    } else {
      for (const FrameRange& span : present) pieces.push_back({objects.asset[row], tier[row], steps, span});
    }
  }
  std::sort(pieces.begin(), pieces.end(), Precedes);
  for (size_t begin = 0; begin < pieces.size();) {
    size_t end = begin + 1;
    while (end < pieces.size() && pieces[end].is_held_with(pieces[begin])) ++end;
    AddUnited(std::span(pieces).subspan(begin, end - begin), sum);
    begin = end;
  }
  return sum.ByFrame();
}

FrameMemory MemoryOfFrame(const PricingInput& input, int32_t frame) {
  const Objects& objects = input.scene.objects;
  std::vector<Needs> all;
  std::unordered_map<uint64_t, size_t> place;  // of an asset at a tier
  for (const uint32_t row : objects.canonical) {
    if (!IsPresent(input, row, frame)) continue;
    const Terms terms = TermsOf(input, row);
    const uint32_t asset = objects.asset[row];
    for (const Tier tier : {Tier::kColourPatch, Tier::kProxy, Tier::kFullRig}) {
      const double steps = MemorySteps(terms, tier);
      if (steps <= 0) continue;
      size_t at = all.size();
      if (asset != kNone) {
        at = place.try_emplace(uint64_t{asset} * kTierCount + static_cast<uint64_t>(Index(tier)), at).first->second;
      }
      if (at == all.size()) all.push_back({asset, tier, {}});
      all[at].steps_of_row.emplace_back(steps, row);
    }
  }
  FrameMemory memory;
  for (const Needs& needs : all) AddHoldings(needs, memory);
  return memory;
}

}  // namespace scantling
