// Budgets that only some shots have, each a resource of its own: enough of a crowd, enough of a cell of the picture,
// the memory of one frame. Added to a problem one by one, as they turn out to be needed (planning/).
//
// A crowd's share counts what is OMITTED: each seen member costs 1 at OMITTED, and seen - ceil(share * seen) may be
// spent. A cell's cover likewise, in visible px. Such costs rise as the tier falls.

#ifndef SCANTLING_SERVER_CHOICE_LIMITS_H_
#define SCANTLING_SERVER_CHOICE_LIMITS_H_

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "server/budget/budget.h"
#include "server/choice/choice.h"
#include "server/costing/costing.h"
#include "server/legibility/crowds.h"
#include "server/scene/scene.h"

namespace scantling {

// Members of a crowd that are seen in the shot; rows, rising. O(members).
std::vector<uint32_t> SeenMembers(const Legibility& legibility, const Crowd& crowd);

// How many of `seen` may be OMITTED.
int64_t MayBeOmitted(const Crowd& crowd, int64_t seen);

// What a cell's members cover and how much of that may be OMITTED, in kCoverQuantum.
struct CellLimit {
  int64_t covered = 0, may_be_omitted = 0;
};
CellLimit LimitOfCell(const Crowd& crowd, int32_t cell, std::span<const CellCover> cover);

// Most memory of a frame in kMemoryQuantum.
int64_t MemoryCapacity(double most_mb);

// Each adds one resource with its capacity. They want room: problem.resources < budget::kMaxResources. O(nodes).
void AddKeepShare(const Scene& scene, const Legibility& legibility, uint32_t crowd, Choice& choice);
void AddCellCover(const Scene& scene, uint32_t crowd, int32_t cell, std::span<const CellCover> cover, Choice& choice);
// An asset that several users hold becomes a fixed cost (behind those of Choice::shared).
void AddFrameMemory(const FrameMemory& memory, int32_t frame, double most_mb, Choice& choice);

// Takes the resources with `keep[k]` 0 out again; the hours' always stay. Their fixed costs go too. O(nodes).
void KeepResources(std::span<const uint8_t> keep, Choice& choice);

}  // namespace scantling

#endif  // SCANTLING_SERVER_CHOICE_LIMITS_H_
