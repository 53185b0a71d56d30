// What must hold of any shot: order of the tiers, monotone in size and importance, independence, invariance, and
// explanations that add up.

#include <cmath>
#include <memory>
#include <random>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using Random = std::mt19937_64;

double Uniform(Random& random, double from, double to) { return from + (to - from) * (random() >> 11) * 0x1p-53; }

Pose RandomPose(Random& random) {
  const double turn = Uniform(random, -3, 3), c = std::cos(turn), s = std::sin(turn), size = Uniform(random, 0.02, 1.5);
  const auto f = [](double x) { return static_cast<float>(x); };
  return {.centre = {Uniform(random, -15, 15), Uniform(random, -8, 8), Uniform(random, -60, 2)},
          .axes = {f(c * size), 0, f(-s * size), 0, f(size * 1.5), 0, f(s * size), 0, f(c * size)}};
}

// `objects` still or moving boxes of four classes over `frames` frames: a stereo pair on a moving camera and a third
// picture, lens and shutter or line and shift, points of interest, colours, some measured, some without geometry; walls
// that hide, a title, frames replaced by drawings, beats.
Shot RandomShot(uint64_t seed, int objects, int32_t frames) {
  Random random(seed);
  Shot shot(frames);
  const bool still = seed % 2 == 0;
  shot.style.any_still_must_hold = still;
  shot.style.worst_frame_share = still ? 1 : Uniform(random, 0, 1);
  shot.style.shutter_fraction = still ? 0 : 0.5;
  shot.style.lens_focus = !still;
  shot.style.default_f_number = 2.8;
  shot.style.plate_shift.points = {{5, 0.0005}, {50, 0.004}};
  for (int i = 0; i < 4; ++i) {
    shot.AddClass(i % 2 == 0 ? ClassKind::kFigure : ClassKind::kSetElement, Uniform(random, 0.2, 1));
    ObjectClass& made = shot.catalogue.classes.back();
    made.phi = {1, Uniform(random, 0.2, 0.9), Uniform(random, 0.01, 0.2), 0};
    if (i == 3) made.phi[kProxy] = made.phi[kPatch];
    if (i < 2) made.real_height_m = Uniform(random, 1, 4);
  }
  for (int32_t picture : {0, 0, 1}) {
    Camera& camera = shot.AddCamera(picture);
    camera.overscan_px = 40;
    camera.poses.resize(static_cast<size_t>(frames), camera.poses[0]);
    const double x = Uniform(random, -1, 1);
    for (int32_t f = 0; f < frames; ++f) {
      camera.poses[static_cast<size_t>(f)].position_m = {x + 0.1 * f, 0, -0.05 * f};
      camera.poses[static_cast<size_t>(f)].focus_m = 12;
    }
  }
  shot.scene.interest.push_back({kNone, 0.3, 0.4, {1001, 1002}});
  shot.scene.interest.push_back({0, 0, 0, shot.scene.frames});
  shot.scene.backdrop_colour = {90, 100, 120};
  shot.scene.replaced = {{1003, 1003}};
  shot.scene.beats = {1002, 1005};
  shot.scene.cameras[1].masks.push_back({.left = 0.5, .top = 0, .right = 1, .bottom = 0.5, .frames = {{1002, 1006}}});
  for (int i = 0; i < objects; ++i) {
    const uint32_t row = shot.AddRow(static_cast<uint16_t>(random() % 4), static_cast<float>(Uniform(random, 0.1, 10)));
    if (random() % 2 == 0) {
      shot.scene.objects.colour[row] = {static_cast<uint8_t>(random()), 100, static_cast<uint8_t>(random()), 1};
    }
    const bool placeless = i % 11 == 5;
    if (placeless || i % 7 == 3) {
      std::vector<MeasuredFigure> figures;
      for (int32_t f = 0; f < 3 * frames; ++f) {
        const auto height = static_cast<float>(Uniform(random, -20, 100));
        if (height > 0) {
          figures.push_back({height, height * height, static_cast<float>(Uniform(random, 5, 50))});
        } else {
          figures.push_back({});
        }
      }
      shot.Measure(row, figures);
    }
    if (i % 5 == 1) shot.Own(row).replaced = {{1003, 1003 + static_cast<int32_t>(random() % 3)}};
    if (i % 6 == 1) shot.Own(row).beats = {1002, 1004, 1005};
    if (placeless) continue;
    if (i % 4 == 0) shot.scene.objects.inner_box[row] = 0.9F;
    std::vector<Pose> poses = {RandomPose(random)};
    const bool moves = i % 2 == 0;
    for (int32_t f = 1; moves && f < frames; ++f) {
      poses.push_back(poses.back());
      poses.back().centre[0] += 0.3;
    }
    shot.Place(row, moves ? 1 : 0, poses);
  }
  return shot;
}

// The frames of one camera's figures, as ExplainFrames lists them.
std::vector<FrameFigures> Through(const std::vector<FrameFigures>& all, size_t camera) {
  std::vector<FrameFigures> through;
  for (const FrameFigures& frame : all) {
    if (frame.camera == camera) through.push_back(frame);
  }
  return through;
}

// Adds up explained frames as 2-model section 4 says, in frame order.
PerTier<double> AddUp(const Shot& shot, const std::vector<FrameFigures>& all) {
  PerTier<double> total = {};
  const double k = shot.style.worst_frame_share;
  for (int32_t picture = 0; picture < shot.scene.pictures; ++picture) {
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      double sum = 0, worst = 0;
      int32_t seen_frames = 0;
      for (int32_t f = 0; f < shot.scene.frames.count(); ++f) {
        double loss = 0;
        bool seen = false;
        for (size_t camera = 0; camera < shot.scene.cameras.size(); ++camera) {
          if (shot.scene.cameras[camera].picture != picture) continue;
          const FrameFigures figures = Through(all, camera)[static_cast<size_t>(f)];
          loss = std::max(loss, figures.loss[tier]);
          seen |= figures.seen;
        }
        sum += loss;
        worst = std::max(worst, loss);
        seen_frames += seen ? 1 : 0;
      }
      total[tier] += (1 - k) * sum + k * seen_frames * worst;
    }
  }
  return total;
}

class AnyShot : public ::testing::TestWithParam<uint64_t> {};
INSTANTIATE_TEST_SUITE_P(Seeds, AnyShot, ::testing::Range<uint64_t>(1, 7));

// To the last bit: the same functions in the same order.
TEST_P(AnyShot, ExplainedFramesAddUpToTheColumnsExactly) {
  const Shot shot = RandomShot(GetParam(), 60, 7);
  const ShotOptics optics = shot.Optics();
  const Legibility columns = FoldForReal(shot);
  int seen_objects = 0, partly_hidden = 0, replaced = 0;
  for (uint32_t row = 0; row < shot.scene.objects.size(); ++row) {
    const std::vector<FrameFigures> all = ExplainFrames(optics, row, 1, 0);
    ASSERT_EQ(all.size(), shot.scene.cameras.size() * static_cast<size_t>(shot.scene.frames.count()));
    EXPECT_EQ(AddUp(shot, all), columns.loss[row][kPhiAsGiven]) << row;
    int32_t seen = 0;
    double largest = 0, turn = 0;
    PerTier<double> worst = {};
    for (const FrameFigures& figures : all) {
      seen += figures.seen ? 1 : 0;
      replaced += figures.replaced ? 1 : 0;
      if (!figures.seen) continue;
      partly_hidden += figures.visible < 1 ? 1 : 0;
      largest = std::max(largest, figures.height_px / figures.floor.px);
      turn = std::max(turn, figures.turn_px / figures.floor.px);
      for (size_t tier = 0; tier < kTierCount; ++tier) worst[tier] = std::max(worst[tier], figures.octaves[tier]);
    }
    EXPECT_EQ(seen, columns.seen_camera_frames[row]);
    EXPECT_EQ(static_cast<float>(largest), columns.height_over_floor[row]);
    EXPECT_EQ(static_cast<float>(turn), columns.turn_over_floor[row]);
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      EXPECT_EQ(static_cast<float>(worst[tier]), columns.worst_octaves[row][tier]);
    }
    seen_objects += seen > 0 ? 1 : 0;
  }
  // The shot shows something, and something of everything.
  EXPECT_GT(seen_objects, 15);
  EXPECT_GT(partly_hidden, 15);
  EXPECT_GT(replaced, 60);
}

// A fold looks at every frame of a hold, an explanation at those where the place changes. Kept in single precision.
TEST_P(AnyShot, ExplainedJumpsAreNoneLargerThanTheFoldFound) {
  Shot shot = RandomShot(GetParam() + 500, 60, 7);
  for (uint32_t row = 1; row < 60; row += 3) shot.scene.objects.container[row] = row - 1;
  const ShotOptics optics = shot.Optics();
  const Legibility columns = FoldForReal(shot);
  const size_t at = FirstJump(shot.style, 2);  // twos, from the beat at 1005 on
  int jumps = 0;
  for (uint32_t row = 0; row < shot.scene.objects.size(); ++row) {
    double largest = 0;
    for (const FrameFigures& figures : ExplainFrames(optics, row, 2, 0)) largest = std::max(largest, figures.jump_px);
    const uint32_t first = columns.motion.first_jump[row];
    const double found = first == kNone ? kNoJumpPx : columns.motion.jumps[first + at].px;
    EXPECT_LE(largest, found * (1 + 1e-6) + 1e-6) << row;
    jumps += largest > 1 ? 1 : 0;
  }
  EXPECT_GT(jumps, 3);
}

TEST_P(AnyShot, LossNeverFallsAsTheTierFalls) {
  Shot shot = RandomShot(GetParam() + 100, 400, 5);
  shot.style.full_contrast_de00 = 80;  // softens most
  const Legibility columns = FoldForReal(shot);
  for (size_t row = 0; row < columns.loss.size(); ++row) {
    for (const PerTier<double>& loss : columns.loss[row]) {
      EXPECT_EQ(loss[kFull], 0);
      EXPECT_LE(loss[kFull], loss[kProxy]);
      EXPECT_LE(loss[kProxy], loss[kPatch]);
      EXPECT_LE(loss[kPatch], loss[kOmit]);
    }
    EXPECT_LE(columns.worst_octaves[row][kProxy], columns.worst_octaves[row][kPatch]);
    EXPECT_LE(columns.worst_octaves[row][kPatch], columns.worst_octaves[row][kOmit]);
  }
}

// phi in rising scale: what a coarser judgement drops is never less.
TEST_P(AnyShot, LossNeverFallsAsPhiRises) {
  const Legibility columns = FoldForReal(RandomShot(GetParam() + 200, 200, 5));
  for (const auto& scales : columns.loss) {
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      EXPECT_LE(scales[0][tier], scales[1][tier]);
      EXPECT_LE(scales[1][tier], scales[2][tier]);
    }
  }
}

TEST_P(AnyShot, LossIsMonotoneInImportance) {
  Shot shot = RandomShot(GetParam() + 300, 100, 5);
  const Legibility before = FoldForReal(shot);
  for (float& importance : shot.scene.objects.importance) importance *= 2;  // doubling is exact in floating point
  const Legibility after = FoldForReal(shot);
  for (size_t row = 0; row < before.loss.size(); ++row) {
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      EXPECT_EQ(after.loss[row][kPhiAsGiven][tier], 2 * before.loss[row][kPhiAsGiven][tier]);
    }
  }
}

TEST(ChunkFold, LossIsMonotoneInSize) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kFigure)), 0, {Pose{}});
  PerTier<double> last = {};
  for (float height_px = 0.25; height_px < 2000; height_px *= 1.03F) {
    const Figure figure = {.height_px = height_px, .area_px = std::min(2e6F, 10 + height_px * height_px)};
    const PerTier<double> loss = FoldByHand(shot, {{{figure}}}).loss[0][kPhiAsGiven];
    for (size_t tier = 0; tier < kTierCount; ++tier) EXPECT_LE(last[tier], loss[tier]) << height_px;
    last = loss;
  }
  EXPECT_GT(last[kProxy], 0);
}

// The cheated set: scaling an object, its path and its distance about each frame's camera changes nothing where the
// curves read apparent depth. By powers of two, floats scale exactly; by others an axis is rounded anew (6e-8), which
// moves areas and heights by some 1e-7 relative. Octaves add what log2 makes of it.
TEST(ChunkFold, ScalingAboutTheCameraChangesNothing) {
  Shot shot(6);
  Random random(5);
  Camera& camera = shot.AddCamera(0);
  camera.poses.resize(6, camera.poses[0]);
  for (size_t f = 0; f < 6; ++f) camera.poses[f].position_m = {0.2 * static_cast<double>(f), 0.1, 0};
  shot.AddClass(ClassKind::kFigure);
  shot.AddClass(ClassKind::kSetElement);
  for (ObjectClass& made : shot.catalogue.classes) made.real_height_m = 1.7;
  shot.style.plate_shift.points = {{2, 0.0005}, {80, 0.02}};
  Shot scaled_shot = shot;
  for (int i = 0; i < 100; ++i) {
    const Pose pose = RandomPose(random);
    const double factor = i < 50 ? 8 : Uniform(random, 0.5, 9);
    std::vector<Pose> poses(6, pose), scaled_poses(6, pose);
    for (size_t f = 0; f < 6; ++f) {
      poses[f].centre[2] -= 8;  // clear of the near plane at every factor
      for (size_t axis = 0; axis < 3; ++axis) {
        const double eye = camera.poses[f].position_m[axis];
        scaled_poses[f].centre[axis] = eye + factor * (poses[f].centre[axis] - eye);
      }
      for (float& component : scaled_poses[f].axes) component = static_cast<float>(component * factor);
    }
    const auto class_index = static_cast<uint16_t>(i % 2);
    shot.Place(shot.AddRow(class_index), 0, poses);
    scaled_shot.Place(scaled_shot.AddRow(class_index), 0, scaled_poses);
  }
  const Legibility columns = FoldForReal(shot), scaled = FoldForReal(scaled_shot);
  int seen = 0;
  for (size_t row = 0; row < columns.loss.size(); ++row) {
    seen += columns.sight[row] == Sight::kSeen ? 1 : 0;
    EXPECT_EQ(columns.sight[row], scaled.sight[row]);
    EXPECT_NEAR(scaled.floor_px[row], columns.floor_px[row], 1e-5 * columns.floor_px[row]);
    EXPECT_NEAR(scaled.apparent_m[row], columns.apparent_m[row], 1e-5 * columns.apparent_m[row]);
    for (size_t tier = 0; tier < kTierCount; ++tier) {
      const double loss = columns.loss[row][kPhiAsGiven][tier];
      EXPECT_NEAR(scaled.loss[row][kPhiAsGiven][tier], loss, 1e-5 * loss + 1e-9) << row << " tier " << tier;
    }
  }
  EXPECT_GT(seen, 30);
}

// Objects dealt out to chunks in another way: the same bytes.
TEST(ChunkFold, ChunksAreIndependent) {
  Shot together(4), apart(4);
  Random random(9);
  for (Shot* shot : {&together, &apart}) {
    shot->AddCamera(0);
    shot->AddClass(ClassKind::kFigure);
    shot->AddClass(ClassKind::kSetElement);
  }
  for (int i = 0; i < 120; ++i) {
    const Pose pose = RandomPose(random);
    std::vector<Pose> poses(4, pose);
    for (size_t f = 0; f < 4; ++f) poses[f].centre[0] += 0.2 * static_cast<double>(f);
    together.Place(together.AddRow(static_cast<uint16_t>(i % 2)), 0, poses);
    apart.Place(apart.AddRow(static_cast<uint16_t>(i % 2)), static_cast<size_t>(i % 5), poses);
  }
  const Legibility one = FoldForReal(together), five = FoldForReal(apart);
  EXPECT_EQ(one.loss, five.loss);
  EXPECT_EQ(one.turn_over_floor, five.turn_over_floor);
  EXPECT_EQ(one.span_begin, five.span_begin);
  EXPECT_EQ(one.spans, five.spans);
  EXPECT_EQ(one.near_m, five.near_m);
}

// As planning does where depth maps of all frames do not fit: folds of all chunks wait for one another, block of frames
// by block. Any number of threads takes chunks in any order, so this is what thread independence rests on.
TEST_P(AnyShot, FoldsThatWaitForOneAnotherGiveTheSameBytes) {
  const Shot shot = RandomShot(GetParam() + 400, 300, 7);
  const ShotOptics optics = shot.Optics();
  const Legibility expected = FoldForReal(shot);
  Legibility columns;
  columns.Resize(shot.scene.objects.size());
  std::vector<std::unique_ptr<ChunkFold>> folds;
  for (const PoseChunk& chunk : shot.scene.chunks) folds.push_back(std::make_unique<ChunkFold>(optics, chunk));
  FoldScratch scratch;
  std::vector<ViewBlock> blocks(shot.scene.cameras.size());
  for (const FrameRange block : {FrameRange{0, 2}, {3, 3}, {4, 6}}) {
    for (size_t i = folds.size(); i-- > 0;) {  // backwards
      for (int32_t f = block.first; f <= block.last; ++f) {
        for (size_t c = 0; c < blocks.size(); ++c) MeasureHidden(optics, shot.scene.chunks[i], c, f, blocks[c]);
        folds[i]->Add(f, blocks, scratch);
      }
    }
  }
  std::vector<LaneFindings> by_object(shot.scene.objects.size());
  for (size_t i = 0; i < folds.size(); ++i) Keep(shot.scene.chunks[i].object, folds[i]->Finish(columns), by_object);
  const std::vector<uint32_t> placeless = Placeless(shot.scene.objects);
  Keep(placeless, FoldMeasured(optics, placeless, columns), by_object);
  Assemble(std::move(by_object), columns);
  EXPECT_EQ(columns.loss, expected.loss);
  EXPECT_EQ(columns.sight, expected.sight);
  EXPECT_EQ(columns.hidden_frames, expected.hidden_frames);
  EXPECT_EQ(columns.visible_fraction, expected.visible_fraction);
  EXPECT_EQ(columns.rendered_megapixels, expected.rendered_megapixels);
  EXPECT_EQ(columns.turn_over_floor, expected.turn_over_floor);
  EXPECT_EQ(columns.spans, expected.spans);
  EXPECT_EQ(columns.section_begin, expected.section_begin);
  EXPECT_EQ(columns.motion.travel_px, expected.motion.travel_px);
  EXPECT_EQ(columns.motion.first_jump, expected.motion.first_jump);
}

TEST(InterestPoints, FollowObjectsAndLeaveOutWhatHasNoPlace) {
  Shot shot(2);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  shot.Place(shot.AddRow(0), 0, {Pose{.centre = {2, 1, -10}}});
  shot.Place(shot.AddRow(0), 0, {Pose{.centre = {0, 0, 10}}});  // behind the eye
  shot.AddRow(0);                                               // no geometry
  for (uint32_t row : {0u, 1u, 2u}) shot.scene.interest.push_back({row, 0, 0, shot.scene.frames});
  shot.scene.interest.push_back({kNone, 0.25, 0.75, {1002, 1002}});
  const ShotOptics optics = shot.Optics();
  ASSERT_EQ(optics.interest[0].size(), 1u);
  EXPECT_NEAR(optics.interest[0][0].u_px, 1000 + 200, 1e-9);  // 100 px per metre
  EXPECT_NEAR(optics.interest[0][0].v_px, 500 - 100, 1e-9);
  ASSERT_EQ(optics.interest[1].size(), 2u);
  EXPECT_EQ(optics.interest[1][1].u_px, 500);
  EXPECT_EQ(optics.interest[1][1].v_px, 750);
}

}  // namespace
}  // namespace scantling
