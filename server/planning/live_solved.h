// What a live shot solved last. Private to live_shot.

#ifndef SCANTLING_SERVER_PLANNING_LIVE_SOLVED_H_
#define SCANTLING_SERVER_PLANNING_LIVE_SOLVED_H_

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "server/planning/findings.h"
#include "server/planning/live_shot.h"

namespace scantling {

struct LiveShot::Solved {
  // Whether there was a plan at all; and whether its choice, costs and solutions still stand in the shot (until
  // Retire() moves them here).
  bool any = false, in_shot = false;
  Choice choice;
  TierCosts costs;
  budget::Solution solution;
  std::array<budget::Solution, kPhiScales> unseen;
  std::optional<budget::WarmSolver> warm;  // of a problem with the rows of `choice`
  std::vector<uint32_t> row_was;           // per present row: its row then; kNone: none
  std::vector<uint8_t> unsolved;           // per present row: 1 where it was measured or sent again since
  std::vector<KnownTwins> twins;           // by crowd, in present rows

  double Price(size_t k) const { return k < solution.price.size() ? solution.price[k] : 0; }
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_LIVE_SOLVED_H_
