#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>
#include <limits>

#include "tests/scene/make_shot.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

std::vector<Violation> FaultsWith(const std::function<void(ObjectRow&)>& spoil) {
  ObjectRow row = MakeRow("lamplighter");
  spoil(row);
  return Faults(Build({row}));
}

std::vector<double> Matrices(size_t count) {
  std::vector<double> matrices;
  for (size_t i = 0; i < count; ++i) {
    matrices.insert(matrices.end(), kIdentity.begin(), kIdentity.end());
    matrices[16 * i + 12] = static_cast<double>(i);  // walks along X
  }
  return matrices;
}

TEST(SceneRows, ColumnsHoldWhatWasSent) {
  ObjectRow ferry = MakeRow("ferry");
  ferry.class_name = "dwelling";
  ObjectRow rower = MakeRow("rower");
  rower.asset = "rower_rig";
  rower.container = "ferry";
  rower.importance = 3;
  rower.complexity = 1.5;
  rower.colour = {10, 20, 30};
  rower.spent_hours = {0, 0, 2.5, 0};
  const Built built = Build({rower, ferry});
  ASSERT_THAT(Faults(built), IsEmpty());
  const Objects& objects = built.scene.objects;
  EXPECT_EQ(objects.id[0], "rower");
  EXPECT_THAT(objects.class_index, ElementsAre(0, 2));
  EXPECT_EQ(built.scene.assets[objects.asset[0]], "rower_rig");
  EXPECT_EQ(objects.asset[1], kNone);
  EXPECT_THAT(objects.container, ElementsAre(1u, kNone));
  EXPECT_THAT(objects.importance, ElementsAre(3.0f, 0.25f));  // the second is its class's
  EXPECT_THAT(objects.complexity, ElementsAre(1.5f, 1.0f));
  EXPECT_THAT(objects.colour[0], ElementsAre(10, 20, 30, 1));
  EXPECT_EQ(objects.colour[1][3], 0);
  EXPECT_THAT(objects.canonical, ElementsAre(1u, 0u));
  ASSERT_THAT(built.scene.spent, SizeIs(1));
  EXPECT_EQ(built.scene.spent[0].tier, Tier::kProxy);
  EXPECT_EQ(built.scene.spent[0].anim_hours, 2.5);
}

TEST(SceneRows, StillAndMovingObjectsHaveChunksOfTheirOwn) {
  const std::vector<double> track = Matrices(24);
  std::vector<std::string> ids;
  for (int i = 0; i < 600; ++i) ids.push_back(Numbered("o", static_cast<size_t>(i)));
  std::vector<ObjectRow> rows;
  for (size_t i = 0; i < ids.size(); ++i) {
    rows.push_back(MakeRow(ids[i]));
    if (i % 2 == 1) rows.back().transforms = track;
  }
  const Built built = Build(rows);
  ASSERT_THAT(Faults(built), IsEmpty());
  // 300 of each kind, 256 to a chunk: two chunks of each.
  ASSERT_THAT(built.scene.chunks, SizeIs(4));
  for (size_t row = 0; row < rows.size(); ++row) {
    const PoseChunk& chunk = built.scene.chunks[built.scene.objects.chunk[row]];
    const uint16_t lane = built.scene.objects.lane[row];
    EXPECT_EQ(chunk.frames, row % 2 == 1 ? 24 : 1);
    EXPECT_EQ(chunk.object[lane], row);
    EXPECT_EQ(chunk.centre_x[chunk.at(7, lane)], row % 2 == 1 ? 7 : 0);
    EXPECT_EQ(chunk.centre_y[chunk.at(7, lane)], 0.9);
    EXPECT_EQ(chunk.axis[4][chunk.at(7, lane)], 0.9f);
  }
}

TEST(SceneRows, ATrackThatStaysIsKeptAsOnePose) {
  std::vector<double> track;
  for (int i = 0; i < 24; ++i) track.insert(track.end(), kIdentity.begin(), kIdentity.end());
  ObjectRow row = MakeRow("a");
  row.transforms = track;
  EXPECT_EQ(Build({row}).scene.chunks[0].frames, 1);
}

TEST(SceneRows, IdsAreChecked) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) { r.id = ""; }),
              ElementsAre(Violation{"objects[0].id", "got nothing, want a name of 1 to 1024 bytes"}));
  const std::string longest(1024, 'x'), longer(1025, 'x');
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.id = longest; }), IsEmpty());
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.id = longer; }),
              ElementsAre(Violation{"objects[0].id", "got 1025, want at most 1024 bytes"}));
  EXPECT_THAT(FaultsWith([](ObjectRow& r) { r.id = "\xC0\x80"; }),
              ElementsAre(Violation{"objects[0].id", "got \"\\xc0\\x80\", want UTF-8 text (byte 0 is 0xc0)"}));
}

TEST(SceneRows, DuplicateIdsNameBothPlaces) {
  EXPECT_THAT(Faults(Build({MakeRow("a"), MakeRow("b"), MakeRow("a")})),
              ElementsAre(Violation{"objects[2].id",
                                    "got \"a\", already used at objects[0].id, want ids that are unique in the shot"}));
}

TEST(SceneRows, OtherNamesAreChecked) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) { r.class_name = "persn"; }),
              ElementsAre(Violation{"objects[0].class_name",
                                    "got \"persn\", want a class of the catalogue (nearest: \"person\")"}));
  EXPECT_THAT(FaultsWith([](ObjectRow& r) {
                r.asset = "\x7F";
                r.container = "\xFF";
              }),
              ElementsAre(Violation{"objects[0].asset_id",
                                    "got \"\\x7f\", want text without control characters (byte 0 is 0x7f)"},
                          Violation{"objects[0].container_id", "got \"\\xff\", want UTF-8 text (byte 0 is 0xff)"}));
}

TEST(SceneRows, UnknownContainersAreRefused) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) { r.container = "ghost"; }),
              ElementsAre(Violation{"objects[0].container_id", "got \"ghost\", want the id of an object of the shot"}));
}

TEST(SceneRows, AFaultyContainerIsStillKnown) {
  ObjectRow ferry = MakeRow("ferry");
  ferry.class_name = "fery";
  ObjectRow rower = MakeRow("rower");
  rower.container = "ferry";
  EXPECT_THAT(Faults(Build({ferry, rower})), SizeIs(1));
}

TEST(SceneRows, CyclesNameEveryMember) {
  std::vector<ObjectRow> rows = {MakeRow("a"), MakeRow("b"), MakeRow("c"), MakeRow("self")};
  rows[0].container = "b";
  rows[1].container = "c";
  rows[2].container = "a";
  rows[3].container = "self";
  EXPECT_THAT(Faults(Build(rows)),
              ElementsAre(Violation{"objects[0].container_id",
                                    "got a cycle of containers: \"a\" in \"b\" in \"c\" in \"a\" (3 objects), want no "
                                    "object that holds itself"},
                          Violation{"objects[3].container_id",
                                    "got a cycle of containers: \"self\" in \"self\" (1 object), want no object that "
                                    "holds itself"}));
}

TEST(SceneRows, LongCyclesAreNamedInPart) {
  std::vector<std::string> ids;
  for (int i = 0; i < 20; ++i) ids.push_back(Numbered("n", static_cast<size_t>(i)));
  std::vector<ObjectRow> rows;
  for (size_t i = 0; i < ids.size(); ++i) {
    rows.push_back(MakeRow(ids[i]));
    rows.back().container = ids[(i + 1) % ids.size()];
  }
  EXPECT_THAT(
      Faults(Build(rows)),
      ElementsAre(Violation{"objects[0].container_id",
                            "got a cycle of containers: \"n0\" in \"n1\" in \"n2\" in \"n3\" in \"n4\" in \"n5\" "
                            "in \"n6\" in \"n7\" in ... in \"n0\" (20 objects), want no object that holds "
                            "itself"}));
}

TEST(SceneRows, TracksHaveNoGaps) {
  const std::vector<double> seventeen = Matrices(17), all = Matrices(24);
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.transforms = all; }), IsEmpty());
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.transforms = seventeen; }),
              ElementsAre(Violation{"objects[0].transform.matrices", "got 17, want 1 or 24 (matrices)"}));
  EXPECT_THAT(
      FaultsWith([&](ObjectRow& r) { r.transforms = std::span(all).first(100); }),
      ElementsAre(Violation{"objects[0].transform.matrices", "got 100, want 16 numbers a matrix, 1 or 24 matrices"}));
}

TEST(SceneRows, SomethingMustBeMeasurable) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) { r.transforms = {}; }),
              ElementsAre(Violation{"objects[0].transform.matrices",
                                    "got a box without a matrix, want one matrix or one per frame"}));
  EXPECT_THAT(FaultsWith([](ObjectRow& r) {
                r.transforms = {};
                r.box_min = r.box_max = {};
              }),
              ElementsAre(Violation{"objects[0].transform.matrices",
                                    "got no matrix and nothing measured, want a box with its matrices, or measured"}));
}

TEST(SceneRows, MatrixFaultsNameTheEntry) {
  std::vector<double> track = Matrices(24);
  track[16 * 3 + 5] = kNan;
  track[16 * 4 + 13] = -2e9;
  track[16 * 5 + 7] = 1;
  track[16 * 6 + 0] = 0;
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.transforms = track; }),
              ElementsAre(Violation{"objects[0].transform.matrices[53]", "got nan, want a number within 1e+30 of 0"},
                          Violation{"objects[0].transform.matrices[77]",
                                    "got -2e+09, want a number of metres within 1e+09 of 0"},
                          Violation{"objects[0].transform.matrices[87]", "got 1, want 0 (the last row is 0 0 0 1)"},
                          Violation{"objects[0].transform.matrices[96]",
                                    "got a singular matrix (relative determinant 0), want at least 1e-06"}));
}

TEST(SceneRows, MirroredAndShearedObjectsAreFine) {
  std::vector<double> matrix(kIdentity.begin(), kIdentity.end());
  matrix[0] = -1;
  matrix[4] = 0.5;
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.transforms = matrix; }), IsEmpty());
}

TEST(SceneRows, NearlySingularIsSingularFromTheStatedThreshold) {
  // Columns (1, 0, 0), (1, s, 0), (0, 0, 1): relative determinant s / sqrt(1 + s^2), so s to within 1e-12 relative.
  std::vector<double> matrix(kIdentity.begin(), kIdentity.end());
  matrix[4] = 1;
  matrix[5] = 1.01e-6;
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.transforms = matrix; }), IsEmpty());
  matrix[5] = 0.99e-6;
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.transforms = matrix; }),
              ElementsAre(Violation{"objects[0].transform.matrices[0]",
                                    "got a singular matrix (relative determinant 9.9e-07), want at least 1e-06"}));
}

TEST(SceneRows, EmptyBoxesAreRefusedAndCardsAreNot) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) { r.box_max[2] = r.box_min[2]; }), IsEmpty());
  EXPECT_THAT(
      FaultsWith([](ObjectRow& r) {
        r.box_min = {0, 0, 0};
        r.box_max = {0, 2, 0};
      }),
      ElementsAre(Violation{"objects[0].box", "got 0 x 2 x 0 m, want a box thicker than 0 on at least two axes"}));
  EXPECT_THAT(FaultsWith([](ObjectRow& r) {
                r.box_min = {1, 2, 0};
                r.box_max = {0, 1, 1};
              }),
              ElementsAre(Violation{"objects[0].box.max_m.x", "got 0, want a number not below the box's min (1)"},
                          Violation{"objects[0].box.max_m.y", "got 1, want a number not below the box's min (2)"}));
}

TEST(SceneRows, BoxNumbersMustBeNumbers) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) {
                r.box_min[1] = kNan;
                r.box_max[2] = 2e9;
              }),
              ElementsAre(Violation{"objects[0].box.min_m.y", "got nan, want a number of metres within 1e+09 of 0"},
                          Violation{"objects[0].box.max_m.z", "got 2e+09, want a number of metres within 1e+09 of 0"}));
}

TEST(SceneRows, AbsurdSizesAndPlacesInTheWorldAreRefused) {
  std::vector<double> huge = {1e10, 0, 0, 0, 0, 1e10, 0, 0, 0, 0, 1e10, 0, 0, 0, 0, 1};
  // 0.5, 1.8 and 0.3 m times 1e10; the centre 0.9 m up lands at 9e9 m.
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.transforms = huge; }),
              ElementsAre(Violation{"objects[0].transform.matrices[0]",
                                    "got a box of 5e+09 x 1.8e+10 x 3e+09 m in the world, want at most 1e+09 m, and at "
                                    "least 1e-06 m on two axes"},
                          Violation{"objects[0].transform.matrices[12]",
                                    "got a box around 0 9e+09 0 m in the world, want a place within 1e+09 m of its "
                                    "origin"}));
  const std::vector<double> tiny = {1e-7, 0, 0, 0, 0, 1e-7, 0, 0, 0, 0, 1e-7, 0, 0, 0, 0, 1};
  EXPECT_THAT(FaultsWith([&](ObjectRow& r) { r.transforms = tiny; }),
              ElementsAre(Violation{"objects[0].transform.matrices[0]",
                                    "got a box of 5e-08 x 1.8e-07 x 3e-08 m in the world, want at most 1e+09 m, and at "
                                    "least 1e-06 m on two axes"}));
}

TEST(SceneRows, FactorsMustBeAboveZero) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) {
                r.importance = 0;
                r.complexity = kNan;
              }),
              ElementsAre(Violation{"objects[0].importance", "got 0, want a number above 0 (1e-06 to 1e+06)"},
                          Violation{"objects[0].complexity", "got nan, want a number above 0 (1e-06 to 1e+06)"}));
}

TEST(SceneRows, SpentHoursAreNeverNegative) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) {
                r.spent_hours = {0, -1, 0, kNan};
              }),
              ElementsAre(Violation{"objects[0].spent", "got -1 hours at COLOUR_PATCH, want 0 to 1e+09"},
                          Violation{"objects[0].spent", "got nan hours at FULL_RIG, want 0 to 1e+09"}));
}

std::vector<MeasuredFigure> Figures() { return std::vector<MeasuredFigure>(24, MeasuredFigure{100, 4000, 12}); }

TEST(SceneRows, MeasuredFiguresMayStandAlone) {
  std::vector<MeasuredFigure> figures = Figures();
  figures[5] = {};
  ObjectRow measured = MakeRow("b");
  measured.box_min = measured.box_max = {};
  measured.transforms = {};
  measured.measured = figures;
  const Built built = Build({MakeRow("a"), measured});
  ASSERT_THAT(Faults(built), IsEmpty());
  EXPECT_THAT(built.scene.objects.measured, ElementsAre(kNone, 0u));
  EXPECT_EQ(built.scene.objects.chunk[1], kNone);
  EXPECT_EQ(built.scene.measured_at(1, 0, 4).height_px, 100);
  EXPECT_EQ(built.scene.measured_at(1, 0, 5).height_px, 0);
}

TEST(SceneRows, MeasuredFiguresHaveNoGaps) {
  const std::vector<MeasuredFigure> figures = Figures();
  EXPECT_THAT(
      FaultsWith([&](ObjectRow& r) { r.measured = std::span(figures).first(17); }),
      ElementsAre(Violation{"objects[0].measured", "got 17, want 24 figures: one per frame (24) for each camera (1)"}));
}

TEST(SceneRows, FiguresTheCallerCouldNotReadAreNotMissed) {
  EXPECT_THAT(FaultsWith([](ObjectRow& r) {
                r.box_min = r.box_max = {};
                r.transforms = {};
                r.measured_unreadable = true;
              }),
              IsEmpty());
}

TEST(SceneRows, MeasuredFaultsNameTrackAndFrame) {
  std::vector<MeasuredFigure> figures = Figures();
  figures[2] = {-1, 0, 0};
  figures[3] = {10, 1e12f, 0};
  figures[4] = {0, 5, -1};
  const std::vector<uint32_t> tracks = {7};
  EXPECT_THAT(
      FaultsWith([&](ObjectRow& r) {
        r.measured = figures;
        r.measured_tracks = tracks;
      }),
      ElementsAre(
          Violation{"objects[0].measured[7].height_px[2]", "got -1, want 0 (not in frame) or a number up to 1e+09"},
          // 2048 x 858 px and no overscan: 1757184.
          Violation{"objects[0].measured[7].covered_px[3]", "got 1e+12, want 0 to 1.75718e+06 (picture and overscan)"},
          Violation{"objects[0].measured[7].depth_m[3]", "got 0, want a number of metres above 0 and up to 1e+09"},
          Violation{"objects[0].measured[7].covered_px[4]", "got 5, want 0 where height_px is 0 (not in frame)"},
          Violation{"objects[0].measured[7].depth_m[4]", "got -1, want 0 up to 1e+09"}));
}

TEST(SceneRows, TooManyObjectsNamesTheLimitOnceAndBlamesNobodyElse) {
  SceneLimits limits;
  limits.objects = 2;
  std::vector<ObjectRow> rows = {MakeRow("a"), MakeRow("b"), MakeRow("c")};
  rows[0].container = "c";
  const Built built = Build(rows, MakeHeader(), limits);
  EXPECT_THAT(Faults(built), ElementsAre(Violation{"objects", "got 3, want at most 2"}));
  EXPECT_EQ(built.count, 3);
}

TEST(SceneRows, AFaultyHeaderDoesNotMakeGoodRowsFaulty) {
  ShotHeader header = MakeHeader();
  header.frames = {5, 1};
  const std::vector<double> track = Matrices(7);
  ObjectRow row = MakeRow("a");
  row.transforms = track;
  EXPECT_THAT(Faults(Build({row}, header)), SizeIs(1));
}

TEST(SceneRows, ManyFaultsAreCountedAndTheFirstListed) {
  static const ClassCatalogue catalogue = MakeCatalogue();
  Violations violations;
  SceneBuilder builder(catalogue, {}, MakeHeader(), violations);
  for (int i = 0; i < 12'000; ++i) {
    ObjectRow row = MakeRow("");
    builder.AddRow(row, Numbered("objects[", static_cast<size_t>(i)) + "]");
  }
  builder.Finish();
  EXPECT_EQ(violations.count(), 12'000u);
  EXPECT_THAT(violations.listed(), SizeIs(10'000));
  EXPECT_EQ(violations.listed().back().field, "objects[9999].id");
}

}  // namespace
}  // namespace scantling
