// What a watched shot's totals are told against: a saved plan, or a saved shot, which is planned for it.

#ifndef SCANTLING_CLIENT_COMMAND_WATCH_BASELINE_H_
#define SCANTLING_CLIENT_COMMAND_WATCH_BASELINE_H_

#include <string>

#include "absl/status/statusor.h"
#include "client/library/planner_client.h"

namespace scantling::client {

// The totals in the file of that name: of a plan that `scantling plan --format json` printed; else of the shot in it,
// planned with `options`. Errors as ReadContent and ParseShot (shot_file.h), and those of the daemon; INVALID_ARGUMENT
// where a plan has no totals.
absl::StatusOr<v1::Totals> ReadBaseline(const std::string& name, const v1::PlanOptions& options, PlannerClient& client);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_WATCH_BASELINE_H_
