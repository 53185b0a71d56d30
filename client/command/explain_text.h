// Why one object is what it is, as a person reads it. Pure; thread-safe.

#ifndef SCANTLING_CLIENT_COMMAND_EXPLAIN_TEXT_H_
#define SCANTLING_CLIENT_COMMAND_EXPLAIN_TEXT_H_

#include <string>

#include "client/command/units.h"
#include "scantling/v1/shot_planner.pb.h"

namespace scantling::client {

struct ExplainTextOptions {
  WorkUnit unit = WorkUnit::kHours;
  bool all = false;  // every frame's line instead of some two dozen spread over the shot
};

// Decision, tiers, what would change it, then for each camera a chart and a table of frames. Linear in the frames.
std::string ExplainText(const v1::ExplainDecisionResponse& answer, const ExplainTextOptions& options);

// Its parts; each ends with a line break, and is empty where there is nothing to say.
std::string DecisionText(const v1::Decision& decision, const WorkRates& rates, WorkUnit unit);
std::string HoldsText(const v1::Decision& decision);
std::string TiersText(const v1::Decision& decision);
std::string BySpanText(const v1::Decision& decision);
// `other_department` names the third department's hours in a flip by them.
std::string FlipsText(const v1::Decision& decision, const std::string& other_department = "");
std::string FramesTable(const v1::ExplainDecisionResponse& answer, const std::string& camera_id, bool all);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_EXPLAIN_TEXT_H_
