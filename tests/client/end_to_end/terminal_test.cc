// A bar where standard error is a terminal, wiped at the end; none in a pipe, with the same shot.

#include <gmock/gmock.h>

#include "tests/client/end_to_end/program.h"

namespace scantling::client {
namespace {

using testing::HasSubstr;
using testing::Not;

class Terminal : public EndToEnd {};

TEST_F(Terminal, BarIsDrawnOnATerminalOnly) {
  const std::string shot = Sample(20'000, {"--blocks"});
  const Outcome seen = Scantling({"plan", "-", "--format", "json"}, {.input = shot, .terminal_for_err = true});
  ASSERT_EQ(seen.exit_code, 0) << seen.err;
  EXPECT_THAT(seen.err, HasSubstr("\r"));
  EXPECT_THAT(seen.err, HasSubstr("% "));
  EXPECT_THAT(seen.err, testing::EndsWith("\r\x1B[K"));
  const Outcome piped = Scantling({"plan", "-", "--format", "json"}, {.input = shot});
  EXPECT_THAT(piped.err, Not(HasSubstr("\r")));
  EXPECT_EQ(piped.out, seen.out);
}

}  // namespace
}  // namespace scantling::client
