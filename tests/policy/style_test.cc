// Style files: defaults, every refusal, and what a style may not say of itself.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "server/policy/load.h"
#include "tests/policy/faults.h"

namespace scantling {
namespace {

using testing::ElementsAre;

std::vector<std::string> FaultsOf(std::string_view text) {
  Violations violations;
  const bool read = ParseStyle(text, "s", violations).has_value();
  EXPECT_EQ(read, violations.empty());
  return Texts(violations);
}

TEST(ParseStyle, NameAloneTakesEveryDefault) {
  Violations violations;
  const std::optional<Style> style = ParseStyle("name: plain\n", "s", violations);
  ASSERT_TRUE(style.has_value());
  const Style defaults;
  EXPECT_EQ(style->name, "plain");
  EXPECT_EQ(style->viewing_distance_heights, 3.2);
  EXPECT_TRUE(style->line_weight.points.empty());
  EXPECT_TRUE(style->plate_shift.points.empty());
  EXPECT_EQ(style->depth_kind, DepthKind::kApparent);
  EXPECT_EQ(style->shutter_fraction, 0);
  EXPECT_EQ(style->default_f_number, 0);
  EXPECT_FALSE(style->lens_focus);
  EXPECT_TRUE(style->any_still_must_hold);
  EXPECT_EQ(style->worst_frame_share, 1);
  EXPECT_EQ(style->worst_octaves, 4);
  EXPECT_EQ(style->full_contrast_de00, 20);
  EXPECT_EQ(style->smallest_covered_px, 1);
  EXPECT_EQ(style->handle_frames, 8);
  EXPECT_EQ(style->settle_frames, 12);
  EXPECT_EQ(style->holds, defaults.holds);
}

TEST(ParseStyle, ReadsEveryKey) {
  Violations violations;
  const std::optional<Style> style = ParseStyle(
      "name: lens_2\ndescription: words\nviewing_distance_heights: 2\n"
      "line_weight: [{depth_m: 1, picture_heights: 0.1}, {depth_m: 2, picture_heights: 0.2}]\n"
      "plate_shift: [{depth_m: 3, picture_heights: 0.3}]\ndepth: stage\nshutter_fraction: 0.5\n"
      "default_f_number: 2.8\nlens_focus: true\nany_still_must_hold: false\nworst_frame_share: 0.25\n"
      "worst_octaves: 3\nfull_contrast_de00: 15\nsmallest_covered_px: 0\nhandle_frames: 4\nsettle_frames: 0\n"
      "holds: [1, 3]\n",
      "s", violations);
  ASSERT_TRUE(style.has_value()) << testing::PrintToString(Texts(violations));
  EXPECT_EQ(style->description, "words");
  EXPECT_EQ(style->viewing_distance_heights, 2);
  ASSERT_EQ(style->line_weight.points.size(), 2u);
  EXPECT_EQ(style->line_weight.points[1].depth_m, 2);
  EXPECT_EQ(style->line_weight.points[1].picture_heights, 0.2);
  EXPECT_EQ(style->plate_shift.points.size(), 1u);
  EXPECT_EQ(style->depth_kind, DepthKind::kStage);
  EXPECT_EQ(style->shutter_fraction, 0.5);
  EXPECT_EQ(style->default_f_number, 2.8);
  EXPECT_TRUE(style->lens_focus);
  EXPECT_FALSE(style->any_still_must_hold);
  EXPECT_EQ(style->worst_frame_share, 0.25);
  EXPECT_EQ(style->worst_octaves, 3);
  EXPECT_EQ(style->full_contrast_de00, 15);
  EXPECT_EQ(style->smallest_covered_px, 0);
  EXPECT_EQ(style->handle_frames, 4);
  EXPECT_EQ(style->settle_frames, 0);
  EXPECT_THAT(style->holds, ElementsAre(1, 3));
}

TEST(ParseStyle, AllFaultsComeAtOnce) {
  EXPECT_THAT(
      FaultsOf("viewing_distance_heights: 0\nshutter_fraction: 1.5\nany_still_must_hold: false\nworst_octaves: nan\n"
               "handle_frames: -1\nshuter: 1\n"),
      ElementsAre(
          "s:1:1: name: got no such key, want a name of small letters, digits and _, a letter first, at most 64 "
          "bytes",
          "s:1:27: viewing_distance_heights: got \"0\", want a number above 0 and at most 100",
          "s:2:19: shutter_fraction: got \"1.5\", want a number from 0 to 1",
          "s:4:16: worst_octaves: got \"nan\", want a number above 0 and at most 64",
          "s:5:16: handle_frames: got \"-1\", want a whole number from 0 to 10000",
          "s:6:1: got the unknown key \"shuter\", want name, description, viewing_distance_heights, line_weight, "
          "plate_shift, depth, shutter_fraction, lens_focus, default_f_number, any_still_must_hold, "
          "worst_frame_share, worst_octaves, full_contrast_de00, smallest_covered_px, handle_frames, "
          "settle_frames or holds"));
}

TEST(ParseStyle, CurvesMustRiseInDepth) {
  EXPECT_THAT(FaultsOf("name: a\nline_weight:\n  - {depth_m: 4, picture_heights: 0}\n"
                       "  - {depth_m: 4, picture_heights: 0}\n"),
              ElementsAre("s:4:15: line_weight[1].depth_m: got 4, want more than the 4 of the point before"));
  EXPECT_THAT(FaultsOf("name: a\nplate_shift:\n  - {depth_m: 0, picture_heights: 2, x: 1}\n"),
              ElementsAre("s:3:15: plate_shift[0].depth_m: got \"0\", want a number above 0 and at most 1000000000",
                          "s:3:35: plate_shift[0].picture_heights: got \"2\", want a number from 0 to 1",
                          "s:3:38: plate_shift[0]: got the unknown key \"x\", want depth_m or picture_heights"));
}

TEST(ParseStyle, HoldsMustRiseFromOne) {
  for (const char* holds : {"[]", "[2, 3]", "[1, 1]", "[1, 4, 3]"}) {
    EXPECT_THAT(
        FaultsOf("name: a\nholds: " + std::string(holds)),
        ElementsAre("s:2:8: holds: got another list, want frame counts that rise from 1, such as [1, 2, 3, 4]"));
  }
}

TEST(ParseStyle, StillThatMustHoldHidesNothingBehindBlur) {
  EXPECT_THAT(FaultsOf("name: a\nshutter_fraction: 0.5\nlens_focus: true\nworst_frame_share: 0.2\n"),
              ElementsAre("s:2:19: shutter_fraction: got 0.5, want 0 where any_still_must_hold is true",
                          "s:3:13: lens_focus: got true, want false where any_still_must_hold is true",
                          "s:4:20: worst_frame_share: got 0.2, want 1 where any_still_must_hold is true"));
}

TEST(ParseStyle, SyntaxFaultHasItsPlace) {
  EXPECT_THAT(FaultsOf("name: a\nholds: [1, 2\n"),
              ElementsAre(testing::StartsWith("s:3:1: got text that is not YAML (")));
}

}  // namespace
}  // namespace scantling
