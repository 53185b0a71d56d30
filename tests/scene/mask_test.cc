// Masks of a camera: what is kept, and every refusal in its words.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "tests/scene/make_shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;

TEST(Masks, AreKeptWithTheirFrames) {
  ShotHeader header = MakeHeader();
  header.cameras[0].masks = {{0, 0.75, 1, 1, {}}, {0.25, 0, 0.5, 1, {{1010, 1012}, {1005, 1009}, {1020, 1020}}}};
  const Built built = BuildHeader(header);
  EXPECT_TRUE(built.violations.empty());
  const std::vector<Mask>& masks = built.scene.cameras[0].masks;
  ASSERT_EQ(masks.size(), 2u);
  EXPECT_EQ(masks[0].top, 0.75);
  EXPECT_EQ(masks[0].frames, (FrameSpans{{1001, 1024}}));  // none were sent: all
  EXPECT_EQ(masks[1].left, 0.25);
  EXPECT_EQ(masks[1].right, 0.5);
  EXPECT_EQ(masks[1].frames, (FrameSpans{{1005, 1012}, {1020, 1020}}));
}

TEST(Masks, AreEachCamerasOwn) {
  ShotHeader header = MakeHeader();
  header.cameras.push_back(MakeCamera("low"));
  header.cameras[1].masks = {{0, 0, 1, 0.5, {}}, {0, 0, 2, 1, {}}};
  const Built built = BuildHeader(header);
  EXPECT_TRUE(built.scene.cameras[0].masks.empty());
  EXPECT_EQ(built.scene.cameras[1].masks.size(), 2u);
  EXPECT_THAT(Faults(built),
              ElementsAre(Violation{"cameras[1].masks[1].right", "got 2, want a share of the picture, 0 to 1"}));
}

TEST(Masks, HaveAHeight) {
  ShotHeader header = MakeHeader();
  header.cameras[0].masks = {{0, 0.25, 1, 0.25, {}}};
  EXPECT_THAT(Faults(BuildHeader(header)),
              ElementsAre(Violation{"cameras[0].masks[0].bottom", "got 0.25, want a number above top (0.25)"}));
}

TEST(Masks, NotANumberIsNoShare) {
  ShotHeader header = MakeHeader();
  header.cameras[0].masks = {{std::nan(""), 0, 1, 1, {}}};
  EXPECT_THAT(Faults(BuildHeader(header)),
              ElementsAre(Violation{"cameras[0].masks[0].left", "got nan, want a share of the picture, 0 to 1"}));
}

TEST(Masks, FaultsAreNamed) {
  ShotHeader header = MakeHeader();
  header.cameras[0].masks = {{0.5, 0, 0.5, 1, {}}, {0, -1, 1, 2, {}}, {0, 0.5, 1, 0.25, {{1, 2}}}};
  EXPECT_THAT(
      Faults(BuildHeader(header)),
      ElementsAre(Violation{"cameras[0].masks[0].right", "got 0.5, want a number above left (0.5)"},
                  Violation{"cameras[0].masks[1].top", "got -1, want a share of the picture, 0 to 1"},
                  Violation{"cameras[0].masks[1].bottom", "got 2, want a share of the picture, 0 to 1"},
                  Violation{"cameras[0].masks[2].bottom", "got 0.25, want a number above top (0.5)"},
                  Violation{"cameras[0].masks[2].frames[0]", "got 1 to 2, want frames of the shot, 1001 to 1024"}));
  SceneLimits limits;
  limits.masks = 3;
  EXPECT_EQ(Faults(BuildHeader(header, limits)).size(), 5u);
  limits.masks = 2;
  EXPECT_THAT(Faults(BuildHeader(header, limits)), ElementsAre(Violation{"cameras[0].masks", "got 3, want at most 2"}));
}

}  // namespace
}  // namespace scantling
