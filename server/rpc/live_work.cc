// What the strand does with the shot: looks, settles, answers what-ifs, finishes, and publishes what changed.
//
// Publishing. A decision is written out again where its object was measured or sent again, or where its signature
// changed: a hash of everything else its message is made of. Texts that quote other things than their object (rulings,
// crowds) are written out every time. What comes out as the same bytes is not told.

#include <algorithm>
#include <iterator>
#include <numeric>
#include <utility>

#include "absl/hash/hash.h"
#include "server/planning/parallel.h"
#include "server/rpc/call.h"
#include "server/rpc/convert.h"
#include "server/rpc/live_session.h"
#include "server/rpc/live_status.h"
#include "server/rpc/refusal.h"

namespace scantling {
namespace {

constexpr size_t kQuickRows = 1024;        // changed objects that are measured before a first look
constexpr size_t kWhatIfDecisions = 2000;  // told of a what-if

// Everything of a decision's message that may change though its object was not measured or sent again.
uint64_t SignatureOf(const PlannedShot& shot, size_t node) {
  const Decision& decision = shot.plan.decisions[node];
  const uint32_t row = decision.object;
  const Holds& holds = shot.holds;
  const TierBounds& bounds = shot.choice.bounds[node];
  const int32_t parent = shot.choice.problem.parent[node];
  uint64_t sections = 0;
  for (uint32_t s = shot.legibility.section_begin[row]; s < shot.legibility.section_begin[row + 1]; ++s) {
    sections = sections * 31 + holds.section[s];
  }
  const auto tier_of = [&](int32_t of) { return of < 0 ? 255 : shot.solution.level[static_cast<size_t>(of)]; };
  const uint64_t of_decision = absl::HashOf(
      decision.tier, decision.reason, decision.needs_animation, decision.hold, decision.path_hold, decision.anim_hours,
      decision.core_hours, decision.loss, decision.other_hours, decision.earlier.has_value(),
      decision.earlier.value_or(Tier::kOmitted), bounds.least.tier, bounds.most.tier, tier_of(parent));
  const uint64_t of_holds = absl::HashOf(holds.still[row], holds.poses_per_cycle[row], holds.pose[row], holds.path[row],
                                         holds.phase[row], holds.split[row], holds.path_jump_px[row],
                                         holds.contact_slip_px[row], sections, shot.choice.has_contents[node]);
  const uint64_t of_costs = absl::HashOf(shot.costs.anim_hours[row], shot.costs.core_hours[row],
                                         shot.costs.animated_frames[row], shot.costs.kept_alive[row]);
  return absl::HashOf(of_decision, of_holds, of_costs);
}

bool QuotesOthers(Reason reason) { return reason == Reason::kDirective || reason == Reason::kCrowdShare; }

}  // namespace

PlanRequest LiveSession::RequestOn(int threads) const { return header_.asked.RequestOn(threads); }

ProgressSink LiveSession::ProgressOf() {
  return [this](std::string_view stage, double fraction) {
    const auto now = Clock::now();
    if (now - last_progress_ < kProgressEvery) return;
    last_progress_ = now;
    const v1::Progress as_call = ProgressToProto(stage, fraction, 0);
    v1::AssemblyProgress progress;
    progress.set_revision(revision_);
    progress.set_stage(as_call.stage());
    progress.set_fraction(fraction);
    outbox_.Report(std::move(progress));
    Wake();
  };
}

bool LiveSession::Step() {
  std::shared_ptr<Stop> stop;
  bool final_due = false;
  {
    const std::scoped_lock lock(mutex_);
    stop = stop_;
    final_due = final_due_ && Clock::now() >= *final_due_;
  }
  if (stop->Requested() || reader_.begun()) return false;
  if (looked_ != revision_) {
    Look(*stop);
    return true;
  }
  if (settled_ != revision_) {
    Settle(*stop);
    return true;
  }
  if (!what_ifs_.empty()) {
    AnswerWhatIf(*stop);
    return true;
  }
  if (!final_ && final_due) {
    Finish(*stop);
    return true;
  }
  return false;
}

// Objects few enough are measured first and told by their figures over the shot; else the current frame is read.
void LiveSession::Look(const Stop& stop) {
  const ThreadShare share(parts_.lanes);
  const int64_t revision = revision_;
  const std::vector<uint32_t> stale = live_.StaleRows();
  const bool wide = live_.everything_is_stale() || live_.hiding_is_stale() || stale.size() > kQuickRows;
  v1::Update update;
  update.set_revision(revision);
  update.set_state(v1::PROVISIONAL);
  std::vector<QuickLook> looks;
  RoughHoursChange change;
  if (wide) {
    const FrameRange frames = live_.scene().frames;
    const int32_t frame = header_.current_frame.value_or(frames.first);
    if (live_.scene().objects.size() > 0) looks = live_.LookAtFrame(frame - frames.first, share.threads(), stop);
  } else if (!stale.empty()) {
    if (!live_.Measure(share.threads(), stop, {}).ok()) return;  // overtaken
    looks = live_.LookAtMeasured(stale, change);
  }
  looked_ = revision;
  if (stop.Requested() || (looks.empty() && !wide)) return;
  for (const QuickLook& look : looks) {
    v1::QuickDecision& quick = *update.add_quick();
    quick.set_object_id(std::string(live_.scene().objects.id[look.row]));
    quick.set_tier(ToProto(look.tier));
    quick.set_basis(look.whole_shot ? v1::QuickDecision::WHOLE_SHOT : v1::QuickDecision::CURRENT_FRAME);
    quick.set_seen(look.seen);
  }
  if (last_totals_) {
    update.set_anim_hours(last_totals_->plan().anim_hours().mean() + change.anim_hours);
    update.set_core_hours(last_totals_->plan().core_hours().mean() + change.core_hours);
  }
  outbox_.Look(std::move(update));
}

void LiveSession::Settle(const Stop& stop) {
  const ThreadShare share(parts_.lanes);
  if (!live_.Measure(share.threads(), stop, ProgressOf()).ok()) return;
  PlanFaults faults;
  const absl::StatusOr<bool> settled = live_.Settle(RequestOn(share.threads()), stop, faults);
  if (!settled.ok() && stop.Requested()) return;
  settled_ = revision_;
  if (!settled.ok()) {
    return PublishProblem(PlanRefused(settled.status(), faults, header_.asked.plan.budgets));
  }
  final_ = *settled;
  Publish(share.threads());
  if (final_) return;
  const std::scoped_lock lock(mutex_);
  final_due_ = Clock::now() + parts_.settings.final_after;
}

void LiveSession::Finish(const Stop& stop) {
  const ThreadShare share(parts_.lanes);
  PlanFaults faults;
  const absl::Status finished = live_.Finish(RequestOn(share.threads()), stop, faults);
  if (!finished.ok() && stop.Requested()) return;  // it is still due
  final_ = true;
  {
    const std::scoped_lock lock(mutex_);
    final_due_.reset();
  }
  if (!finished.ok()) return PublishProblem(PlanRefused(finished, faults, header_.asked.plan.budgets));
  Publish(share.threads());
}

void LiveSession::Publish(int threads) {
  const PlannedShot& shot = live_.shot();
  const std::vector<uint8_t> remeasured = live_.TakeRemeasured();
  const size_t count = shot.plan.decisions.size();
  std::vector<uint64_t> signatures(count);
  constexpr size_t kPiece = 4096;
  std::vector<std::vector<PublishedPlan::Change>> changes((count + kPiece - 1) / kPiece);
  ForEachInParallel(changes.size(), threads, [&](size_t piece) {
    for (size_t node = piece * kPiece; node < std::min(count, (piece + 1) * kPiece); ++node) {
      const Decision& decision = shot.plan.decisions[node];
      const uint32_t row = decision.object;
      const uint64_t signature = SignatureOf(shot, node);
      const uint32_t before = told_row_[row];
      signatures[row] = signature;
      const bool same = remeasured[row] == 0 && before != kNone && signature == signature_[before];
      if (same && !QuotesOthers(decision.reason)) continue;
      auto bytes = std::make_shared<const std::string>(DecisionToProto(shot, node).SerializeAsString());
      const SharedBytes told = ToldOf(row);
      if (told != nullptr && *told == *bytes) continue;
      changes[piece].push_back({row, std::move(bytes)});
    }
  });
  PublishedPlan plan;
  for (std::vector<PublishedPlan::Change>& piece : changes) {
    std::move(piece.begin(), piece.end(), std::back_inserter(plan.changes));
  }
  v1::Update closing;
  closing.set_revision(settled_);
  closing.set_state(final_ ? v1::FINAL : v1::SETTLED);
  PlanWithoutDecisions(shot, header_.options, *closing.mutable_summary());
  last_totals_ = closing.summary().totals();
  if (baseline_) FillBaseline(closing.summary().totals(), *closing.mutable_baseline());
  AddStageTimes(shot.clocks, *closing.mutable_stage_times());
  closing_ = std::move(closing);
  plan.canonical = shot.choice.row_of_node;
  plan.closing = std::make_shared<const std::string>(closing_.SerializeAsString());
  plan.gone = std::exchange(gone_, {});
  plan.was = std::exchange(told_row_, std::vector<uint32_t>(count));
  std::iota(told_row_.begin(), told_row_.end(), 0u);
  signature_ = std::move(signatures);
  published_.Put(std::move(plan));
  outbox_.Planned(settled_);
}

void LiveSession::PublishAgain() {
  closing_.set_revision(settled_);
  closing_.clear_baseline();
  if (baseline_ && closing_.has_summary()) FillBaseline(closing_.summary().totals(), *closing_.mutable_baseline());
  published_.Close(std::make_shared<const std::string>(closing_.SerializeAsString()));
  outbox_.Planned(settled_);
}

void LiveSession::PublishProblem(const grpc::Status& status) {
  settled_ = revision_;
  final_ = true;  // there is nothing to finish
  v1::Update closing;
  closing.set_revision(settled_);
  closing.set_state(v1::SETTLED);
  *closing.mutable_problem() = ToRpcStatus(status);
  closing_ = std::move(closing);
  published_.Close(std::make_shared<const std::string>(closing_.SerializeAsString()));
  outbox_.Planned(settled_);
}

void LiveSession::FillBaseline(const v1::Totals& totals, v1::BaselineChange& change) const {
  const v1::Totals& base = *baseline_;
  change.set_label(baseline_label_);
  change.set_anim_hours(totals.plan().anim_hours().mean() - base.plan().anim_hours().mean());
  change.set_core_hours(totals.plan().core_hours().mean() - base.plan().core_hours().mean());
  change.set_other_hours(totals.plan().other_hours().mean() - base.plan().other_hours().mean());
  change.set_loss(totals.loss() - base.loss());
  change.set_objects(totals.objects() - base.objects());
  change.set_full_rig(totals.full_rig() - base.full_rig());
  change.set_proxy(totals.proxy() - base.proxy());
  change.set_colour_patch(totals.colour_patch() - base.colour_patch());
  change.set_omitted(totals.omitted() - base.omitted());
  change.set_needs_animation(totals.needs_animation() - base.needs_animation());
}

// ---- What-ifs

void LiveSession::AnswerWhatIf(const Stop& stop) {
  v1::WhatIfAnswer answer;
  answer.set_what_if_id(what_ifs_.front().what_if_id());
  answer.set_revision(revision_);
  const grpc::Status planned = Guarded([&] { return PlanWhatIf(what_ifs_.front(), stop, answer); });
  if (!planned.ok() && stop.Requested()) return;  // asked again on what the edit makes of the shot
  what_ifs_.pop_front();
  if (!planned.ok()) {
    v1::WhatIfAnswer problem;
    problem.set_what_if_id(answer.what_if_id());
    problem.set_revision(answer.revision());
    *problem.mutable_problem() = ToRpcStatus(planned);
    answer = std::move(problem);
  }
  outbox_.Answer(std::move(answer));
}

grpc::Status LiveSession::PlanWhatIf(const v1::WhatIf& what_if, const Stop& stop, v1::WhatIfAnswer& answer) {
  const ThreadShare share(parts_.lanes);
  EditReader reader(parts_.policy, parts_.limits);
  reader.Add(what_if.edit(), header_);
  TakenEdit taken;
  if (grpc::Status read = reader.Finish(live_.scene(), taken); !read.ok()) return read;
  const std::unique_ptr<LiveShot> copy = live_.Copy();
  std::vector<uint32_t> was(live_.scene().objects.size());
  std::iota(was.begin(), was.end(), 0u);
  if (taken.scene_changed) {
    was = taken.merged.was;
    copy->TakeScene(std::move(taken.merged), *taken.header.asked.style);
  }
  PlanFaults faults;
  const PlanRequest request = taken.header.asked.RequestOn(share.threads());
  if (absl::Status measured = copy->Measure(share.threads(), stop, {}); !measured.ok()) return ToGrpc(measured);
  const absl::StatusOr<bool> settled = copy->Settle(request, stop, faults);
  if (!settled.ok()) return PlanRefused(settled.status(), faults, request.budgets);

  const PlannedShot& shot = copy->shot();
  PlanWithoutDecisions(shot, taken.header.options, *answer.mutable_summary());
  if (baseline_) FillBaseline(answer.summary().totals(), *answer.mutable_baseline());
  for (size_t node = 0; node < shot.plan.decisions.size(); ++node) {
    if (stop.Requested()) return ToGrpc(absl::CancelledError("an edit came"));
    const uint32_t before = was[shot.plan.decisions[node].object];
    const SharedBytes told = before == kNone ? nullptr : ToldOf(before);
    v1::Decision decision = DecisionToProto(shot, node);
    if (told != nullptr && decision.SerializeAsString() == *told) continue;
    answer.set_changed(answer.changed() + 1);
    if (static_cast<size_t>(answer.decisions_size()) < kWhatIfDecisions) *answer.add_decisions() = std::move(decision);
  }
  for (const std::string& id : taken.removed_ids) {
    if (static_cast<size_t>(answer.gone_ids_size()) < kWhatIfDecisions) answer.add_gone_ids(id);
  }
  return grpc::Status::OK;
}

}  // namespace scantling
