// Where a node's pick changes as all prices are scaled alike.
//
// At factor x level t is worth loss_t + x * q_t, q_t its cost at the solution's prices: a line per level, and the pick
// follows their lower envelope. From the line that wins at x = 1 the next one met to either side is the one whose
// crossing lies nearest.

#include <array>
#include <cmath>

#include "server/budget/budget.h"
#include "server/budget/core.h"

namespace scantling::budget {
namespace {

constexpr double kSameFactor =
    1e-12;  // crossings closer than this are one: their figures carry a few roundings of 1e-16

struct Line {
  double loss = 0, priced_cost = 0;
};

int Winner(const std::array<Line, kLevels>& line, int mask, int held) {
  int best = -1;
  const auto value = [&](int level) { return line[level].loss + line[level].priced_cost; };
  for (int level = 0; level < kLevels; ++level) {
    if (((mask >> level) & 1) == 0) continue;
    if (best < 0 || value(level) < value(best) || (value(level) == value(best) && level == held)) best = level;
  }
  return best;
}

}  // namespace

PriceFlip FlipOf(const Problem& problem, const Solution& solution, int64_t node) {
  std::array<Line, kLevels> line;
  for (int level = 0; level < kLevels; ++level) {
    const int64_t row = node * kLevels + level;
    line[level].loss = static_cast<double>(problem.loss[row]);
    for (int k = 0; k < problem.resources; ++k) {
      line[level].priced_cost += solution.price[k] * static_cast<double>(problem.cost[row * problem.resources + k]);
    }
  }
  const int32_t parent = problem.parent[node];
  const int context = parent < 0 ? kFree : ContextOf(solution.level[parent]);
  const int mask = LevelsIn(SpreadMask(problem.allowed[node]), context);
  PriceFlip flip;
  const int held = Winner(line, mask, solution.level[node]);
  if (held < 0) return flip;
  for (int level = 0; level < kLevels; ++level) {
    if (level == held || ((mask >> level) & 1) == 0) continue;
    const double slope = line[held].priced_cost - line[level].priced_cost;
    if (slope == 0) continue;
    double factor = (line[level].loss - line[held].loss) / slope;
    if (std::fabs(factor - 1) <= kSameFactor) factor = 1;  // level and held tie already
    if (slope > 0 && factor >= 1) {
      const double sooner = flip.dearer_factor ? factor / *flip.dearer_factor - 1 : -1;
      // Where two levels are met at one factor the less costly one wins beyond it.
      const bool beyond = line[level].priced_cost < line[flip.dearer_level].priced_cost;
      if (sooner < -kSameFactor || (sooner <= kSameFactor && beyond)) {
        flip.dearer_factor = factor;
        flip.dearer_level = static_cast<uint8_t>(level);
      }
    } else if (slope < 0 && factor <= 1 && factor > 0) {
      const double nearer = flip.cheaper_factor ? factor / *flip.cheaper_factor - 1 : 1;
      const bool beyond = line[level].priced_cost > line[flip.cheaper_level].priced_cost;
      if (nearer > kSameFactor || (nearer >= -kSameFactor && beyond)) {
        flip.cheaper_factor = factor;
        flip.cheaper_level = static_cast<uint8_t>(level);
      }
    }
  }
  return flip;
}

}  // namespace scantling::budget
