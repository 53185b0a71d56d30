// Between two edits of a series nothing is waited for but the settled update: where a final plan is being solved behind
// it, the next edit overtakes that, as an artist's would.

#include "tests/bench/live/series.h"

#include <algorithm>
#include <thread>
#include <utility>

namespace scantling::bench {
namespace {

constexpr int kLeastEdits = 3;
constexpr std::chrono::milliseconds kFrame{16};
constexpr std::chrono::milliseconds kHeadStart{20};

bool IsSettled(const Answer& answer) { return answer.state == v1::SETTLED || answer.state == v1::FINAL; }

// From the answers that came since it was sent, of which one settles it.
Timing TimingOf(const Sent& sent, const std::vector<Answer>& since) {
  Timing timing;
  timing.bytes_out = static_cast<double>(sent.bytes);
  for (const Answer& answer : since) {
    if (answer.revision < sent.revision) continue;
    timing.bytes_back += static_cast<double>(answer.bytes);
    if (timing.first_ms == 0) {
      timing.first_ms = MilliBetween(sent.at, answer.at);
      timing.bytes_first = timing.bytes_back;
      timing.was_provisional = answer.state == v1::PROVISIONAL;
    }
    if (!IsSettled(answer)) continue;
    timing.settled_ms = MilliBetween(sent.at, answer.at);
    timing.gap = answer.gap;
    for (const v1::StageTime& stage : answer.stages) timing.stages_ms[stage.stage()] += stage.milliseconds();
    return timing;
  }
  End("an edit that had settled was not answered");
}

template <typename Step>
std::vector<Timing> Repeat(const Extent& extent, const Step& step) {
  std::vector<Timing> timings;
  step();  // caches, pages
  const auto start = Clock::now();
  const auto goes_on = [&] {
    const auto done = static_cast<int>(timings.size());
    return done < extent.edits && (done < kLeastEdits || MilliBetween(start, Clock::now()) < 1e3 * extent.seconds);
  };
  while (goes_on()) timings.push_back(step());
  return timings;
}

}  // namespace

Timing TimeOne(LiveSession& session, const MakeEdit& make) {
  const Sent sent = session.Send({make()});
  session.AwaitSettled(sent);
  return TimingOf(sent, session.AnswersSince(sent));
}

std::vector<Timing> TimeOneByOne(LiveSession& session, const MakeEdit& make, const Extent& extent) {
  return Repeat(extent, [&] { return TimeOne(session, make); });
}

std::vector<Timing> TimeBehind(LiveSession& session, const MakeEdit& ahead, const MakeEdit& behind,
                               const Extent& extent) {
  return Repeat(extent, [&] {
    v1::ShotEdit edit = behind();
    session.Send({ahead()});
    std::this_thread::sleep_for(kHeadStart);
    const Sent sent = session.Send({std::move(edit)});
    session.AwaitSettled(sent);
    return TimingOf(sent, session.AnswersSince(sent));
  });
}

Burst TimeBurst(LiveSession& session, const MakeEdit& make, double seconds) {
  Burst burst;
  std::vector<Sent> all;
  const auto start = Clock::now();
  auto next = start;
  while (MilliBetween(start, next) < 1e3 * seconds) {
    v1::ShotEdit edit = make();
    std::this_thread::sleep_until(next);
    all.push_back(session.Send({std::move(edit)}));
    next = std::max(next + kFrame, Clock::now());
  }
  burst.seconds = MilliBetween(start, all.back().at) / 1e3;
  burst.settled_after_ms = MilliBetween(all.back().at, session.AwaitSettled(all.back()).at);
  const std::vector<Answer> answers = session.AnswersSince(all.front());
  for (const Answer& answer : answers) {
    if (answer.at > all.back().at) break;
    ++(IsSettled(answer) ? burst.settled_updates : burst.provisional_updates);
  }
  for (const Sent& sent : all) {
    const auto skipped = static_cast<std::ptrdiff_t>(sent.seen - all.front().seen);
    burst.timings.push_back(TimingOf(sent, {answers.begin() + skipped, answers.end()}));
  }
  return burst;
}

void TimeEchoes(Echo& echo, std::vector<Timing>& timings) {
  const auto round_trip = [&](double out, double back) {
    return echo.RoundTrip(static_cast<int64_t>(out), static_cast<int64_t>(back));
  };
  if (!timings.empty()) round_trip(timings[0].bytes_out, timings[0].bytes_back);  // as the first edit: not counted
  for (Timing& timing : timings) {
    timing.echo_first_ms = round_trip(timing.bytes_out, timing.bytes_first);
    timing.echo_settled_ms = round_trip(timing.bytes_out, timing.bytes_back);
  }
}

}  // namespace scantling::bench
