// Frames, spans and rates. Expected spans are worked out by hand on the exposure sheet beside each test.

#include "server/units/frames.h"

#include <gtest/gtest.h>

#include <limits>
#include <random>
#include <set>
#include <vector>

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

TEST(NormalSpans, SortsJoinsAndLeavesOutEmptyRanges) {
  EXPECT_TRUE(NormalSpans({}).empty());
  EXPECT_TRUE(NormalSpans({{5, 4}, {0, -1}}).empty());
  EXPECT_EQ(NormalSpans({{7, 9}, {1, 3}, {6, 5}}), (FrameSpans{{1, 3}, {7, 9}}));
  // 3 and 4 follow one another; 2..3 lies within 1..3.
  EXPECT_EQ(NormalSpans({{4, 6}, {1, 3}, {2, 3}}), (FrameSpans{{1, 6}}));
  EXPECT_EQ(NormalSpans({{1, 9}, {2, 3}, {5, 5}}), (FrameSpans{{1, 9}}));
  EXPECT_EQ(NormalSpans({{-2, -1}, {0, 0}}), (FrameSpans{{-2, 0}}));
}

TEST(NormalSpans, NothingFollowsTheLastFrameThereIs) {
  constexpr int32_t kLast = std::numeric_limits<int32_t>::max();
  EXPECT_EQ(NormalSpans({{kLast, kLast}, {kLast - 1, kLast}}), (FrameSpans{{kLast - 1, kLast}}));
  EXPECT_EQ(NormalSpans({{kLast, kLast}, {-5, -5}}), (FrameSpans{{-5, -5}, {kLast, kLast}}));
}

TEST(UniteSpans, HoldsTheFramesOfBoth) {
  EXPECT_TRUE(UniteSpans({}, {}).empty());
  EXPECT_EQ(UniteSpans({{1, 3}}, {}), (FrameSpans{{1, 3}}));
  EXPECT_EQ(UniteSpans({}, {{1, 3}}), (FrameSpans{{1, 3}}));
  EXPECT_EQ(UniteSpans({{1, 3}, {10, 12}}, {{4, 5}, {12, 20}}), (FrameSpans{{1, 5}, {10, 20}}));
  EXPECT_EQ(UniteSpans({{1, 3}, {10, 12}}, {{5, 8}}), (FrameSpans{{1, 3}, {5, 8}, {10, 12}}));
}

TEST(SubtractSpans, CutsHolesEndsAndWholeSpans) {
  EXPECT_TRUE(SubtractSpans({}, {{1, 5}}).empty());
  EXPECT_EQ(SubtractSpans({{1, 9}}, {}), (FrameSpans{{1, 9}}));
  EXPECT_EQ(SubtractSpans({{1, 9}}, {{4, 5}}), (FrameSpans{{1, 3}, {6, 9}}));
  EXPECT_EQ(SubtractSpans({{1, 9}}, {{-3, 1}, {9, 12}}), (FrameSpans{{2, 8}}));
  EXPECT_EQ(SubtractSpans({{1, 3}, {5, 9}}, {{2, 6}}), (FrameSpans{{1, 1}, {7, 9}}));
  EXPECT_TRUE(SubtractSpans({{1, 3}, {5, 9}}, {{0, 9}}).empty());
  EXPECT_EQ(SubtractSpans({{1, 3}}, {{4, 6}}), (FrameSpans{{1, 3}}));
}

TEST(Contains, KnowsEveryEndOfEverySpan) {
  EXPECT_FALSE(Contains({}, 0));
  const FrameSpans spans = {{-4, -2}, {3, 3}, {7, 9}};
  for (const int32_t frame : {-4, -3, -2, 3, 7, 8, 9}) EXPECT_TRUE(Contains(spans, frame)) << frame;
  for (const int32_t frame : {-5, -1, 0, 2, 4, 6, 10}) EXPECT_FALSE(Contains(spans, frame)) << frame;
}

std::set<int32_t> FramesOf(const std::vector<FrameRange>& ranges) {
  std::set<int32_t> frames;
  for (const FrameRange& range : ranges) {
    for (int32_t frame = range.first; frame <= range.last; ++frame) frames.insert(frame);
  }
  return frames;
}

// The spans that hold exactly these frames: a new one wherever a frame's forerunner is missing.
FrameSpans SpansOf(const std::set<int32_t>& frames) {
  FrameSpans spans;
  for (const int32_t frame : frames) {
    if (!frames.contains(frame - 1)) spans.push_back({frame, frame});
    spans.back().last = frame;
  }
  return spans;
}

// Sets of frames as the oracle.
TEST(Spans, AgreeWithSetsOfFramesOnRandomSheets) {
  std::mt19937 random(11);
  const auto some_ranges = [&] {
    std::vector<FrameRange> ranges(random() % 7);
    for (FrameRange& range : ranges) {
      range.first = static_cast<int32_t>(random() % 40) - 10;
      range.last = range.first + static_cast<int32_t>(random() % 10) - 2;  // now and then empty
    }
    return ranges;
  };
  for (int trial = 0; trial < 3000; ++trial) {
    const std::vector<FrameRange> sent_a = some_ranges(), sent_b = some_ranges();
    const std::set<int32_t> frames_a = FramesOf(sent_a), frames_b = FramesOf(sent_b);
    const FrameSpans a = NormalSpans(sent_a), b = NormalSpans(sent_b);
    ASSERT_EQ(a, SpansOf(frames_a)) << trial;
    ASSERT_EQ(b, SpansOf(frames_b)) << trial;
    std::set<int32_t> either = frames_a, left = frames_a;
    either.insert(frames_b.begin(), frames_b.end());
    for (const int32_t frame : frames_b) left.erase(frame);
    ASSERT_EQ(UniteSpans(a, b), SpansOf(either)) << trial;
    ASSERT_EQ(SubtractSpans(a, b), SpansOf(left)) << trial;
    ASSERT_EQ(CountFrames(a), static_cast<int64_t>(frames_a.size())) << trial;
    for (int32_t frame = -15; frame < 45; ++frame) ASSERT_EQ(Contains(a, frame), frames_a.contains(frame)) << frame;
  }
}

}  // namespace
}  // namespace scantling
