// A plan's decisions as CSV: one record per object under a header of stable column names that carry their units.

#ifndef SCANTLING_CLIENT_COMMAND_PLAN_CSV_H_
#define SCANTLING_CLIENT_COMMAND_PLAN_CSV_H_

#include <string>

#include "scantling/v1/plan.pb.h"

namespace scantling::client {

// Header and records in the order of the plan's decisions. Texts are FormulaSafe unless `raw_text`. Frames are ranges
// "first-last" with blanks between. Columns are only ever added, at the end. Linear; thread-safe.
std::string PlanCsv(const v1::Plan& plan, bool raw_text);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_PLAN_CSV_H_
