// Details travel as a serialised google.rpc.Status, which gRPC puts into the trailer grpc-status-details-bin.
//
// Numbers in the sentence are rounded up to a hundredth, so that a budget taken from it still fits; those in the
// metadata are exact.

#include "server/rpc/refusal.h"

#include <charconv>
#include <cmath>
#include <optional>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "server/rpc/convert.h"

namespace scantling {
namespace {

std::string Exact(double value) {
  char text[32];
  const std::to_chars_result end = std::to_chars(text, text + sizeof text, value);
  return std::string(text, end.ptr);
}

std::string RoundedUp(double hours) { return absl::StrFormat("%.2f", std::ceil(hours * 100) / 100); }

// "10 animator-hours and 5.5 core-hours", leaving out what is not given.
std::string Hours(const std::optional<double>& anim, const std::optional<double>& core, std::string (*write)(double)) {
  std::string text;
  if (anim) absl::StrAppend(&text, write(*anim), " animator-hours");
  if (anim && core) absl::StrAppend(&text, " and ");
  if (core) absl::StrAppend(&text, write(*core), " core-hours");
  return text;
}

std::string NoPlanSentence(const NoPlanFits& no_plan, const Budgets& budgets) {
  std::string text = absl::StrCat(
      "no plan fits ", Hours(budgets.anim_hours, budgets.core_hours, Exact), "; what must be made takes at least ",
      Hours(no_plan.least_anim_hours, no_plan.least_core_hours, RoundedUp), ", each on its own");
  if (no_plan.fitting_anim_hours || no_plan.fitting_core_hours) {
    absl::StrAppend(&text, "; a plan was found for ",
                    Hours(no_plan.fitting_anim_hours, no_plan.fitting_core_hours, RoundedUp));
  }
  return text;
}

}  // namespace

grpc::Status Refusal(grpc::StatusCode code, const std::string& message, std::string_view reason,
                     const std::map<std::string, std::string>& metadata) {
  google::rpc::ErrorInfo info;
  info.set_reason(std::string(reason));
  info.set_domain("scantling.v1");
  for (const auto& [key, value] : metadata) (*info.mutable_metadata())[key] = value;
  google::rpc::Status status;
  status.set_code(code);
  status.set_message(message);
  status.add_details()->PackFrom(info);
  return {code, message, status.SerializeAsString()};
}

grpc::Status StreamOrder(const std::string& message) {
  return Refusal(grpc::StatusCode::INVALID_ARGUMENT, message, "STREAM_ORDER", {});
}

grpc::Status NoPlanFitsStatus(const NoPlanFits& no_plan, const Budgets& budgets) {
  std::map<std::string, std::string> metadata = {{"least_anim_hours", Exact(no_plan.least_anim_hours)},
                                                 {"least_core_hours", Exact(no_plan.least_core_hours)},
                                                 {"factor_at_least", Exact(no_plan.factor_at_least)}};
  if (no_plan.fitting_anim_hours) metadata["fitting_anim_hours"] = Exact(*no_plan.fitting_anim_hours);
  if (no_plan.fitting_core_hours) metadata["fitting_core_hours"] = Exact(*no_plan.fitting_core_hours);
  return Refusal(grpc::StatusCode::FAILED_PRECONDITION, NoPlanSentence(no_plan, budgets), "NO_PLAN_FITS", metadata);
}

grpc::Status PlanRefused(const absl::Status& status, const PlanFaults& faults, const Budgets& budgets) {
  if (faults.no_plan) return NoPlanFitsStatus(*faults.no_plan, budgets);
  if (!faults.violations.empty()) return InvalidArgument(faults.violations, "DIRECTIVES_CONTRADICT");
  if (absl::IsInvalidArgument(status)) {
    return Refusal(grpc::StatusCode::INVALID_ARGUMENT, std::string(status.message()), "LIMIT_EXCEEDED", {});
  }
  return ToGrpc(status);
}

}  // namespace scantling
