// Status codes fall into the five ways the command can end. What the daemon calls FAILED_PRECONDITION is bad input
// unless its reason is NO_PLAN_FITS.
//
// An ErrorInfo says in its metadata how many faults there are and how many of them are listed ("violations", "listed").
// Figures of NO_PLAN_FITS come as metadata too: decimal numbers of hours and MB by name. What stands in the way comes
// as a google.rpc.PreconditionFailure. Its sentence repeats them in its later clauses, so only the first is printed.

#include "client/command/exit_code.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "absl/strings/cord.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_split.h"
#include "client/library/faults.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr char kNoPlanFits[] = "NO_PLAN_FITS";
constexpr char kPreconditionUrl[] = "type.googleapis.com/google.rpc.PreconditionFailure";
// Lines of what stands in the way.
constexpr int64_t kShownInTheWay = 10;

std::optional<double> HoursOf(const google::rpc::ErrorInfo& info, const char* name) {
  const auto at = info.metadata().find(name);
  double hours = 0;
  if (at == info.metadata().end() || !absl::SimpleAtod(at->second, &hours)) return std::nullopt;
  return hours;
}

// Rounded up to hundredths, so that the budget printed is one that does.
std::string AtLeast(double hours) { return absl::StrFormat("%.2f", std::ceil(hours * 100) / 100); }

// Of one budget: where its figures stand in the metadata, and the option that sets it.
struct BudgetKeys {
  const char* least;    // on its own, with the others unlimited
  const char* fitting;  // together with the others; there only where it was limited
  const char* option;
};
constexpr BudgetKeys kBudgets[] = {{"least_anim_hours", "fitting_anim_hours", " --anim-hours "},
                                   {"least_core_hours", "fitting_core_hours", " --core-hours "},
                                   {"least_other_hours", "fitting_other_hours", " --other-hours "},
                                   {"least_memory_mb", "fitting_memory_mb", " --memory-mb "}};

std::string SmallestBudgets(const google::rpc::ErrorInfo& info) {
  std::string alone, together;
  int limited = 0;
  for (const BudgetKeys& budget : kBudgets) {
    const auto fitting = HoursOf(info, budget.fitting);
    if (!fitting) continue;
    ++limited;
    absl::StrAppend(&together, budget.option, AtLeast(*fitting));
  }
  for (const BudgetKeys& budget : kBudgets) {
    const auto least = HoursOf(info, budget.least);
    if (!least || (limited > 0 && !HoursOf(info, budget.fitting))) continue;
    if (*least == 0) continue;  // none of it must be spent
    absl::StrAppend(&alone, "  alone, with the others unlimited: ", budget.option, AtLeast(*least), "\n");
  }
  if (limited == 1) return absl::StrCat("Smallest budget that would do:", together, "\n");
  if (limited > 1) absl::StrAppend(&alone, "  raised in proportion:             ", together, "\n");
  return alone.empty() ? "" : absl::StrCat("Smallest budgets that would do:\n", alone);
}

int64_t CountOf(const google::rpc::ErrorInfo& info, const char* name, int64_t otherwise) {
  const auto at = info.metadata().find(name);
  int64_t count = 0;
  return at != info.metadata().end() && absl::SimpleAtoi(at->second, &count) ? count : otherwise;
}

std::string InTheWay(const absl::Status& status, const google::rpc::ErrorInfo& info) {
  const absl::optional<absl::Cord> payload = status.GetPayload(kPreconditionUrl);
  google::rpc::PreconditionFailure failure;
  if (!payload || !failure.ParseFromString(std::string(*payload)) || failure.violations().empty()) return "";
  const auto proved = info.metadata().find("in_the_way_is_irreducible");
  const bool is_irreducible = proved != info.metadata().end() && proved->second == "true";
  std::string text = is_irreducible ? "In the way, all of it together (without any one of these a plan fits):\n"
                                    : "In the way (perhaps less of it would be enough):\n";
  const int64_t all = std::max<int64_t>(CountOf(info, "in_the_way", 0), failure.violations_size());
  const int64_t shown = std::min<int64_t>(failure.violations_size(), kShownInTheWay);
  for (int64_t i = 0; i < shown; ++i) {
    const auto& one = failure.violations(static_cast<int>(i));
    absl::StrAppend(&text, "  ", Printable(one.subject()), ": ", Printable(one.description()), "\n");
  }
  if (all > shown) absl::StrAppend(&text, "  and ", all - shown, " more\n");
  return text;
}

// What NO_PLAN_FITS tells besides its sentence.
std::string NoPlanText(const absl::Status& status, const google::rpc::ErrorInfo& info) {
  return InTheWay(status, info) + SmallestBudgets(info);
}

// An error has room for some faults only; its metadata tells how many there are.
std::string UnlistedFaults(const google::rpc::ErrorInfo& info) {
  const int64_t all_count = CountOf(info, "violations", 0), listed_count = CountOf(info, "listed", all_count);
  if (all_count <= listed_count) return "";
  return absl::StrCat("  and ", all_count - listed_count, " more; scantling check lists them\n");
}

}  // namespace

ExitCode ExitCodeOf(const absl::Status& status) {
  switch (status.code()) {
    case absl::StatusCode::kOk:
      return ExitCode::kDone;
    case absl::StatusCode::kUnavailable:
    case absl::StatusCode::kDeadlineExceeded:
    case absl::StatusCode::kUnimplemented:  // somebody else answers there
      return ExitCode::kUnreachable;
    case absl::StatusCode::kFailedPrecondition: {
      const auto info = ErrorInfoOf(status);
      return info && info->reason() == kNoPlanFits ? ExitCode::kNoPlanFits : ExitCode::kBadInput;
    }
    case absl::StatusCode::kInvalidArgument:
    case absl::StatusCode::kNotFound:
    case absl::StatusCode::kPermissionDenied:
    case absl::StatusCode::kOutOfRange:
    case absl::StatusCode::kResourceExhausted:
      return ExitCode::kBadInput;
    default:
      return ExitCode::kFault;
  }
}

std::string FailureText(const absl::Status& status) {
  std::string text = "scantling: ";
  const auto info = ErrorInfoOf(status);
  const std::string no_plan = info && info->reason() == kNoPlanFits ? NoPlanText(status, *info) : "";
  std::string message(status.message());
  if (!no_plan.empty()) message = message.substr(0, message.find("; "));
  for (const absl::string_view line : absl::StrSplit(message, '\n')) {
    absl::StrAppend(&text, Printable({line.data(), line.size()}), "\n");
  }
  const google::rpc::BadRequest faults = FaultsOf(status);
  for (const auto& fault : faults.field_violations()) {
    absl::StrAppend(&text, "  ", Printable(fault.field()), ": ", Printable(fault.description()), "\n");
  }
  if (info) absl::StrAppend(&text, UnlistedFaults(*info));
  return text + no_plan;
}

}  // namespace scantling::client
