// Series of edits on one session, timed.

#ifndef SCANTLING_TESTS_BENCH_LIVE_SERIES_H_
#define SCANTLING_TESTS_BENCH_LIVE_SERIES_H_

#include <functional>
#include <string>
#include <vector>

#include "tests/bench/live/echo.h"
#include "tests/bench/live/figures.h"
#include "tests/bench/live/session.h"

namespace scantling::bench {

// A series ends with either, but not before three edits.
struct Extent {
  int edits = 200;
  double seconds = 30;
};

using MakeEdit = std::function<v1::ShotEdit()>;

// One edit, until it has settled.
Timing TimeOne(LiveSession& session, const MakeEdit& make);

// One edit after another, each sent when the one before has settled; the first is not counted. Making an edit is not
// timed.
std::vector<Timing> TimeOneByOne(LiveSession& session, const MakeEdit& make, const Extent& extent);

// `behind` is sent 20 ms after `ahead`, when all of what `ahead` asks for is being worked on; timed is `behind`. The
// next pair goes when that has settled.
std::vector<Timing> TimeBehind(LiveSession& session, const MakeEdit& ahead, const MakeEdit& behind,
                               const Extent& extent);

// What an artist who drags does to a session: an edit every 16 ms, whatever has come back.
struct Burst {
  std::vector<Timing> timings;  // to the first update, and the first settled one, of that revision or a later one
  double seconds = 0;
  int provisional_updates = 0, settled_updates = 0;  // before the last edit was sent
  double settled_after_ms = 0;                       // from the last edit
};
Burst TimeBurst(LiveSession& session, const MakeEdit& make, double seconds);

// The same bytes as each edit's through the echo, once for the first update and once for all of them; call it while
// nothing else runs. Fills the timings' echo figures.
void TimeEchoes(Echo& echo, std::vector<Timing>& timings);

}  // namespace scantling::bench

#endif  // SCANTLING_TESTS_BENCH_LIVE_SERIES_H_
