// Cutting limits in as they are needed.
//
// Room: a problem has at most budget::kMaxResources resources. Where none is left, limits that the last plan did not
// feel (price 0, not met to the full) are taken out again, each once at most, so that the loop ends.

#include "server/planning/shot_solver.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/budget/alike.h"
#include "server/choice/limits.h"
#include "server/planning/prepare.h"

namespace scantling {
namespace {

bool IsOmitted(const PlannedShot& shot, const budget::Solution& solution, uint32_t row) {
  return solution.level[shot.choice.node_of_row[row]] == Index(Tier::kOmitted);
}

std::optional<int64_t> Capacity(const std::optional<double>& hours) {
  if (!hours) return std::nullopt;
  return HoursQuanta(*hours);
}

}  // namespace

// Measured on the demonstration shot with 70% of a budget, before nodes were split on counts: at 1,500 objects 20,000
// visits took 1.8 s and moved the bound in its third digit only after the first 2,000 (0.35 s); at 10,000 objects 200
// visits took 0.2 s and brought the gap of a core-hour budget from 7e-4 to 2.5e-5. So: about two million node visits in
// all, no fewer than 200.
//
// Where costs are shared each visit solves the whole problem: with a memory limit of 80 % on 400 objects seven rounds
// took 13 s without any visit, so there are none.
budget::Effort EffortFor(const budget::Problem& problem, double target_gap) {
  budget::Effort effort;
  effort.target_gap = target_gap;
  effort.branch_nodes = std::clamp<int64_t>(2'000'000 / std::max<int64_t>(problem.size(), 1), 200, 2'000);
  effort.branch_size = 40'000;
  if (!problem.fixed.empty()) effort.branch_nodes = 0;
  return effort;
}

std::vector<Tier> TiersByRow(const Choice& choice, const budget::Solution& solution) {
  std::vector<Tier> tiers(choice.row_of_node.size());
  for (size_t node = 0; node < tiers.size(); ++node) {
    tiers[choice.row_of_node[node]] = static_cast<Tier>(solution.level[node]);
  }
  return tiers;
}

ShotSolver::ShotSolver(PlannedShot& shot, const Stop& stop) : shot_(shot), stop_(stop) {}

absl::StatusOr<budget::Solution> ShotSolver::SolveOnce(const budget::Problem& problem, const SolveWish& wish) const {
  const budget::Effort effort = EffortFor(problem, wish.target_gap);
  if (shot_.choice.group.empty()) return wish.with ? wish.with(problem, effort) : budget::Solve(problem, effort, stop_);
  const absl::StatusOr<budget::Alike> alike = budget::MergeAlike(problem, shot_.choice.group);
  if (!alike.ok()) return alike.status();
  const absl::StatusOr<budget::Solution> merged = budget::Solve(alike->problem, effort, stop_);
  if (!merged.ok()) return merged.status();
  return budget::SpreadAlike(*alike, *merged);
}

void ShotSolver::SetCapacities(const Budgets& budgets) {
  budget::Problem& problem = shot_.choice.problem;
  problem.capacity[kAnimHours] = Capacity(budgets.anim_hours);
  problem.capacity[kCoreHours] = Capacity(budgets.core_hours);
  if (shot_.choice.has_other_hours()) problem.capacity[kOtherHours] = Capacity(budgets.other_hours);
  for (size_t k = 0; k < shot_.choice.resources.size(); ++k) {
    if (shot_.choice.resources[k].kind != LimitKind::kFrameMemory) continue;
    problem.capacity[k] = std::nullopt;
    if (budgets.memory_mb) problem.capacity[k] = MemoryCapacity(*budgets.memory_mb);
  }
}

bool ShotSolver::Has(LimitKind kind, uint32_t crowd, int32_t cell_or_frame) const {
  return std::any_of(shot_.choice.resources.begin(), shot_.choice.resources.end(), [&](const Resource& resource) {
    if (resource.kind != kind || resource.crowd != crowd) return false;
    return kind == LimitKind::kCrowdShare ||
           (kind == LimitKind::kCellCover ? resource.cell : resource.frame) == cell_or_frame;
  });
}

void ShotSolver::FindShortCrowds(const budget::Solution& solution, std::vector<LimitKey>& violated) {
  for (uint32_t crowd = 0; crowd < shot_.scene.crowds.size(); ++crowd) {
    const Crowd& asked = shot_.scene.crowds[crowd];
    if (asked.least_covered_share > 0) FindShortCells(solution, crowd, violated);
    if (asked.keep_share <= 0 || Has(LimitKind::kCrowdShare, crowd, 0)) continue;
    const std::vector<uint32_t> seen = SeenMembers(shot_.legibility, asked);
    const auto omitted =
        std::count_if(seen.begin(), seen.end(), [&](uint32_t row) { return IsOmitted(shot_, solution, row); });
    if (omitted > MayBeOmitted(asked, static_cast<int64_t>(seen.size()))) {
      violated.push_back({LimitKind::kCrowdShare, crowd, 0});
    }
  }
}

void ShotSolver::FindShortCells(const budget::Solution& solution, uint32_t crowd, std::vector<LimitKey>& violated) {
  const Crowd& asked = shot_.scene.crowds[crowd];
  std::vector<CellCover> omitted;
  for (const CellCover& one : shot_.legibility.cell_cover[crowd]) {
    if (IsOmitted(shot_, solution, asked.members[one.member])) omitted.push_back(one);
  }
  for (int32_t cell = 0; cell < asked.columns * asked.rows; ++cell) {
    if (Has(LimitKind::kCellCover, crowd, cell)) continue;
    const int64_t lost = LimitOfCell(asked, cell, omitted).covered;
    if (lost > LimitOfCell(asked, cell, shot_.legibility.cell_cover[crowd]).may_be_omitted) {
      violated.push_back({LimitKind::kCellCover, crowd, cell});
    }
  }
}

// Frames are much alike: the one that needs most is taken and the one that needs most far from it, and what comes of
// them looked at before the next.
void ShotSolver::FindFullestFrames(const budget::Solution& solution, double most_mb,
                                   std::vector<LimitKey>& violated) const {
  const std::vector<double> memory = MemoryByFrame(shot_.pricing(), TiersByRow(shot_.choice, solution));
  const int32_t first = shot_.scene.frames.first, apart = shot_.scene.frames.count() / 6;
  std::optional<int32_t> fullest, second;
  const auto needs = [&](int32_t frame) { return memory[static_cast<size_t>(frame - first)]; };
  const auto is_over = [&](int32_t frame) {
    return needs(frame) > most_mb && !Has(LimitKind::kFrameMemory, kNone, frame);
  };
  for (int32_t frame = first; frame <= shot_.scene.frames.last; ++frame) {
    if (is_over(frame) && (!fullest || needs(frame) > needs(*fullest))) fullest = frame;
  }
  if (!fullest) return;
  violated.push_back({LimitKind::kFrameMemory, kNone, *fullest});
  for (int32_t frame = first; frame <= shot_.scene.frames.last; ++frame) {
    const bool far = frame - *fullest > apart || *fullest - frame > apart;
    if (far && is_over(frame) && (!second || needs(frame) > needs(*second))) second = frame;
  }
  if (second) violated.push_back({LimitKind::kFrameMemory, kNone, *second});
}

std::vector<ShotSolver::LimitKey> ShotSolver::Violated(const budget::Solution& solution, const Budgets& budgets) {
  std::vector<LimitKey> violated;
  FindShortCrowds(solution, violated);
  if (budgets.memory_mb) FindFullestFrames(solution, *budgets.memory_mb, violated);
  return violated;
}

void ShotSolver::Add(const LimitKey& limit, const Budgets& budgets) {
  const auto& [kind, crowd, cell_or_frame] = limit;
  if (kind == LimitKind::kCrowdShare) {
    AddKeepShare(shot_.scene, shot_.legibility, crowd, shot_.choice);
  } else if (kind == LimitKind::kCellCover) {
    AddCellCover(shot_.scene, crowd, cell_or_frame, shot_.legibility.cell_cover[crowd], shot_.choice);
  } else {
    AddFrameMemory(MemoryOfFrame(shot_.pricing(), cell_or_frame), cell_or_frame, *budgets.memory_mb, shot_.choice);
  }
}

void ShotSolver::AddAgain(const std::vector<Resource>& limits) {
  for (const Resource& limit : limits) {
    const bool share = limit.kind == LimitKind::kCrowdShare, cell = limit.kind == LimitKind::kCellCover;
    if ((!share && !cell) || limit.crowd >= shot_.scene.crowds.size()) continue;
    const Crowd& crowd = shot_.scene.crowds[limit.crowd];
    const bool asked =
        share ? crowd.keep_share > 0 : crowd.least_covered_share > 0 && limit.cell < crowd.columns * crowd.rows;
    const bool room = shot_.choice.resources.size() < budget::kMaxResources;
    if (asked && room && !Has(limit.kind, limit.crowd, limit.cell)) Add({limit.kind, limit.crowd, limit.cell}, {});
  }
}

bool ShotSolver::MakeRoom(const budget::Solution& solution) {
  const std::vector<Resource>& resources = shot_.choice.resources;
  std::vector<uint8_t> keep(resources.size(), 1);
  bool any = false;
  for (size_t k = 0; k < resources.size() && k < solution.price.size(); ++k) {
    const Resource& resource = resources[k];
    const bool slack = solution.price[k] == 0 && shot_.choice.problem.capacity[k] &&
                       solution.used[k] < *shot_.choice.problem.capacity[k];
    if (resource.kind <= LimitKind::kOtherHours || !slack) continue;
    const int32_t place = resource.kind == LimitKind::kCellCover ? resource.cell : resource.frame;
    if (!dropped_.insert({resource.kind, resource.crowd, place}).second) continue;
    keep[k] = 0;
    any = true;
  }
  if (any) KeepResources(keep, shot_.choice);
  return any;
}

absl::StatusOr<bool> ShotSolver::AddViolated(const budget::Solution& solution, const Budgets& budgets) {
  const std::vector<LimitKey> violated = Violated(solution, budgets);
  if (violated.empty()) return false;
  const auto room = [this] { return shot_.choice.resources.size() < budget::kMaxResources; };
  bool added = false;
  for (const LimitKey& limit : violated) {
    if (!room() && !added) MakeRoom(solution);
    if (room()) {
      Add(limit, budgets);
      added = true;
    } else if (!added && std::get<0>(limit) != LimitKind::kFrameMemory) {
      return absl::InvalidArgumentError(
          absl::StrCat("more limits of crowds and frames bind at once than a plan can hold: got more than ",
                       budget::kMaxResources, " with the budgets, want fewer crowds with shares or fewer cells"));
    }
  }
  return added;
}

absl::StatusOr<budget::StableSolution> ShotSolver::Solve(const SolveWish& wish) {
  budget::Problem& problem = shot_.choice.problem;
  const auto solve = [&](const budget::Problem& at) { return SolveOnce(at, wish); };
  std::vector<int64_t> losses = LossesAt(shot_.choice, shot_.legibility, wish.phi);
  for (;;) {
    SetCapacities(wish.budgets);
    std::swap(problem.loss, losses);
    absl::StatusOr<budget::StableSolution> found;
    if (wish.earlier != nullptr) {
      found = budget::SolveStable(problem, *wish.earlier, solve);
    } else if (absl::StatusOr<budget::Solution> solved = solve(problem); solved.ok()) {
      found = budget::StableSolution{*solved, *solved};
    } else {
      found = solved.status();
    }
    std::swap(problem.loss, losses);
    if (!found.ok()) return found;
    const absl::StatusOr<bool> more = AddViolated(found->solution, wish.budgets);
    if (!more.ok()) return more.status();
    if (!*more) return found;
    if (absl::Status status = StopStatus(stop_); !status.ok()) return status;
  }
}

}  // namespace scantling
