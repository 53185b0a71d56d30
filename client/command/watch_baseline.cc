// Idea: a plan and a shot are both JSON objects with a shot_id, but no shot has decisions, totals or a mode: what reads
// as a plan without a fault, and has one of these, is one. Everything else is read as a shot, whose faults are then
// told.

#include "client/command/watch_baseline.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "client/library/json_check.h"
#include "client/library/shot_file.h"
#include "client/library/utf8.h"
#include "google/protobuf/util/json_util.h"

namespace scantling::client {
namespace {

bool ReadPlan(const std::string& content, v1::Plan& plan) {
  if (!CheckJson(content, *v1::Plan::descriptor()).empty()) return false;
  if (!google::protobuf::util::JsonStringToMessage(content, &plan).ok()) return false;
  return plan.has_totals() || !plan.decisions().empty() || !plan.mode().empty();
}

}  // namespace

absl::StatusOr<v1::Totals> ReadBaseline(const std::string& name, const v1::PlanOptions& options,
                                        PlannerClient& client) {
  const absl::StatusOr<std::string> content = ReadContent(name);
  if (!content.ok()) return content.status();
  const ShotForm form = FormOf(name, *content);
  if (v1::Plan plan; form == ShotForm::kJson && ReadPlan(*content, plan)) {
    if (plan.has_totals()) return plan.totals();
    return absl::InvalidArgumentError(absl::StrCat(Printable(name), ": got a plan without totals, want one with them"));
  }
  absl::StatusOr<v1::Shot> shot = ParseShot(*content, form, name);
  if (!shot.ok()) return shot.status();
  absl::StatusOr<v1::PlanShotResponse> answer = client.Plan(*std::move(shot), options, nullptr);
  if (!answer.ok()) return answer.status();
  return answer->plan().totals();
}

}  // namespace scantling::client
