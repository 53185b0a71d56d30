// Idea: decisions by id, shared with whoever was told of them. Beside them stands, for every id that an update spoke of
// since the reader last looked, the decision of that time: a reader who looks seldom gets one merged change and nothing
// queues up.

#include "client/library/live_state.h"

#include <utility>

namespace scantling::client {
namespace {

bool Same(const DecisionPtr& a, const DecisionPtr& b) {
  if (a == b) return true;
  return a && b && a->SerializeAsString() == b->SerializeAsString();
}

// The lists of `part` behind those of `whole`; all else as in `part`, but that the first message says `anew`.
v1::Update Joined(v1::Update whole, v1::Update part) {
  const bool anew = whole.anew();
  for (std::string& id : *part.mutable_gone_ids()) whole.mutable_gone_ids()->Add(std::move(id));
  for (v1::Decision& decision : *part.mutable_decisions()) whole.add_decisions()->Swap(&decision);
  for (v1::QuickDecision& quick : *part.mutable_quick()) whole.add_quick()->Swap(&quick);
  part.mutable_gone_ids()->Swap(whole.mutable_gone_ids());
  part.mutable_decisions()->Swap(whole.mutable_decisions());
  part.mutable_quick()->Swap(whole.mutable_quick());
  part.set_anew(anew);
  return part;
}

}  // namespace

LivePlan::Taken LivePlan::Take(v1::Update part) {
  v1::Update update = partial_ ? Joined(*std::move(partial_), std::move(part)) : std::move(part);
  partial_.reset();
  if (update.continues()) {
    partial_ = std::move(update);
    return Taken::kPart;
  }
  return TakeWhole(std::move(update));
}

LivePlan::Taken LivePlan::TakeWhole(v1::Update update) {
  if (update.state() == v1::PROVISIONAL) {
    is_final_ = is_final_ && update.revision() <= revision_;
    last_ = std::move(update);
    return Taken::kProvisional;
  }
  const bool is_first = std::exchange(forget_first_, false);
  if (update.anew() || is_first) Forget();
  for (const std::string& id : update.gone_ids()) Set(id, nullptr);
  for (v1::Decision& decision : *update.mutable_decisions()) {
    auto own = std::make_shared<v1::Decision>();
    own->Swap(&decision);
    const std::string& id = own->object_id();
    Set(id, std::move(own));
  }
  update.clear_decisions();
  if (update.number() > 0) number_ = update.number();
  revision_ = update.revision();
  const bool has_problem = update.has_problem();
  is_final_ = !has_problem && update.state() == v1::FINAL;
  has_plan_ = has_plan_ || !has_problem;
  if (!has_problem) summary_ = update.summary();
  last_ = std::move(update);
  return has_problem ? Taken::kProblem : Taken::kPlan;
}

void LivePlan::BeginAnew() {
  partial_.reset();
  number_ = 0;
  revision_ = 0;
  is_final_ = false;
  forget_first_ = true;
}

void LivePlan::Forget() {
  for (auto& [id, decision] : decisions_) touched_.try_emplace(id, std::move(decision));
  decisions_.clear();
}

void LivePlan::Set(const std::string& object_id, DecisionPtr decision) {
  const auto known = decisions_.find(object_id);
  touched_.try_emplace(object_id, known == decisions_.end() ? nullptr : known->second);
  if (decision) {
    decisions_[object_id] = std::move(decision);
  } else if (known != decisions_.end()) {
    decisions_.erase(known);
  }
}

DecisionPtr LivePlan::Find(const std::string& object_id) const {
  const auto known = decisions_.find(object_id);
  return known == decisions_.end() ? nullptr : known->second;
}

v1::Plan LivePlan::plan() const {
  v1::Plan plan = summary_;
  for (const auto& [id, decision] : decisions_) *plan.add_decisions() = *decision;
  return plan;
}

std::vector<LiveChange> LivePlan::TakeChanges() {
  std::vector<LiveChange> changes;
  for (auto& [id, before] : std::exchange(touched_, {})) {
    DecisionPtr after = Find(id);
    if (!Same(before, after)) changes.push_back({id, before, std::move(after)});
  }
  return changes;
}

}  // namespace scantling::client
