// Status codes fall into the five ways the command can end. What the daemon calls FAILED_PRECONDITION is bad input
// unless its reason is NO_PLAN_FITS.
//
// An ErrorInfo says in its metadata how many faults there are and how many of them are listed ("violations", "listed").
// Figures of NO_PLAN_FITS come as metadata too: decimal numbers of hours by name.

#include "client/command/exit_code.h"

#include <cmath>
#include <optional>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_split.h"
#include "client/library/faults.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr char kNoPlanFits[] = "NO_PLAN_FITS";

std::optional<double> HoursOf(const google::rpc::ErrorInfo& info, const char* name) {
  const auto at = info.metadata().find(name);
  double hours = 0;
  if (at == info.metadata().end() || !absl::SimpleAtod(at->second, &hours)) return std::nullopt;
  return hours;
}

// Rounded up to hundredths, so that the budget printed is one that does.
std::string AtLeast(double hours) { return absl::StrFormat("%.2f", std::ceil(hours * 100) / 100); }

std::string SmallestBudgets(const google::rpc::ErrorInfo& info) {
  std::string text;
  const auto anim = HoursOf(info, "least_anim_hours"), core = HoursOf(info, "least_core_hours");
  if (anim) absl::StrAppend(&text, "  alone, with core-hours unlimited:      --anim-hours ", AtLeast(*anim), "\n");
  if (core) absl::StrAppend(&text, "  alone, with animator-hours unlimited:  --core-hours ", AtLeast(*core), "\n");
  const auto both_anim = HoursOf(info, "fitting_anim_hours"), both_core = HoursOf(info, "fitting_core_hours");
  if (both_anim || both_core) {
    absl::StrAppend(&text, "  raised in proportion:                 ");
    if (both_anim) absl::StrAppend(&text, " --anim-hours ", AtLeast(*both_anim));
    if (both_core) absl::StrAppend(&text, " --core-hours ", AtLeast(*both_core));
    absl::StrAppend(&text, "\n");
  }
  return text.empty() ? "" : absl::StrCat("Smallest budgets that would do:\n", text);
}

// An error has room for some faults only; its metadata tells how many there are.
std::string UnlistedFaults(const google::rpc::ErrorInfo& info) {
  const auto all = info.metadata().find("violations"), listed = info.metadata().find("listed");
  int64_t all_count = 0, listed_count = 0;
  if (all == info.metadata().end() || listed == info.metadata().end()) return "";
  if (!absl::SimpleAtoi(all->second, &all_count) || !absl::SimpleAtoi(listed->second, &listed_count)) return "";
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
  const std::string message(status.message());
  for (const absl::string_view line : absl::StrSplit(message, '\n')) {
    absl::StrAppend(&text, Printable({line.data(), line.size()}), "\n");
  }
  const google::rpc::BadRequest faults = FaultsOf(status);
  for (const auto& fault : faults.field_violations()) {
    absl::StrAppend(&text, "  ", Printable(fault.field()), ": ", Printable(fault.description()), "\n");
  }
  const auto info = ErrorInfoOf(status);
  if (info) absl::StrAppend(&text, UnlistedFaults(*info));
  if (info && info->reason() == kNoPlanFits) absl::StrAppend(&text, SmallestBudgets(*info));
  return text;
}

}  // namespace scantling::client
