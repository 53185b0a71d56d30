// What more or less of a budget would lose: the stages up to choice once, then many budgets.

#ifndef SCANTLING_SERVER_PLANNING_TRACE_FRONTIER_H_
#define SCANTLING_SERVER_PLANNING_TRACE_FRONTIER_H_

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "server/planning/plan_shot.h"

namespace scantling {

enum class Along : uint8_t { kAnimHours, kCoreHours, kOtherHours, kBoth };

struct FrontierRequest {
  PlanRequest plan;  // limits that are not swept stay; `earlier` is not kept to
  Along along = Along::kAnimHours;
  int32_t points = 32;                            // 2..kMostFrontierPoints
  std::optional<double> most_hours, least_hours;  // ends of the sweep, least < most; not with kBoth. See .proto
};
inline constexpr int32_t kMostFrontierPoints = 1024;

struct FrontierPoint {
  int32_t index = 0;  // from 0, the loosest
  Budgets limits;
  bool fits = false;                            // the rest holds only where it does
  double loss = 0, loss_bound = 0, gap = 0;     // frame-octaves
  std::array<double, 3> used = {}, price = {};  // animation, core, other hours; fall in loss per further hour
  double price_per_step = 0;                    // fall in loss to the next looser point's limits, at these prices
  std::array<int64_t, kTierCount> count = {};   // by tier
  int64_t needs_animation = 0;
};

struct Frontier {
  std::string shot_id, style;
  std::vector<FrontierPoint> points;
  std::optional<int32_t> knee;          // see KneeOf
  std::optional<Budgets> nothing_lost;  // least limits at which nothing visible is lost any more
  std::vector<StageClock> clocks;
};

// The looser of two neighbouring points that fit between which price_per_step drops most as the budget grows; the
// loosest of equals. nullopt where no two neighbours fit or no step drops. Pure.
std::optional<int32_t> KneeOf(const std::vector<FrontierPoint>& points);

// Called for every point as soon as it is found, in order.
using PointSink = std::function<void(const FrontierPoint&)>;

// Errors as PlanShot, but that points at which nothing fits are points. OUT_OF_RANGE where the sweep's ends are the
// wrong way round; FAILED_PRECONDITION where the rate card lacks the department swept over. Obeys the stop within 50
// ms.
absl::StatusOr<Frontier> TraceShotFrontier(Scene scene, const PlanContext& context, const FrontierRequest& request,
                                           const PointSink& sink, PlanFaults& faults);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_TRACE_FRONTIER_H_
