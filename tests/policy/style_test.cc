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
  EXPECT_TRUE(style->class_holds.empty());
  EXPECT_EQ(style->keep_alive_floors, 40);
  EXPECT_EQ(style->change_margin, 0.05);
  EXPECT_EQ(style->change_margin_least, 0.00001);
  EXPECT_EQ(style->band_depth, DepthKind::kApparent);
  ASSERT_EQ(style->bands.size(), 4u);
  const std::pair<const char*, double> bands[] = {
      {"foreground", 0}, {"midground", 12}, {"background", 60}, {"backdrop", 300}};
  for (size_t i = 0; i < 4; ++i) {
    EXPECT_EQ(style->bands[i].name, bands[i].first);
    EXPECT_EQ(style->bands[i].from_m, bands[i].second);
  }
}

TEST(ParseStyle, ReadsEveryKey) {
  Violations violations;
  const std::optional<Style> style = ParseStyle(
      "name: lens_2\ndescription: words\nviewing_distance_heights: 2\n"
      "line_weight: [{depth_m: 1, picture_heights: 0.1}, {depth_m: 2, picture_heights: 0.2}]\n"
      "plate_shift: [{depth_m: 3, picture_heights: 0.3}]\ndepth: stage\nshutter_fraction: 0.5\n"
      "default_f_number: 2.8\nlens_focus: true\nany_still_must_hold: false\nworst_frame_share: 0.25\n"
      "worst_octaves: 3\nfull_contrast_de00: 15\nsmallest_covered_px: 0\nhandle_frames: 4\nsettle_frames: 0\n"
      "holds: [1, 3]\nclass_holds: {lead: {least: 1, greatest: 2}, hill: {least: 3, greatest: 12}}\n"
      "keep_alive_floors: 0.5\nchange_margin: 0.5\nchange_margin_least: 2\nband_depth: stage\nbands: [{name: near, "
      "from_m: 0}, {name: far, from_m: 0.25}]\n",
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
  ASSERT_EQ(style->class_holds.size(), 2u);
  EXPECT_EQ(style->class_holds[0].first, "lead");
  EXPECT_EQ(style->class_holds[0].second.greatest, 2);
  EXPECT_EQ(style->class_holds[1].first, "hill");
  EXPECT_EQ(style->class_holds[1].second.least, 3);
  EXPECT_EQ(style->class_holds[1].second.greatest, 12);
  EXPECT_EQ(style->keep_alive_floors, 0.5);
  EXPECT_EQ(style->change_margin, 0.5);
  EXPECT_EQ(style->change_margin_least, 2);
  EXPECT_EQ(style->band_depth, DepthKind::kStage);
  ASSERT_EQ(style->bands.size(), 2u);
  EXPECT_EQ(style->bands[1].name, "far");
  EXPECT_EQ(style->bands[1].from_m, 0.25);
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
          "settle_frames, holds, class_holds, keep_alive_floors, change_margin, change_margin_least, bands or "
          "band_depth"));
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

TEST(ParseStyle, HoldsEndAtTheLongest) {
  EXPECT_THAT(FaultsOf("name: a\nholds: [1, 12]\n"), ElementsAre());
  EXPECT_THAT(FaultsOf("name: a\nholds: [1, 13]\n"),
              ElementsAre("s:2:12: holds[1]: got \"13\", want a whole number from 1 to 12"));
}

TEST(ParseStyle, ClassHoldsHaveALeastAndAGreatest) {
  EXPECT_THAT(FaultsOf("name: a\nclass_holds:\n  lead: {least: 3, greatest: 2}\n  dog: {least: 1}\n"
                       "  gull: {least: 0, greatest: 13, most: 4}\n  cart: 2\n"),
              ElementsAre("s:6:9: class_holds.cart: got \"2\", want a mapping of keys to values",
                          "s:3:30: class_holds.lead.greatest: got 2, want at least the 3 of least",
                          "s:4:8: class_holds.dog.greatest: got no such key, want a whole number from 1 to 12",
                          "s:5:17: class_holds.gull.least: got \"0\", want a whole number from 1 to 12",
                          "s:5:30: class_holds.gull.greatest: got \"13\", want a whole number from 1 to 12",
                          "s:5:34: class_holds.gull: got the unknown key \"most\", want least or greatest"));
}

TEST(ParseStyle, BandsRiseFromZeroUnderDifferentNames) {
  EXPECT_THAT(FaultsOf("name: a\nbands: [{name: near, from_m: 1}, {name: far, from_m: 1}, {name: near, from_m: 2}]\n"),
              ElementsAre("s:2:30: bands[0].from_m: got 1, want 0 of the first band",
                          "s:2:54: bands[1].from_m: got 1, want more than the 1 of the band before",
                          "s:2:65: bands[2].name: got \"near\" again, want another name for every band"));
  EXPECT_THAT(
      FaultsOf("name: a\nbands: [{name: near, from_m: -1}, {from_m: 5}, {name: b}]\n"),
      ElementsAre("s:2:30: bands[0].from_m: got \"-1\", want a number from 0 to 1000000000",
                  "s:2:35: bands[1].name: got no such key, want a name of small letters, digits and _, a letter "
                  "first, at most 64 bytes",
                  "s:2:48: bands[2].from_m: got no such key, want a number from 0 to 1000000000"));
}

TEST(ParseStyle, ThereIsAtLeastOneBand) {
  EXPECT_THAT(FaultsOf("name: a\nbands: []\n"),
              ElementsAre("s:2:8: bands: got no bands, want at least one, such as [{name: all, from_m: 0}]"));
  EXPECT_THAT(FaultsOf("name: a\nbands: 3\n"),
              ElementsAre("s:2:8: bands: got \"3\", want a list of at most 64 mappings"));
}

TEST(ParseStyle, KeepAliveFloorsAreAboveZero) {
  EXPECT_THAT(FaultsOf("name: a\nkeep_alive_floors: 0\n"),
              ElementsAre("s:2:20: keep_alive_floors: got \"0\", want a number above 0 and at most 1000000"));
}

TEST(ParseStyle, ChangeMarginIsAShareAndItsLeastIsNotNegative) {
  EXPECT_THAT(FaultsOf("name: a\nchange_margin: 0\nchange_margin_least: 0\n"), ElementsAre());
  EXPECT_THAT(FaultsOf("name: a\nchange_margin: 1\nchange_margin_least: 1000000\n"), ElementsAre());
  EXPECT_THAT(FaultsOf("name: a\nchange_margin: 1.01\nchange_margin_least: -0.1\n"),
              ElementsAre("s:2:16: change_margin: got \"1.01\", want a number from 0 to 1",
                          "s:3:22: change_margin_least: got \"-0.1\", want a number from 0 to 1000000"));
  EXPECT_THAT(FaultsOf("name: a\nchange_margin: -0.01\nchange_margin_least: inf\n"),
              ElementsAre("s:2:16: change_margin: got \"-0.01\", want a number from 0 to 1",
                          "s:3:22: change_margin_least: got \"inf\", want a number from 0 to 1000000"));
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
