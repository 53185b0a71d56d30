// The decisions of an earlier plan, read from what `scantling plan` printed.

#ifndef SCANTLING_CLIENT_COMMAND_EARLIER_PLAN_H_
#define SCANTLING_CLIENT_COMMAND_EARLIER_PLAN_H_

#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "google/protobuf/repeated_ptr_field.h"
#include "scantling/v1/plan.pb.h"

namespace scantling::client {

using EarlierDecisions = google::protobuf::RepeatedPtrField<v1::EarlierDecision>;

// Faults that are listed one by one; the rest is counted.
inline constexpr size_t kMostEarlierFaults = 20;

// Decisions in the order of `content`, which is JSON (scantling.v1.Plan) where its first character that is no blank is
// "{", else a table with a heading that names the columns object_id and tier; others are passed over. An apostrophe
// before what a spreadsheet would run is taken off again (csv.h puts it there). `name` is what faults call the content.
// INVALID_ARGUMENT with every fault, each with "name:line" in its field: what is no JSON or no such table, a decision
// without an object or a tier, an object named twice, no decisions at all. Linear; thread-safe.
absl::StatusOr<EarlierDecisions> ParseEarlier(std::string_view content, std::string_view name);

// The same from the file of that name. Errors also as ReadContent (shot_file.h).
absl::StatusOr<EarlierDecisions> ReadEarlier(const std::string& name);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_EARLIER_PLAN_H_
