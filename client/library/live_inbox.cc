// Idea: a box with one place for each kind of news. Plans merge because LivePlan remembers what was last told; first
// looks merge by object; of progress only the latest counts. Refusals and answers are as many as the caller asked for.
//
// An update is taken in, and put into its place, under one lock, so that a plan is never told with the changes of the
// next one. Pump does not wait for that lock.

#include "client/library/live_inbox.h"

#include <map>
#include <string>

#include "absl/strings/cord.h"
#include "client/library/faults.h"

namespace scantling::client {
namespace {

// Comings and goings of a connection that are kept; older ones tell nothing any more.
constexpr size_t kMostConnectionChanges = 16;

// Quick decisions of `older` whose objects `newer` does not name, before those of `newer`.
void AddOlder(const v1::Update& older, v1::Update& newer) {
  std::map<std::string, v1::QuickDecision> quick;
  for (const v1::QuickDecision& one : older.quick()) quick[one.object_id()] = one;
  for (const v1::QuickDecision& one : newer.quick()) quick[one.object_id()] = one;
  newer.clear_quick();
  for (auto& [id, one] : quick) newer.add_quick()->Swap(&one);
}

}  // namespace

absl::Status StatusFromRpc(const google::rpc::Status& status) {
  absl::Status out(static_cast<absl::StatusCode>(status.code()), status.message());
  for (const auto& detail : status.details()) out.SetPayload(detail.type_url(), absl::Cord(detail.value()));
  return out;
}

void LiveInbox::TakeUpdate(v1::Update part, Took took) {
  const std::lock_guard plan_lock(plan_mutex_);
  const LivePlan::Taken taken = plan_.Take(std::move(part));
  const v1::Update& update = plan_.last();
  if (taken == LivePlan::Taken::kPart || update.revision() == 0) return;
  const std::lock_guard lock(mutex_);
  if (taken == LivePlan::Taken::kProvisional) {
    LiveProvisional look = {update, took};
    if (mail_.provisional) AddOlder(mail_.provisional->update, look.update);
    mail_.provisional = std::move(look);
  } else {
    LivePlanUpdate plan = {update, {}, absl::OkStatus(), took};
    if (update.has_problem()) plan.problem = StatusFromRpc(update.problem());
    if (mail_.provisional && mail_.provisional->update.revision() <= update.revision()) mail_.provisional.reset();
    mail_.plan = std::move(plan);
  }
  TellNews();
}

void LiveInbox::StreamBroke() {
  const std::lock_guard lock(plan_mutex_);
  plan_.DropPartial();
}

void LiveInbox::SessionBeginsAnew() {
  const std::lock_guard lock(plan_mutex_);
  plan_.BeginAnew();
}

void LiveInbox::Put(LiveRefusal refusal) {
  const std::lock_guard lock(mutex_);
  mail_.refusals.push_back(std::move(refusal));
  TellNews();
}

void LiveInbox::Put(v1::AssemblyProgress progress) {
  const std::lock_guard lock(mutex_);
  mail_.progress = std::move(progress);
  TellNews();
}

void LiveInbox::Put(LiveConnectionChange change) {
  const std::lock_guard lock(mutex_);
  mail_.connection.push_back(std::move(change));
  if (mail_.connection.size() > kMostConnectionChanges) mail_.connection.pop_front();
  TellNews();
}

void LiveInbox::Answer(WhatIfCall call, absl::StatusOr<v1::WhatIfAnswer> answer) {
  const std::lock_guard lock(mutex_);
  mail_.answers.emplace_back(std::move(call), std::move(answer));
  TellNews();
}

bool LiveInbox::HasMail() const {
  return mail_.plan || mail_.provisional || mail_.progress || !mail_.refusals.empty() || !mail_.connection.empty() ||
         !mail_.answers.empty();
}

void LiveInbox::TellNews() {
  has_mail_.notify_all();
  if (wake_) wake_();
}

int LiveInbox::Pump(const LiveListener& listener) {
  Mail mail;
  {
    const std::unique_lock plan_lock(plan_mutex_, std::try_to_lock);
    if (!plan_lock.owns_lock()) return 0;
    {
      const std::lock_guard lock(mutex_);
      std::swap(mail, mail_);
    }
    if (mail.plan) mail.plan->changes = plan_.TakeChanges();
  }
  return Deliver(mail, listener);
}

int LiveInbox::Deliver(const Mail& mail, const LiveListener& listener) const {
  int calls = 0;
  const auto tell = [&calls](const auto& call, const auto& news) {
    if (!call) return;
    call(news);
    ++calls;
  };
  for (const LiveConnectionChange& change : mail.connection) tell(listener.connection, change);
  for (const LiveRefusal& refusal : mail.refusals) tell(listener.refusal, refusal);
  if (mail.plan) tell(listener.plan, *mail.plan);
  if (mail.provisional) tell(listener.provisional, *mail.provisional);
  for (const auto& [call, answer] : mail.answers) tell(call, answer);
  if (mail.progress) tell(listener.progress, *mail.progress);
  return calls;
}

bool LiveInbox::Wait(std::chrono::milliseconds patience) {
  std::unique_lock lock(mutex_);
  return has_mail_.wait_for(lock, patience, [this] { return HasMail(); });
}

v1::Plan LiveInbox::plan() const {
  const std::lock_guard lock(plan_mutex_);
  return plan_.plan();
}

v1::Totals LiveInbox::totals() const {
  const std::lock_guard lock(plan_mutex_);
  return plan_.summary().totals();
}

int64_t LiveInbox::update_number() const {
  const std::lock_guard lock(plan_mutex_);
  return plan_.number();
}

std::optional<int64_t> LiveInbox::final_revision() const {
  const std::lock_guard lock(plan_mutex_);
  if (!plan_.is_final()) return std::nullopt;
  return plan_.revision();
}

}  // namespace scantling::client
