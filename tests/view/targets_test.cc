// Every instruction set this machine can run gives the same decisions and the same figures.

#include <gtest/gtest.h>
#include <hwy/targets.h>

#include <cmath>
#include <vector>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

using view_test::Add;
using view_test::EmptyChunk;
using view_test::LogUniform;
using view_test::Random;
using view_test::RandomCamera;
using view_test::RandomlyTurned;
using view_test::ToWorld;
using view_test::Uniform;

struct Case {
  CameraView view;
  PoseChunk chunk;
};

std::vector<Case> RandomCases() {
  Random random(23);
  std::vector<Case> cases;
  for (int k = 0; k < 80; ++k) {
    const Camera camera = RandomCamera(random, k % 3 ? Projection::kPerspective : Projection::kOrthographic);
    Case one = {ViewOf(camera, 0), EmptyChunk()};
    const int count = k % 2 ? kChunkLanes : 1 + static_cast<int>(Uniform(random, 0, 255));
    for (int i = 0; i < count; ++i) {
      const double depth = LogUniform(random, 0.2, 150);
      const Vec3 at =
          ToWorld(camera.poses[0], Uniform(random, -1, 1) * depth, Uniform(random, -0.6, 0.6) * depth, depth);
      Add(one.chunk,
          RandomlyTurned(random, at,
                         {LogUniform(random, 0.1, 4), LogUniform(random, 0.1, 4), LogUniform(random, 0.1, 4)}));
    }
    cases.push_back(one);
  }
  return cases;
}

// Runs a body with one dispatch target in force, and puts the machine's own choice back.
class ForcedTarget {
 public:
  explicit ForcedTarget(int64_t target) {
    hwy::SetSupportedTargetsForTest(target);
    Update();
  }
  ~ForcedTarget() {
    hwy::SetSupportedTargetsForTest(0);
    Update();
  }

 private:
  static void Update() { hwy::GetChosenTarget().Update(hwy::SupportedTargets()); }
};

// Figures differ only in the rounding of doubles before they become floats: one ulp, 1.2e-7.
void ExpectNearlyEqual(const ViewBlock& got, const ViewBlock& want) {
  const double ulp = 1.2e-7;
  for (int i = 0; i < want.count; ++i) {
    ASSERT_EQ(got.flags[i], want.flags[i]);
    ASSERT_NEAR(got.covered_px[i], want.covered_px[i], ulp * want.covered_px[i]);
    ASSERT_NEAR(got.rendered_px[i], want.rendered_px[i], ulp * want.rendered_px[i]);
    ASSERT_NEAR(got.height_px[i], want.height_px[i], ulp * want.height_px[i]);
    ASSERT_NEAR(got.near_m[i], want.near_m[i], ulp * want.near_m[i]);
    ASSERT_NEAR(got.far_m[i], want.far_m[i], ulp * want.far_m[i]);
    ASSERT_EQ(std::isnan(got.u_px[i]), std::isnan(want.u_px[i]));
    if (std::isnan(want.u_px[i])) continue;
    ASSERT_NEAR(got.u_px[i], want.u_px[i], ulp * std::abs(want.u_px[i]) + 1e-9);
    ASSERT_NEAR(got.v_px[i], want.v_px[i], ulp * std::abs(want.v_px[i]) + 1e-9);
  }
}

TEST(MeasureChunk, EveryInstructionSetGivesTheSame) {
  const std::vector<Case> cases = RandomCases();
  const std::vector<int64_t> targets = hwy::SupportedAndGeneratedTargets();
  ASSERT_GE(targets.size(), 1u);
  std::vector<ViewBlock> want(cases.size()), got(cases.size());
  for (size_t k = 0; k < cases.size(); ++k) MeasureChunk(cases[k].chunk, 0, cases[k].view, want[k]);
  for (int64_t target : targets) {
    const ForcedTarget forced(target);
    ASSERT_STREQ(ViewInstructionSet(), hwy::TargetName(target));
    for (size_t k = 0; k < cases.size(); ++k) {
      MeasureChunk(cases[k].chunk, 0, cases[k].view, got[k]);
      ExpectNearlyEqual(got[k], want[k]);
      if (HasFatalFailure()) FAIL() << hwy::TargetName(target) << " case " << k;
    }
  }
}

TEST(MeasureChunk, SameInstructionSetGivesTheSameBits) {
  for (const Case& one : RandomCases()) {
    ViewBlock first, second;
    MeasureChunk(one.chunk, 0, one.view, first);
    MeasureChunk(one.chunk, 0, one.view, second);
    for (int i = 0; i < first.count; ++i) {
      ASSERT_EQ(first.covered_px[i], second.covered_px[i]);
      ASSERT_EQ(first.height_px[i], second.height_px[i]);
      ASSERT_EQ(first.flags[i], second.flags[i]);
    }
  }
}

TEST(ViewInstructionSet, IsTheBestOfThisMachine) {
  const int64_t targets = hwy::SupportedTargets() & HWY_TARGETS;
  EXPECT_STREQ(ViewInstructionSet(), hwy::TargetName(targets & -targets));
}

}  // namespace
}  // namespace scantling
