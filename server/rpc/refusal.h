// Refusals that are more than a list of faults: their sentence for a person and their figures for a program.

#ifndef SCANTLING_SERVER_RPC_REFUSAL_H_
#define SCANTLING_SERVER_RPC_REFUSAL_H_

#include <map>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "grpcpp/support/status.h"
#include "server/answer/answer.h"
#include "server/planning/plan_shot.h"

namespace scantling {

// A status whose details hold a google.rpc.ErrorInfo of domain "scantling.v1".
grpc::Status Refusal(grpc::StatusCode code, const std::string& message, std::string_view reason,
                     const std::map<std::string, std::string>& metadata);

// INVALID_ARGUMENT, STREAM_ORDER.
grpc::Status StreamOrder(const std::string& message);

// NOT_FOUND, SESSION_UNKNOWN.
grpc::Status SessionUnknown();

// FAILED_PRECONDITION, NO_PLAN_FITS. Metadata, figures as decimal numbers that read back exactly: least_anim_hours,
// least_core_hours, least_other_hours, factor_at_least and, where one was found, fitting_anim_hours,
// fitting_core_hours, fitting_other_hours, fitting_memory_mb; in_the_way (how many), in_the_way_is_irreducible ("true",
// "false"). A google.rpc.PreconditionFailure names what stands in the way, as much of it as a trailer holds: rulings
// and shares of crowds first, then what the style and indirect sight ask of single objects.
grpc::Status NoPlanFitsStatus(const NoPlanFits& no_plan, const Budgets& budgets);

// What PlanShot answered instead of a plan.
grpc::Status PlanRefused(const absl::Status& status, const PlanFaults& faults, const Budgets& budgets);

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_REFUSAL_H_
