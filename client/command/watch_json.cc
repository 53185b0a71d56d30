// Idea: the events of the kit with the names of the proto's fields and enums; where a whole message is worth having
// (totals), it is the message's own JSON form.
//
// Texts that are not UTF-8 cannot come: protobuf refuses them, and file names are made printable.

#include "client/command/watch_json.h"

#include "client/command/command.h"
#include "client/library/faults.h"
#include "client/library/utf8.h"
#include "nlohmann/json.hpp"

namespace scantling::client {
namespace {

using Json = nlohmann::ordered_json;

std::string Line(const Json& json) {
  return json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

Json TierOrNull(const DecisionPtr& decision) {
  return decision ? Json(v1::Tier_Name(decision->tier())) : Json(nullptr);
}

Json ChangeJson(const LiveChange& change) {
  const v1::Decision nothing;
  const v1::Decision& before = change.before ? *change.before : nothing;
  const v1::Decision& after = change.after ? *change.after : nothing;
  Json json = {{"object_id", change.object_id},
               {"from", TierOrNull(change.before)},
               {"to", TierOrNull(change.after)},
               {"needed_animation", before.needs_animation()},
               {"needs_animation", after.needs_animation()},
               {"anim_hours_gained", after.anim_hours() - before.anim_hours()},
               {"core_hours_gained", after.core_hours() - before.core_hours()}};
  if (change.after) json["reason"] = v1::Reason_Name(after.reason());
  if (change.after) json["reason_text"] = after.reason_text();
  return json;
}

void AddStatus(const absl::Status& status, Json& json) {
  if (status.ok()) return;
  json["code"] = absl::StatusCodeToString(status.code());
  json["message"] = std::string(status.message());
  if (const auto info = ErrorInfoOf(status)) json["reason"] = info->reason();
  const google::rpc::BadRequest faults = FaultsOf(status);
  for (const auto& fault : faults.field_violations()) {
    json["faults"].push_back({{"field", fault.field()}, {"description", fault.description()}});
  }
}

Json Embedded(const google::protobuf::Message& message) { return Json::parse(JsonLineOf(message), nullptr, false); }

void AddHead(const v1::Update& update, const std::optional<std::chrono::duration<double, std::milli>>& took,
             Json& json) {
  json["state"] = v1::UpdateState_Name(update.state());
  json["revision"] = update.revision();
  if (took) json["milliseconds"] = took->count();
}

const char* StateName(LiveConnection state) {
  switch (state) {
    case LiveConnection::kConnecting:
      return "connecting";
    case LiveConnection::kLive:
      return "live";
    case LiveConnection::kLost:
      return "lost";
    case LiveConnection::kStopped:
      return "stopped";
    case LiveConnection::kClosed:
      return "closed";
  }
  return "unknown";
}

}  // namespace

std::string PlanJson(const LivePlanUpdate& news) {
  Json json = {{"event", news.problem.ok() ? "plan" : "no_plan"}};
  AddHead(news.update, news.took, json);
  AddStatus(news.problem, json);
  if (!news.problem.ok()) return Line(json);
  json["changes"] = Json::array();
  for (const LiveChange& change : news.changes) json["changes"].push_back(ChangeJson(change));
  json["totals"] = Embedded(news.update.summary().totals());
  if (news.update.has_baseline()) json["baseline"] = Embedded(news.update.baseline());
  return Line(json);
}

std::string ProvisionalJson(const LiveProvisional& news) {
  Json json = {{"event", "provisional"}};
  AddHead(news.update, news.took, json);
  json["anim_hours"] = news.update.anim_hours();
  json["core_hours"] = news.update.core_hours();
  json["quick"] = Json::array();
  for (const v1::QuickDecision& quick : news.update.quick()) {
    json["quick"].push_back({{"object_id", quick.object_id()},
                             {"tier", v1::Tier_Name(quick.tier())},
                             {"basis", v1::QuickDecision::Basis_Name(quick.basis())},
                             {"seen", quick.seen()}});
  }
  return Line(json);
}

std::string FileJson(const std::string& state, const std::string& what, const absl::Status& faults) {
  Json json = {{"event", "file"}, {"state", state}};
  if (!what.empty()) json["what"] = what;
  AddStatus(faults, json);
  return Line(json);
}

std::string RefusedJson(const absl::Status& status) {
  Json json = {{"event", "refused"}};
  AddStatus(status, json);
  return Line(json);
}

std::string ConnectionJson(const LiveConnectionChange& change) {
  Json json = {{"event", "connection"}, {"state", StateName(change.state)}};
  if (change.state == LiveConnection::kLive) json["resumed"] = change.resumed;
  AddStatus(change.why, json);
  return Line(json);
}

}  // namespace scantling::client
