// An update is sent in parts of so many decisions; a snapshot holds what it sends by pointers, so a plan published
// meanwhile changes nothing of it.

#include "server/rpc/live_outbox.h"

#include <algorithm>
#include <utility>

#include "server/rpc/large_shot.h"

namespace scantling {
namespace {

constexpr size_t kGonePerMessage = 10'000;

}  // namespace

void LiveOutbox::Start(const void* reader, v1::Started started, int64_t known) {
  const std::scoped_lock lock(mutex_);
  reader_ = reader;
  answers_.clear();
  *answers_.emplace_back().mutable_started() = std::move(started);
  for (const v1::Refusal& refusal : refusals_) *answers_.emplace_back().mutable_refusal() = refusal;
  look_.reset();
  progress_.reset();
  sending_.reset();
  known_ = known;
}

void LiveOutbox::Refuse(v1::Refusal refusal) {
  const std::scoped_lock lock(mutex_);
  *answers_.emplace_back().mutable_refusal() = refusal;
  if (refusal.revision() == 0) return;
  refusals_.push_back(std::move(refusal));
  if (refusals_.size() > kRefusalsKept) refusals_.pop_front();
}

void LiveOutbox::Answer(v1::WhatIfAnswer answer) {
  const std::scoped_lock lock(mutex_);
  *answers_.emplace_back().mutable_what_if() = std::move(answer);
}

void LiveOutbox::Look(v1::Update provisional) {
  const std::scoped_lock lock(mutex_);
  look_ = std::move(provisional);
}

void LiveOutbox::Report(v1::AssemblyProgress progress) {
  const std::scoped_lock lock(mutex_);
  progress_ = std::move(progress);
}

void LiveOutbox::Planned(int64_t revision) {
  const std::scoped_lock lock(mutex_);
  if (look_ && look_->revision() <= revision) look_.reset();
  if (progress_ && progress_->revision() <= revision) progress_.reset();
}

void LiveOutbox::FillPart(v1::Update& update) {
  const Snapshot& snapshot = *sending_;
  const bool first = gone_sent_ == 0 && decisions_sent_ == 0;
  update.set_number(snapshot.number);
  update.set_anew(first && snapshot.anew);
  const size_t gone_end = std::min(snapshot.gone.size(), gone_sent_ + kGonePerMessage);
  for (; gone_sent_ < gone_end; ++gone_sent_) update.add_gone_ids(snapshot.gone[gone_sent_]);
  if (gone_sent_ == snapshot.gone.size()) {
    const size_t end = std::min(snapshot.decisions.size(), decisions_sent_ + kDecisionsPerMessage);
    for (; decisions_sent_ < end; ++decisions_sent_) {
      update.add_decisions()->ParseFromString(*snapshot.decisions[decisions_sent_]);
    }
  }
  v1::Update closing;
  if (snapshot.closing != nullptr) closing.ParseFromString(*snapshot.closing);
  update.set_revision(closing.revision());
  update.set_state(closing.state());
  const bool last = gone_sent_ == snapshot.gone.size() && decisions_sent_ == snapshot.decisions.size();
  update.set_continues(!last);
  if (last) update.MergeFrom(closing);
}

bool LiveOutbox::Next(const void* reader, const Published& published, v1::AssembleShotResponse& out) {
  const std::scoped_lock lock(mutex_);
  out.Clear();
  if (reader != reader_) return false;
  if (!answers_.empty()) {
    out = std::move(answers_.front());
    answers_.pop_front();
    return true;
  }
  if (!sending_ && published.number() > known_) {
    sending_ = published.Since(known_);
    gone_sent_ = decisions_sent_ = 0;
  }
  if (sending_) {
    FillPart(*out.mutable_update());
    if (!out.update().continues()) {
      known_ = sending_->number;
      sending_.reset();
    }
    return true;
  }
  if (look_) {
    *out.mutable_update() = *std::exchange(look_, std::nullopt);
    return true;
  }
  if (progress_) {
    *out.mutable_progress() = *std::exchange(progress_, std::nullopt);
    return true;
  }
  return false;
}

bool LiveOutbox::crowded() const {
  const std::scoped_lock lock(mutex_);
  return answers_.size() >= kAnswersWaiting;
}

bool LiveOutbox::empty(const Published& published) const {
  const std::scoped_lock lock(mutex_);
  return answers_.empty() && !sending_ && published.number() <= known_ && !look_ && !progress_;
}

}  // namespace scantling
