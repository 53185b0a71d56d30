// What a watched shot's changes did, as JSON for programs: one object a line, told apart by "event".
//
//   {"event":"plan","state":"FINAL","revision":2,"milliseconds":210.5,"changes":[{"object_id":...,"from":"PROXY",
//    "to":"FULL_RIG","reason":"READ_IN_FULL","needed_animation":false,"needs_animation":true,"anim_hours_gained":12.1,
//    "core_hours_gained":0.4},...],"totals":{...},"baseline":{...}}
//   {"event":"no_plan", ...}   {"event":"provisional", ...}   {"event":"file","state":"changed", ...}
//   {"event":"refused", ...}   {"event":"connection", ...}
//
// "from" is null for a new object, "to" for one that is gone. "totals" is scantling.v1.Totals and "baseline"
// scantling.v1.BaselineChange, field names as in the proto files. Pure; thread-safe; every text ends with a line break.

#ifndef SCANTLING_CLIENT_COMMAND_WATCH_JSON_H_
#define SCANTLING_CLIENT_COMMAND_WATCH_JSON_H_

#include <string>

#include "absl/status/status.h"
#include "client/library/live_events.h"

namespace scantling::client {

std::string PlanJson(const LivePlanUpdate& news);  // or "no_plan", with its faults
std::string ProvisionalJson(const LiveProvisional& news);

// "changed" with what changed in it, "faulty" with its faults, "gone".
std::string FileJson(const std::string& state, const std::string& what, const absl::Status& faults);
std::string RefusedJson(const absl::Status& status);
std::string ConnectionJson(const LiveConnectionChange& change);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_WATCH_JSON_H_
