// Several cameras: a stereo pair counts once, by its greater eye; separate pictures add.

#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

constexpr double kRounding = 1e-12;

// One figure or set element, two cameras showing pictures `first` and `second`.
Shot TwoCameras(int32_t first, int32_t second, ClassKind kind, int32_t frames) {
  Shot shot(frames);
  shot.AddCamera(first);
  shot.AddCamera(second);
  shot.Place(shot.AddRow(shot.AddClass(kind)), 0, {Pose{}});
  return shot;
}

// Loss at OMITTED: 3 * area * 0.5 / 2,000,000 * log2(height): 16 px on 2000 px: 0.006; 32 px on 1000 px: 0.00375;
// 4 px on 2000 px: 0.003.
const Figure kStrong = {.height_px = 16, .area_px = 2000}, kMiddling = {.height_px = 32, .area_px = 1000},
             kWeak = {.height_px = 4, .area_px = 2000}, kUnseen = {.in_frame = false};

double OmittedLoss(const Shot& shot, const std::vector<std::vector<std::vector<Figure>>>& frames) {
  return FoldByHand(shot, frames).loss[0][kPhiAsGiven][kOmit];
}

class EveryKind : public ::testing::TestWithParam<ClassKind> {};
INSTANTIATE_TEST_SUITE_P(Cameras, EveryKind, ::testing::Values(ClassKind::kFigure, ClassKind::kSetElement));

TEST_P(EveryKind, StereoPairCountsOnceByItsGreaterEye) {
  const Shot shot = TwoCameras(0, 0, GetParam(), 2);
  EXPECT_NEAR(OmittedLoss(shot, {{{kStrong}, {kMiddling}}, {{kWeak}, {kMiddling}}}), 0.006 + 0.00375, kRounding);
  EXPECT_NEAR(OmittedLoss(shot, {{{kStrong}, {kUnseen}}, {{kUnseen}, {kUnseen}}}), 0.006, kRounding);
}

TEST_P(EveryKind, TwoEqualEyesAreOne) {
  const Shot pair = TwoCameras(0, 0, GetParam(), 1);
  EXPECT_NEAR(OmittedLoss(pair, {{{kStrong}, {kStrong}}}), 0.006, kRounding);
}

TEST_P(EveryKind, SeparatePicturesAdd) {
  const Shot shot = TwoCameras(0, 1, GetParam(), 2);
  EXPECT_NEAR(OmittedLoss(shot, {{{kStrong}, {kMiddling}}, {{kWeak}, {kMiddling}}}), 0.006 + 0.003 + 0.00375 + 0.00375,
              kRounding);
}

// Each picture by its own worst frame and its own seen frames: 2 * 0.006 + 1 * 0.00375.
TEST_P(EveryKind, SeparatePicturesAddAlsoByTheirWorstFrames) {
  Shot shot = TwoCameras(0, 1, GetParam(), 2);
  shot.style.worst_frame_share = 1;
  EXPECT_NEAR(OmittedLoss(shot, {{{kStrong}, {kUnseen}}, {{kWeak}, {kMiddling}}}), 2 * 0.006 + 0.00375, kRounding);
}

TEST_P(EveryKind, FramesAreSeenThroughAnyCamera) {
  const Shot shot = TwoCameras(0, 1, GetParam(), 3);
  const Legibility columns = FoldByHand(shot, {{{kStrong}, {kUnseen}}, {{kStrong}, {kWeak}}, {{kUnseen}, {kWeak}}});
  EXPECT_EQ(columns.seen_frames[0], 3);
  EXPECT_EQ(columns.seen_camera_frames[0], 4);
  ASSERT_EQ(columns.spans_of(0).size(), 1u);
  EXPECT_EQ(columns.spans_of(0)[0], (FrameRange{1001, 1003}));
}

// One stereo pair and one camera on its own: pictures 0 (cameras 0 and 2) and 1.
TEST_P(EveryKind, PairAndSingleTogether) {
  Shot shot = TwoCameras(0, 1, GetParam(), 1);
  shot.AddCamera(0);
  EXPECT_NEAR(OmittedLoss(shot, {{{kMiddling}, {kWeak}, {kStrong}}}), 0.006 + 0.003, kRounding);
}

}  // namespace
}  // namespace scantling
