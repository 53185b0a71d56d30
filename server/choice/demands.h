// Everything somebody asked for that keeps objects from being made cheaper, one by one: what may stand in the way where
// no plan fits.

#ifndef SCANTLING_SERVER_CHOICE_DEMANDS_H_
#define SCANTLING_SERVER_CHOICE_DEMANDS_H_

#include <cstdint>
#include <vector>

#include "server/budget/irreducible.h"
#include "server/choice/choice.h"

namespace scantling {

enum class DemandKind : uint8_t { kDirective, kIndirectSight, kWorstOctaves, kKeepShare, kCoveredShare };

struct ShotDemand {
  DemandKind kind = DemandKind::kDirective;
  uint32_t index = 0;           // a directive; a row of the scene; a crowd
  int32_t cell = 0;             // kCoveredShare
  Tier least = Tier::kOmitted;  // kIndirectSight, kWorstOctaves: what it asks for
  budget::Demand demand;
};

struct ShotDemands {
  budget::Problem rest;  // the choice's problem with no demand left in its masks
  std::vector<ShotDemand> demands;
};

// Demands of the choice's problem, capacities as they are set. Directives that match nothing and figures that ask for
// nothing are left out. O(nodes + matches).
ShotDemands DemandsOf(const ChoiceInput& input, const Choice& choice);

}  // namespace scantling

#endif  // SCANTLING_SERVER_CHOICE_DEMANDS_H_
