// The options of a request, checked: how a plan is wanted, or a sweep over plans.

#ifndef SCANTLING_SERVER_RPC_ASKED_H_
#define SCANTLING_SERVER_RPC_ASKED_H_

#include <cstddef>
#include <string_view>

#include "scantling/v1/plan.pb.h"
#include "scantling/v1/shot_planner.pb.h"
#include "server/planning/plan_shot.h"
#include "server/planning/trace_frontier.h"
#include "server/policy/types.h"
#include "server/units/violations.h"

namespace scantling {

struct Asked {
  const Style* style = nullptr;  // of the policy; nullptr: no such style
  PlanRequest plan;              // threads aside

  PlanRequest RequestOn(int threads) const {
    PlanRequest request = plan;
    request.threads = threads;
    return request;
  }

  size_t faults = 0;        // violations found here
  std::string_view reason;  // and what they are called: OPTIONS_INVALID or STYLE_UNKNOWN; empty where none
};

// The style is the options', else the shot's, else the policy's default. Faults go to `violations` with paths in the
// request's terms ("options.anim_hours", "shot.style").
Asked ReadAsked(const v1::PlanOptions& options, std::string_view shot_style, const Policy& policy,
                Violations& violations);

struct AskedFrontier {
  Asked asked;            // faults of the sweep are counted with those of the options
  FrontierRequest sweep;  // threads aside
};

// Options and sweep. Paths of the latter are "along", "points", "most_hours", "least_hours".
AskedFrontier ReadFrontier(const v1::TraceFrontierRequest& request, const Policy& policy, Violations& violations);

// What all the violations of a request together are called: SHOT_INVALID where any is not the options' own.
std::string_view ReasonFor(const Violations& violations, const Asked& asked);

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_ASKED_H_
