// Frames, spans and rates. Expected spans are worked out by hand on the exposure sheet beside each test.

#include "server/units/frames.h"

#include <gtest/gtest.h>

#include <random>
#include <set>

namespace scantling {
namespace {

constexpr FrameRange kShot = {1001, 1100};

TEST(FrameRange, CountsBothEnds) {
  EXPECT_EQ((FrameRange{1001, 1240}).count(), 240);
  EXPECT_EQ((FrameRange{7, 7}).count(), 1);
  EXPECT_EQ((FrameRange{}).count(), 0);
  EXPECT_EQ((FrameRange{5, 2}).count(), 0);
  EXPECT_EQ((FrameRange{-3, 2}).count(), 6);  // -3 -2 -1 0 1 2
}

TEST(FrameRange, ContainsBothEndsAndNothingBeyond) {
  const FrameRange range = {3, 5};
  EXPECT_FALSE(range.contains(2));
  EXPECT_TRUE(range.contains(3));
  EXPECT_TRUE(range.contains(5));
  EXPECT_FALSE(range.contains(6));
}

TEST(FrameRate, IsItsFraction) {
  EXPECT_DOUBLE_EQ((FrameRate{24000, 1001}).frames_per_second(), 24000.0 / 1001.0);
  EXPECT_DOUBLE_EQ(FrameRate{}.frames_per_second(), 24);
}

TEST(WidenSpans, NothingSeenAnimatesNothing) { EXPECT_TRUE(WidenSpans({}, 8, 12, kShot).empty()); }

TEST(WidenSpans, HandlesWidenBothSides) {
  EXPECT_EQ(WidenSpans({{1020, 1030}}, 8, 0, kShot), (FrameSpans{{1012, 1038}}));
}

TEST(WidenSpans, IsCutToTheShot) { EXPECT_EQ(WidenSpans({{1003, 1098}}, 8, 0, kShot), (FrameSpans{{1001, 1100}})); }

TEST(WidenSpans, GapOfSettleLengthIsClosedAndOneFrameMoreIsNot) {
  // Between 1010 and 1016 lie 1011..1015: five frames.
  EXPECT_EQ(WidenSpans({{1005, 1010}, {1016, 1020}}, 0, 5, kShot), (FrameSpans{{1005, 1020}}));
  EXPECT_EQ(WidenSpans({{1005, 1010}, {1016, 1020}}, 0, 4, kShot), (FrameSpans{{1005, 1010}, {1016, 1020}}));
}

TEST(WidenSpans, GapIsMeasuredAfterWidening) {
  // 1010 + 3 = 1013 and 1020 - 3 = 1017: 1014..1016 are left, three frames.
  EXPECT_EQ(WidenSpans({{1005, 1010}, {1020, 1025}}, 3, 3, kShot), (FrameSpans{{1002, 1028}}));
  EXPECT_EQ(WidenSpans({{1005, 1010}, {1020, 1025}}, 3, 2, kShot), (FrameSpans{{1002, 1013}, {1017, 1028}}));
}

TEST(WidenSpans, TouchingAndOverlappingSpansBecomeOne) {
  EXPECT_EQ(WidenSpans({{1010, 1012}, {1013, 1015}}, 0, 0, kShot), (FrameSpans{{1010, 1015}}));
  EXPECT_EQ(WidenSpans({{1010, 1012}, {1014, 1015}}, 1, 0, kShot), (FrameSpans{{1009, 1016}}));
}

TEST(WidenSpans, SpanOutsideTheShotCountsOnlyByItsHandles) {
  // Seen in overscan of frames before the shot: 990 + 8 = 998 never reaches 1001; 995 + 8 = 1003 does.
  EXPECT_TRUE(WidenSpans({{985, 990}}, 8, 0, kShot).empty());
  EXPECT_EQ(WidenSpans({{985, 995}}, 8, 0, kShot), (FrameSpans{{1001, 1003}}));
}

TEST(CountFrames, AddsUpSpans) {
  EXPECT_EQ(CountFrames({}), 0);
  EXPECT_EQ(CountFrames({{1001, 1010}, {1021, 1021}}), 11);
}

// The definition itself as the oracle: a set of frames, widened one by one, then gaps filled one by one.
FrameSpans WidenOneByOne(const FrameSpans& spans, int32_t handle, int32_t settle, FrameRange within) {
  std::set<int32_t> frames;
  for (const FrameRange& span : spans) {
    for (int32_t frame = span.first - handle; frame <= span.last + handle; ++frame) {
      if (within.contains(frame)) frames.insert(frame);
    }
  }
  FrameSpans result;
  for (const int32_t frame : frames) {
    if (!result.empty() && frame - result.back().last - 1 <= settle) {
      result.back().last = frame;
    } else {
      result.push_back({frame, frame});
    }
  }
  return result;
}

TEST(WidenSpans, AgreesWithFrameByFrameDefinitionOnRandomSheets) {
  std::mt19937 random(7);
  for (int trial = 0; trial < 2000; ++trial) {
    FrameSpans spans;
    int32_t frame = static_cast<int32_t>(random() % 10);
    for (int i = 0; i < 4; ++i) {
      const auto last = static_cast<int32_t>(frame + random() % 8);
      spans.push_back({frame, last});
      frame = static_cast<int32_t>(last + 2 + random() % 20);
    }
    const auto handle = static_cast<int32_t>(random() % 6), settle = static_cast<int32_t>(random() % 10);
    const FrameRange within = {3, 70};
    EXPECT_EQ(WidenSpans(spans, handle, settle, within), WidenOneByOne(spans, handle, settle, within)) << trial;
  }
}

}  // namespace
}  // namespace scantling
