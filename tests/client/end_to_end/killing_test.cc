// A private daemon ends with its command, however that ends.

#include <gmock/gmock.h>
#include <signal.h>
#include <unistd.h>

#include "tests/client/end_to_end/program.h"

namespace scantling::client {
namespace {

using testing::IsEmpty;

// Long enough to be killed in the middle of: seconds of planning.
constexpr int kManyObjects = 100'000;
constexpr char kStarted[] = "started a private daemon";

class Killing : public EndToEnd {
 protected:
  // Whether all processes of this test are gone within two seconds.
  bool AllGone() const {
    for (int i = 0; i < 200; ++i) {
      if (Relatives().empty()) return true;
      usleep(10'000);
    }
    return false;
  }

  // Starts a plan, sends the signal once its daemon runs.
  Outcome KilledBy(int signal_number) const {
    const std::string file = Folder() + "/shot.pb";
    Sample(kManyObjects, {"--blocks", "--output", file});
    Program plan({SCANTLING_PROGRAM, "plan", file}, {});
    EXPECT_TRUE(plan.AwaitOnErr(kStarted));
    EXPECT_GE(Relatives().size(), 2u);  // the command itself and its daemon
    plan.Signal(signal_number);
    return plan.Wait();
  }
};

TEST_F(Killing, InterruptEndsTheDaemonAndLeavesNothing) {
  const Outcome outcome = KilledBy(SIGINT);
  EXPECT_EQ(outcome.signal, SIGINT);
  EXPECT_THAT(outcome.out, IsEmpty());
  EXPECT_TRUE(AllGone());
  EXPECT_THAT(Leftovers(), testing::ElementsAre("shot.pb"));
}

TEST_F(Killing, TerminateEndsTheDaemonAndLeavesNothing) {
  EXPECT_EQ(KilledBy(SIGTERM).signal, SIGTERM);
  EXPECT_TRUE(AllGone());
  EXPECT_THAT(Leftovers(), testing::ElementsAre("shot.pb"));
}

TEST_F(Killing, KillThatCannotBeCaughtEndsTheDaemonToo) {
  EXPECT_EQ(KilledBy(SIGKILL).signal, SIGKILL);
  EXPECT_TRUE(AllGone());
}

}  // namespace
}  // namespace scantling::client
