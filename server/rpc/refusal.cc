// Details travel as a serialised google.rpc.Status, which gRPC puts into the trailer grpc-status-details-bin.
//
// Numbers in the sentence are rounded up to a hundredth, so that a budget taken from it still fits; those in the
// metadata are exact.

#include "server/rpc/refusal.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "server/rpc/convert.h"

namespace scantling {
namespace {

// What of a demand the sentence names, and what of it the details hold, in bytes: a
// ruling's reason may be 4096 long.
constexpr size_t kNamed = 3;
constexpr size_t kNamedBytes = 100;
constexpr size_t kSubjectBytes = 256;
constexpr size_t kDescriptionBytes = 512;
constexpr size_t kPackedBytes = 80;  // the type's name and lengths around the packed message: 50 + 30

std::string Exact(double value) {
  char text[32];
  const std::to_chars_result end = std::to_chars(text, text + sizeof text, value);
  return std::string(text, end.ptr);
}

std::string RoundedUp(double hours) { return absl::StrFormat("%.2f", std::ceil(hours * 100) / 100); }

// "10 animator-hours, 5.5 core-hours and 300 MB a frame", leaving out what is not given.
std::string Text(const Budgets& amounts, std::string (*write)(double)) {
  const std::pair<std::optional<double>, absl::string_view> all[] = {
      {amounts.anim_hours, " animator-hours"},
      {amounts.core_hours, " core-hours"},
      {amounts.other_hours, " hours of the third department"},
      {amounts.memory_mb, " MB a frame"},
  };
  std::vector<std::string> given;
  for (const auto& [amount, unit] : all) {
    if (amount) given.push_back(absl::StrCat(write(*amount), unit));
  }
  if (given.empty()) return "";
  const std::string last = given.back();
  given.pop_back();
  return given.empty() ? last : absl::StrCat(absl::StrJoin(given, ", "), " and ", last);
}

// What stands in the way, the first three of it.
std::string InTheWayText(const NoPlanFits& no_plan) {
  const size_t count = no_plan.in_the_way.size();
  if (count == 0) return "";
  std::vector<std::string> named;
  for (size_t i = 0; i < std::min(count, kNamed); ++i) {
    const NoPlanFits::Demand& demand = no_plan.in_the_way[i];
    named.push_back(
        absl::StrCat(Shortened(demand.subject, kNamedBytes), " (", Shortened(demand.description, kNamedBytes), ")"));
  }
  const std::string further = count > kNamed ? absl::StrCat(" and ", count - kNamed, " more") : "";
  return absl::StrCat(count == 1 ? "; in the way stands " : "; in the way stand ", absl::StrJoin(named, ", "), further);
}

std::string NoPlanSentence(const NoPlanFits& no_plan, const Budgets& budgets) {
  const std::string asked = Text(budgets, Exact);
  Budgets least = {no_plan.least_anim_hours, no_plan.least_core_hours};
  if (budgets.other_hours || no_plan.least_other_hours > 0) least.other_hours = no_plan.least_other_hours;
  const std::string fitting = Text(
      {no_plan.fitting_anim_hours, no_plan.fitting_core_hours, no_plan.fitting_other_hours, no_plan.fitting_memory_mb},
      RoundedUp);
  return absl::StrCat("no plan fits", asked.empty() ? "" : " ", asked, "; what must be made takes at least ",
                      Text(least, RoundedUp), ", each on its own", fitting.empty() ? "" : "; a plan was found for ",
                      fitting, InTheWayText(no_plan));
}

// What somebody asked for comes before what the style and indirect sight ask of hundreds of objects.
bool WasAskedFor(const NoPlanFits::Demand& demand) {
  return demand.kind != NoPlanFits::Demand::Kind::kIndirectSight &&
         demand.kind != NoPlanFits::Demand::Kind::kWorstOctaves;
}

const char* TypeOf(NoPlanFits::Demand::Kind kind) {
  switch (kind) {
    case NoPlanFits::Demand::Kind::kDirective:
      return "DIRECTIVE";
    case NoPlanFits::Demand::Kind::kIndirectSight:
      return "INDIRECT_SIGHT";
    case NoPlanFits::Demand::Kind::kWorstOctaves:
      return "WORST_OCTAVES";
    case NoPlanFits::Demand::Kind::kKeepShare:
      return "KEEP_SHARE";
    case NoPlanFits::Demand::Kind::kCoveredShare:
      return "COVERED_SHARE";
  }
  return "";
}

// As many demands as fit into `room` bytes, packed; every entry carries at most 16 bytes of tags and lengths besides
// its texts.
google::rpc::PreconditionFailure FailureOf(const NoPlanFits& no_plan, size_t room) {
  google::rpc::PreconditionFailure failure;
  size_t bytes = kPackedBytes;
  for (const NoPlanFits::Demand& demand : no_plan.in_the_way) {
    const std::string type = TypeOf(demand.kind), subject = Shortened(demand.subject, kSubjectBytes),
                      description = Shortened(demand.description, kDescriptionBytes);
    bytes += type.size() + subject.size() + description.size() + 16;
    if (bytes > room) break;
    google::rpc::PreconditionFailure::Violation& violation = *failure.add_violations();
    violation.set_type(type);
    violation.set_subject(subject);
    violation.set_description(description);
  }
  return failure;
}

google::rpc::Status StatusOf(grpc::StatusCode code, const std::string& message, std::string_view reason,
                             const std::map<std::string, std::string>& metadata) {
  google::rpc::ErrorInfo info;
  info.set_reason(std::string(reason));
  info.set_domain("scantling.v1");
  for (const auto& [key, value] : metadata) (*info.mutable_metadata())[key] = value;
  google::rpc::Status status;
  status.set_code(code);
  status.set_message(message);
  status.add_details()->PackFrom(info);
  return status;
}

}  // namespace

grpc::Status Refusal(grpc::StatusCode code, const std::string& message, std::string_view reason,
                     const std::map<std::string, std::string>& metadata) {
  return {code, message, StatusOf(code, message, reason, metadata).SerializeAsString()};
}

grpc::Status StreamOrder(const std::string& message) {
  return Refusal(grpc::StatusCode::INVALID_ARGUMENT, message, "STREAM_ORDER", {});
}

grpc::Status SessionUnknown() {
  return Refusal(grpc::StatusCode::NOT_FOUND, "there is no such session, or none any more; begin anew",
                 "SESSION_UNKNOWN", {});
}

grpc::Status NoPlanFitsStatus(const NoPlanFits& found, const Budgets& budgets) {
  NoPlanFits no_plan = found;
  std::stable_sort(no_plan.in_the_way.begin(), no_plan.in_the_way.end(),
                   [](const auto& a, const auto& b) { return WasAskedFor(a) > WasAskedFor(b); });
  std::map<std::string, std::string> metadata = {
      {"least_anim_hours", Exact(no_plan.least_anim_hours)},
      {"least_core_hours", Exact(no_plan.least_core_hours)},
      {"least_other_hours", Exact(no_plan.least_other_hours)},
      {"factor_at_least", Exact(no_plan.factor_at_least)},
      {"in_the_way", absl::StrCat(no_plan.in_the_way.size())},
      {"in_the_way_is_irreducible", no_plan.in_the_way_is_irreducible ? "true" : "false"}};
  const auto add = [&metadata](const char* key, const std::optional<double>& figure) {
    if (figure) metadata[key] = Exact(*figure);
  };
  add("fitting_anim_hours", no_plan.fitting_anim_hours);
  add("fitting_core_hours", no_plan.fitting_core_hours);
  add("fitting_other_hours", no_plan.fitting_other_hours);
  add("fitting_memory_mb", no_plan.fitting_memory_mb);
  constexpr grpc::StatusCode kCode = grpc::StatusCode::FAILED_PRECONDITION;
  const std::string message = NoPlanSentence(no_plan, budgets);
  google::rpc::Status status = StatusOf(kCode, message, "NO_PLAN_FITS", metadata);
  const size_t room = DetailRoom(message), taken = status.ByteSizeLong();
  if (taken < room && !no_plan.in_the_way.empty()) status.add_details()->PackFrom(FailureOf(no_plan, room - taken));
  return {kCode, message, status.SerializeAsString()};
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
