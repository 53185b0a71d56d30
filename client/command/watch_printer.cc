// Idea: people are told what they wait for and no more. A final plan is told by what it changed of the final plan
// before it; a settled one between them in a line, for much of what it changes is taken back. A first look is told
// where the plan is slow to follow, a lost connection once.
//
// Programs are told everything, a line each.

#include "client/command/watch_printer.h"

#include <cstdio>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/command/command.h"
#include "client/command/units.h"
#include "client/command/watch_json.h"
#include "client/command/watch_text.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

// A plan that comes sooner needs no first look before it.
constexpr std::chrono::milliseconds kFirstLookAfter{400};

// Whether a decision is again what it was.
bool IsTakenBack(const LiveChange& change) {
  if (!change.before || !change.after) return !change.before && !change.after;
  return change.before->SerializeAsString() == change.after->SerializeAsString();
}

}  // namespace

void WatchPrinter::Put(const std::string& text) {
  if (code_ == ExitCode::kDone) code_ = Print(text);
}

void WatchPrinter::Say(const std::string& text) { std::fprintf(stderr, "scantling: %s\n", text.c_str()); }

void WatchPrinter::Began(const LiveShot& shot) {
  const v1::Shot& header = shot.header;
  if (options_.json) return Put(FileJson("read", "", absl::OkStatus()));
  Put(absl::StrCat("Watching ", Printable(options_.file), ": shot ", Printable(header.shot_id()), ", frames ",
                   header.frames().first(), "-", header.frames().last(), ", ",
                   Count(static_cast<int64_t>(shot.objects.size())), " objects. Ctrl-C ends.\n"));
}

void WatchPrinter::FileChanged(const LiveShot& before, const ShotChange& change) {
  const std::string what = FileChangeText(before, change);
  if (options_.json) return Put(FileJson("changed", what, absl::OkStatus()));
  Put(absl::StrCat("\n", Printable(options_.file), ": ", what, "\n"));
}

void WatchPrinter::FileFaulty(const absl::Status& status) {
  if (options_.json) return Put(FileJson("faulty", "", status));
  std::fputs(FailureText(status).c_str(), stderr);
  Say(told_ ? "the last plan stands until the file is mended" : "waiting until the file is mended");
}

void WatchPrinter::FileGone() {
  if (options_.json) return Put(FileJson("gone", "", absl::OkStatus()));
  Say(absl::StrCat(Printable(options_.file), " is gone; the last plan stands, waiting for the file to come back"));
}

void WatchPrinter::Plan(const LivePlanUpdate& news) {
  first_look_.clear();
  if (options_.json) return Put(PlanJson(news));
  if (!news.problem.ok()) {
    std::fputs(FailureText(news.problem).c_str(), stderr);
    if (told_) Say("the last plan stands");
    return;
  }
  for (const LiveChange& change : news.changes) {
    const auto [known, is_new] = changed_.try_emplace(change.object_id, change);
    if (!is_new) known->second.after = change.after;
  }
  LivePlanUpdate since = news;
  since.changes.clear();
  for (const auto& [id, change] : changed_) {
    if (!IsTakenBack(change)) since.changes.push_back(change);
  }
  if (news.update.state() != v1::FINAL) return Put(SettledText(since, told_));
  Put(FinalText(since, told_, options_.all));
  changed_.clear();
  told_ = news.update.summary().totals();
}

void WatchPrinter::Provisional(const LiveProvisional& news, TimePoint now) {
  if (options_.json) return Put(ProvisionalJson(news));
  first_look_ = FirstLookText(news);
  first_look_since_ = now;
}

void WatchPrinter::Tick(TimePoint now) {
  if (first_look_.empty() || !told_ || now - first_look_since_ < kFirstLookAfter) return;
  Put(std::exchange(first_look_, ""));
}

void WatchPrinter::Refused(const absl::Status& status) {
  if (options_.json) return Put(RefusedJson(status));
  std::fputs(FailureText(status).c_str(), stderr);
  Say(told_ ? "the last plan stands until the file is mended" : "waiting until the file is mended");
}

void WatchPrinter::Connection(const LiveConnectionChange& change) {
  if (options_.json) return Put(ConnectionJson(change));
  if (change.state == LiveConnection::kLost && !std::exchange(was_lost_, true)) {
    Say(absl::StrCat("lost the daemon (", Printable(std::string(change.why.message())), "); trying again"));
  }
  if (change.state == LiveConnection::kLive && std::exchange(was_lost_, false)) {
    Say(change.resumed ? "reached the daemon again" : "reached the daemon again and sent it the shot anew");
  }
}

}  // namespace scantling::client
