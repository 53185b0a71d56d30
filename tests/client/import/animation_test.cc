// Animation against hand arithmetic, through the whole import.

#include <cmath>

#include "gmock/gmock.h"
#include "tests/client/import/build_gltf.h"

namespace scantling {
namespace {

// One cube whose node is animated by one channel, sampled at four frames a second from frame 1.
struct Animated {
  GltfBuilder builder;
  int node;

  Animated() : node(builder.Node({{"name", "cube"}, {"mesh", builder.UnitCube()}})) {}

  const double* Frame(const std::string& path, const std::string& interpolation, int input, int output, int index) {
    builder.Animate(node, path, interpolation, input, output);
    shot_ = Imported(builder, {.rate_numerator = 4}).shot;
    return At(index);
  }
  const double* At(int index) const { return shot_.objects(0).transform().matrices().data() + 16 * index; }
  int matrices() const { return shot_.objects(0).transform().matrices_size() / 16; }
  const v1::Shot& shot() const { return shot_; }

 private:
  v1::Shot shot_;
};

TEST(ImportAnimation, LinearTranslationIsMixedByTime) {
  Animated a;
  const int times = a.builder.Floats({0, 1}, "SCALAR");
  const int values = a.builder.Floats({0, 0, 0, 8, 0, 4}, "VEC3");
  const double* m = a.Frame("translation", "LINEAR", times, values, 1);  // a quarter of the way: (2, 0, 1)
  EXPECT_EQ(m[12], 2);
  EXPECT_EQ(m[13], 0);
  EXPECT_EQ(m[14], 1);
  EXPECT_EQ(a.matrices(), 5);  // 1 s at 4 a second, both ends
  EXPECT_EQ(a.shot().frames().first(), 1);
  EXPECT_EQ(a.shot().frames().last(), 5);
}

TEST(ImportAnimation, StepStaysUntilTheNextKey) {
  Animated a;
  const int times = a.builder.Floats({0, 0.5f}, "SCALAR");
  const int values = a.builder.Floats({1, 0, 0, 3, 0, 0}, "VEC3");
  a.Frame("translation", "STEP", times, values, 0);
  EXPECT_EQ(a.At(0)[12], 1);
  EXPECT_EQ(a.At(1)[12], 1);
  EXPECT_EQ(a.At(2)[12], 3);
}

// Keys at 0 and 2 s, values 0 and 4, out-tangent 2, in-tangent -1. Half way u = 1/2, the Hermite weights are 1/2, 1/8,
// 1/2, -1/8 and tangents count times 2 s: 0/2 + 2*2/8 + 4/2 + (-1)*2*(-1/8) = 0.5 + 2 + 0.25 = 2.75.
TEST(ImportAnimation, CubicSplineFollowsItsTangents) {
  Animated a;
  const int times = a.builder.Floats({0, 2}, "SCALAR");
  const int values = a.builder.Floats({9, 9, 9, 0, 0, 0, 2, 0, 0, -1, 0, 0, 4, 0, 0, 9, 9, 9}, "VEC3");
  EXPECT_EQ(a.Frame("translation", "CUBICSPLINE", times, values, 4)[12], 2.75);
  EXPECT_EQ(a.At(0)[12], 0);
  EXPECT_EQ(a.At(8)[12], 4);
}

constexpr float kHalf = 0.70710678f;  // sine and cosine of 45 degrees; a quarter turn's quaternion

TEST(ImportAnimation, LinearRotationIsSlerped) {
  Animated a;
  const int times = a.builder.Floats({0, 1}, "SCALAR");
  const int values = a.builder.Floats({0, 0, 0, 1, 0, kHalf, 0, kHalf}, "VEC4");
  // A quarter of a quarter turn about Y is 22.5 degrees: a plain mix of the four numbers would give 21.8.
  const double* m = a.Frame("rotation", "LINEAR", times, values, 1);
  const double angle = M_PI / 8;
  EXPECT_NEAR(m[0], std::cos(angle), 1e-7);  // keys are floats
  EXPECT_NEAR(m[2], -std::sin(angle), 1e-7);
  EXPECT_NEAR(m[5], 1, 1e-12);
}

TEST(ImportAnimation, LinearRotationTakesTheShorterWay) {
  Animated a;
  const int times = a.builder.Floats({0, 1}, "SCALAR");
  const int values = a.builder.Floats({0, 0, 0, 1, 0, -kHalf, 0, -kHalf}, "VEC4");  // the same turn, other sign
  EXPECT_NEAR(a.Frame("rotation", "LINEAR", times, values, 2)[0], std::cos(M_PI / 4), 1e-7);
  EXPECT_NEAR(a.At(2)[2], -std::sin(M_PI / 4), 1e-7);
}

TEST(ImportAnimation, CubicRotationComesOutWithLengthOne) {
  Animated a;
  const int times = a.builder.Floats({0, 1}, "SCALAR");
  const int values =
      a.builder.Floats({0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, kHalf, 0, kHalf, 0, 0, 0, 0}, "VEC4");
  // Without tangents, half way is the mean (0, k/2, 0, (1+k)/2), whose direction is 22.5 degrees: half of 45 degrees.
  const double* m = a.Frame("rotation", "CUBICSPLINE", times, values, 2);
  EXPECT_NEAR(m[0], std::cos(M_PI / 4), 1e-7);
  EXPECT_NEAR(m[0] * m[0] + m[2] * m[2], 1, 1e-12);
}

TEST(ImportAnimation, NormalizedIntegersAreRotations) {
  Animated a;
  const int times = a.builder.Floats({0, 1}, "SCALAR");
  const int values = a.builder.Shorts({0, 0, 0, 32767, 0, 32767, 0, 0}, "VEC4");  // none, then half a turn about Y
  a.Frame("rotation", "LINEAR", times, values, 0);
  EXPECT_NEAR(a.At(4)[0], -1, 1e-12);
  EXPECT_NEAR(a.At(2)[0], 0, 1e-12);
}

TEST(ImportAnimation, BeforeTheFirstAndAfterTheLastKeyNothingMoves) {
  Animated a;
  const int times = a.builder.Floats({0.5f, 1}, "SCALAR");
  const int values = a.builder.Floats({5, 0, 0, 7, 0, 0}, "VEC3");
  a.builder.Animate(a.node, "translation", "LINEAR", times, values);
  const v1::Shot shot = Imported(a.builder, {.last_frame = 9, .rate_numerator = 4}).shot;
  EXPECT_EQ(shot.objects(0).transform().matrices(12), 5);
  EXPECT_EQ(shot.objects(0).transform().matrices(16 * 8 + 12), 7);
}

TEST(ImportAnimation, ChildrenMoveWithTheirParentAndOthersSendOneMatrix) {
  GltfBuilder builder;
  const int cube = builder.UnitCube();
  const int child = builder.Node({{"name", "child"}, {"mesh", cube}, {"translation", {0, 1, 0}}});
  const int parent = builder.Node({{"name", "parent"}, {"children", {child}}, {"scale", {2, 2, 2}}});
  builder.Node({{"name", "still"}, {"mesh", cube}});
  builder.Animate(parent, "translation", "LINEAR", builder.Floats({0, 1}, "SCALAR"),
                  builder.Floats({0, 0, 0, 3, 0, 0}, "VEC3"));
  const v1::Shot shot = Imported(builder, {.rate_numerator = 1}).shot;
  ASSERT_EQ(shot.objects_size(), 2);
  EXPECT_EQ(shot.objects(0).id(), "parent/child");
  // Second frame: 3 along x from the parent, 2 * 1 up through its scale.
  const auto& moving = shot.objects(0).transform().matrices();
  ASSERT_EQ(moving.size(), 32);
  EXPECT_EQ(moving[16 + 12], 3);
  EXPECT_EQ(moving[16 + 13], 2);
  EXPECT_EQ(moving[16], 2);
  EXPECT_EQ(shot.objects(1).transform().matrices_size(), 16);
}

TEST(ImportAnimation, FramesScaledToNothingKeepTheNearestPlaceWithAWarning) {
  Animated a;
  const int times = a.builder.Floats({0, 0.5f, 1}, "SCALAR");
  const int values = a.builder.Floats({0, 0, 0, 2, 2, 2, 0, 0, 0}, "VEC3");
  a.builder.Animate(a.node, "scale", "STEP", times, values);
  const GltfImport got = Imported(a.builder, {.rate_numerator = 4});
  EXPECT_THAT(got.warnings, testing::Contains("nodes[0]: is scaled to nothing on 3 frames; its nearest place with a "
                                              "size stands there"));
  EXPECT_EQ(got.shot.objects(0).transform().matrices_size(), 16);  // 2 on all frames, so one matrix says it
  EXPECT_EQ(got.shot.objects(0).transform().matrices(0), 2);
}

TEST(ImportAnimation, MorphWeightsAreLeftOutWithAWarning) {
  Animated a;
  a.builder.Animate(a.node, "weights", "LINEAR", a.builder.Floats({0, 1}, "SCALAR"),
                    a.builder.Floats({0, 1}, "SCALAR"));
  EXPECT_THAT(Imported(a.builder).warnings, testing::Contains("animations[0].channels[0]: moves morph targets; boxes "
                                                              "stay those of the rest pose"));
}

}  // namespace
}  // namespace scantling
