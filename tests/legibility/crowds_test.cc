// What crowds cover of the cells of the picture, and their nearest twins.

#include "server/legibility/crowds.h"

#include <algorithm>
#include <map>
#include <numeric>
#include <random>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

constexpr double kPart = 1.0 / 1024;  // of a px: to that cover is rounded

MATCHER_P3(Covers, member, cell, px, "") { return arg.member == member && arg.cell == cell && arg.px == px; }

Crowd CrowdOf(std::vector<uint32_t> members, int32_t columns, int32_t rows) {
  Crowd crowd;
  crowd.name = "market";
  crowd.members = std::move(members);
  crowd.columns = columns;
  crowd.rows = rows;
  return crowd;
}

// One figure in one chunk; its place is as the figures of FoldByHand say.
Shot OneMember(int32_t frames, const std::vector<int32_t>& pictures = {0}) {
  Shot shot(frames);
  for (const int32_t picture : pictures) shot.AddCamera(picture);
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kFigure)), 0, {Pose{}});
  shot.scene.crowds = {CrowdOf({0}, 4, 2)};
  return shot;
}

Figure At(float u_px, float v_px) { return {.height_px = 16, .area_px = 2000, .u_px = u_px, .v_px = v_px}; }

// 100 px a metre: a box 1 m wide and 2 m high covers 100 x 200 = 20,000 px, half of it the object. Its centre, 6 m left
// of the middle and 2 m above it, stands at u = 1000 - 600, v = 500 - 200: column 0 of 4, row 0 of 2. Three frames.
TEST(CellCover, OrthographicBoxHasItsAreaInTheCellOfItsCentre) {
  Shot shot(3);
  Camera& camera = shot.AddCamera(0);
  camera.projection = Projection::kOrthographic;
  camera.window_width = 20;
  camera.window_height = 10;
  shot.AddClass(ClassKind::kFigure);
  shot.Place(shot.AddRow(0), 0, {{.centre = {-6, 2, -10}, .axes = {0.5F, 0, 0, 0, 1, 0, 0, 0, 0.25F}}});
  shot.Place(shot.AddRow(0), 0, {{.centre = {6, -2, -10}, .axes = {0.5F, 0, 0, 0, 1, 0, 0, 0, 0.25F}}});
  shot.scene.crowds = {CrowdOf({0, 1}, 4, 2), CrowdOf({1}, 1, 1), CrowdOf({0, 1}, 0, 0)};
  const Legibility columns = FoldForReal(shot);
  EXPECT_THAT(columns.cell_cover[0], ElementsAre(Covers(0u, 0, 30'000.0), Covers(1u, 7, 30'000.0)));
  EXPECT_THAT(columns.cell_cover[1], ElementsAre(Covers(0u, 0, 30'000.0)));
  EXPECT_LT(columns.cell_cover.size(), 3u);  // nothing was found of the third, which has no cells
}

// Cells of 500 x 500 px; a border belongs to the right and lower cell.
TEST(CellCover, FollowsTheCentreFromCellToCell) {
  const Legibility columns = FoldByHand(
      OneMember(5), {{{At(0, 0)}}, {{At(499.5F, 499.5F)}}, {{At(500, 0)}}, {{At(1999, 500)}}, {{At(10, 10)}}});
  EXPECT_THAT(columns.cell_cover[0], ElementsAre(Covers(0u, 0, 3000.0), Covers(0u, 1, 1000.0), Covers(0u, 7, 1000.0)));
}

TEST(CellCover, CentresOutsideThePictureCountInTheNearestCell) {
  const Legibility columns =
      FoldByHand(OneMember(4), {{{At(-1e6F, 100)}}, {{At(2000, -3)}}, {{At(1e30F, 1e30F)}}, {{At(700, 1000)}}});
  EXPECT_THAT(columns.cell_cover[0],
              ElementsAre(Covers(0u, 0, 1000.0), Covers(0u, 3, 1000.0), Covers(0u, 5, 1000.0), Covers(0u, 7, 1000.0)));
}

TEST(CellCover, PlacesThatAreUnknownCountNowhere) {
  EXPECT_THAT(FoldByHand(OneMember(1), {{{At(std::nanf(""), std::nanf(""))}}}).cell_cover, IsEmpty());
  Shot shot(1);
  shot.AddCamera(0);
  shot.Measure(shot.AddRow(shot.AddClass(ClassKind::kFigure)), {{16, 1000, 12}});
  shot.scene.crowds = {CrowdOf({0}, 4, 2)};
  EXPECT_THAT(FoldForReal(shot).cell_cover, IsEmpty());
}

// What a caller measured is the object's own: no solidity.
TEST(CellCover, MeasuredPxCountWhereTheObjectStands) {
  Shot shot = OneMember(1);
  shot.Measure(0, {{16, 1234, 12}});
  EXPECT_THAT(FoldByHand(shot, {{{At(600, 100)}}}).cell_cover[0], ElementsAre(Covers(0u, 1, 1234.0)));
}

TEST(CellCover, OnlySeenFramesAndVisiblePxCount) {
  Shot shot = OneMember(5);
  shot.scene.replaced = {{1001, 1001}};
  shot.Own(0).replaced = {{1001, 1002}};
  Figure hidden = At(0, 0), half = At(0, 0), small = At(0, 0);
  hidden.visible = 0;
  half.visible = 0.5F;
  small.area_px = 2;  // 1 px of the object: not above the style's smallest
  EXPECT_THAT(FoldByHand(shot, {{{At(0, 0)}}, {{At(0, 0)}}, {{hidden}}, {{half}}, {{small}}}).cell_cover[0],
              ElementsAre(Covers(0u, 0, 500.0)));
}

TEST(CellCover, CamerasAddUpEyesOfAPairToo) {
  EXPECT_THAT(FoldByHand(OneMember(1, {0, 0, 1}), {{{At(0, 0)}, {At(0, 0)}, {At(1999, 0)}}}).cell_cover[0],
              ElementsAre(Covers(0u, 0, 2000.0), Covers(0u, 3, 1000.0)));
}

// 2049 / 2048 px are 1024.5 parts; a thousandth of a part is not nothing.
TEST(CellCover, IsWholeParts) {
  Figure odd = At(0, 0);
  odd.area_px = 2 * 1.00048828125F;
  EXPECT_EQ(FoldByHand(OneMember(1), {{{odd}}}).cell_cover[0][0].px, 1025 * kPart);
}

// ---- Random scenes --------------------------------------------------------------------------------------------------

double Uniform(std::mt19937_64& random) { return static_cast<double>(random() >> 11) * 0x1p-53; }

// People of a few assets walking in front of and behind two walls, through `pictures.size()` cameras side by side.
// Rows are in the order given; ids are those of the order 0, 1, 2...
Shot RandomQuay(uint64_t seed, const std::vector<int32_t>& pictures, const std::vector<uint32_t>& order) {
  constexpr int32_t kFrames = 6;
  Shot shot(kFrames);
  for (size_t c = 0; c < pictures.size(); ++c) {
    shot.AddCamera(pictures[c]).poses[0].position_m = {2.0 * static_cast<double>(c), 0, 0};
  }
  shot.AddClass(ClassKind::kFigure);
  StringColumn ids;
  for (const uint32_t number : order) {
    std::mt19937_64 random(seed * 1000 + number);
    const uint32_t row = shot.AddRow(0);
    ids.Append(std::string(1, static_cast<char>('a' + number % 26)) + std::to_string(number));
    const bool wall = number < 2;
    shot.scene.objects.inner_box[row] = wall ? 1 : 0;
    shot.scene.objects.asset[row] = wall ? kNone : static_cast<uint32_t>(random() % 3);
    const Vec3 start = {16 * Uniform(random) - 8, 4 * Uniform(random) - 2, -6 - 20 * Uniform(random)};
    const double speed = Uniform(random) - 0.5;
    std::vector<Pose> walk;
    for (int32_t f = 0; f < kFrames; ++f) {
      const float size = wall ? 2 : 0.3F;
      walk.push_back({{start[0] + speed * f, start[1], wall ? -10 : start[2]}, {size, 0, 0, 0, size, 0, 0, 0, 0.1F}});
    }
    shot.Place(row, 0, walk);
  }
  shot.scene.objects.id = ids;
  for (uint32_t row = 0; row < order.size(); ++row) {
    if (shot.scene.objects.asset[row] == kNone) continue;
    if (shot.scene.crowds.empty()) shot.scene.crowds = {CrowdOf({}, 5, 3)};
    shot.scene.crowds[0].members.push_back(row);
  }
  shot.scene.replaced = {{1003, 1003}};
  return shot;
}

std::vector<uint32_t> Ascending(uint32_t count) {
  std::vector<uint32_t> order(count);
  std::iota(order.begin(), order.end(), 0u);
  return order;
}

std::string IdOf(const Shot& shot, uint32_t row) { return std::string(shot.scene.objects.id[row]); }

// Sums by id and cell, from the figures of an explanation.
std::map<std::pair<std::string, int32_t>, double> ExplainedCover(const Shot& shot) {
  const ShotOptics optics = shot.Optics();
  std::map<std::pair<std::string, int32_t>, double> cover;
  const Crowd& crowd = shot.scene.crowds[0];
  for (const uint32_t row : crowd.members) {
    for (const FrameFigures& figures : ExplainFrames(optics, row, 1, 0)) {
      if (!figures.seen || figures.covered_px == 0) continue;
      const int32_t frame_index = figures.frame - 1001;
      const auto [u, v] = ProjectCentre(shot.scene.chunks[0], shot.scene.objects.lane[row], frame_index,
                                        optics.views[optics.at(figures.camera, frame_index)]);
      const int32_t column = std::clamp(static_cast<int32_t>(std::floor(u / 400)), 0, 4);
      const int32_t line = std::clamp(static_cast<int32_t>(std::floor(v / (1000.0 / 3))), 0, 2);
      cover[{IdOf(shot, row), line * 5 + column}] += figures.covered_px;
    }
  }
  return cover;
}

TEST(CellCover, IsWhatExplanationsAddUpTo) {
  size_t hidden = 0;
  for (uint64_t seed = 1; seed <= 5; ++seed) {
    const Shot shot = RandomQuay(seed, {0, 0, 1}, Ascending(60));
    const Legibility columns = FoldForReal(shot);
    for (const int32_t frames : columns.hidden_frames) hidden += static_cast<size_t>(frames);
    std::map<std::pair<std::string, int32_t>, double> found;
    for (const CellCover& one : columns.cell_cover[0]) {
      found[{IdOf(shot, shot.scene.crowds[0].members[one.member]), one.cell}] = one.px;
    }
    const auto explained = ExplainedCover(shot);
    ASSERT_EQ(found.size(), explained.size()) << seed;
    for (const auto& [where, px] : explained) EXPECT_NEAR(found[where], px, kPart) << where.first;  // rounding to parts
  }
  EXPECT_GT(hidden, 25u);  // or hiding was not tested
}

struct PlainTwins {
  std::string a, b;
  double px = 0;
  int32_t frame = 0;
  bool operator==(const PlainTwins&) const = default;
};

PlainTwins Plain(const Shot& shot, const Twins& twins) {
  if (twins.a == kNone) return {};
  return {IdOf(shot, twins.a), IdOf(shot, twins.b), twins.px, twins.frame};
}

// Every pair in every picture of every frame.
PlainTwins AllPairs(const Shot& shot, const std::vector<uint32_t>& rows) {
  const ShotOptics optics = shot.Optics();
  std::vector<std::vector<FrameFigures>> figures;
  for (const uint32_t row : rows) figures.push_back(ExplainFrames(optics, row, 1, 0));
  const auto frames = static_cast<size_t>(shot.scene.frames.count());
  PlainTwins best;
  for (size_t f = 0; f < frames; ++f) {
    for (size_t camera = 0; camera < shot.scene.cameras.size(); ++camera) {
      PlainTwins here;
      for (size_t i = 0; i < rows.size(); ++i) {
        for (size_t j = 0; j < rows.size(); ++j) {
          const size_t at = camera * frames + f;
          const std::string a = IdOf(shot, rows[i]), b = IdOf(shot, rows[j]);
          if (a >= b || shot.scene.objects.asset[rows[i]] != shot.scene.objects.asset[rows[j]]) continue;
          if (!figures[i][at].seen || !figures[j][at].seen) continue;
          const auto place = [&](uint32_t row) {
            return ProjectCentre(shot.scene.chunks[shot.scene.objects.chunk[row]], shot.scene.objects.lane[row],
                                 static_cast<int32_t>(f), optics.views[at]);
          };
          const auto one = place(rows[i]), other = place(rows[j]);
          const double du = one[0] - other[0], dv = one[1] - other[1];
          const double px = std::sqrt(du * du + dv * dv);
          if (here.a.empty() || px < here.px || (px == here.px && std::pair(a, b) < std::pair(here.a, here.b))) {
            here = {a, b, px, 1001 + static_cast<int32_t>(f)};
          }
        }
      }
      if (!here.a.empty() && (best.a.empty() || here.px < best.px)) best = here;
    }
  }
  return best;
}

Twins Search(const Shot& shot, const std::vector<uint32_t>& rows, const Stop& stop = {}) {
  return NearestTwins(shot.Optics(), FoldForReal(shot), rows, stop);
}

TEST(NearestTwins, AgreesWithAllPairs) {
  for (uint64_t seed = 1; seed <= 6; ++seed) {
    const std::vector<int32_t> pictures = seed % 2 == 0 ? std::vector<int32_t>{0} : std::vector<int32_t>{0, 0, 1};
    const Shot shot = RandomQuay(seed, pictures, Ascending(40));
    const std::vector<uint32_t>& members = shot.scene.crowds[0].members;
    const PlainTwins found = Plain(shot, Search(shot, members));
    EXPECT_EQ(found, AllPairs(shot, members)) << seed;
    EXPECT_FALSE(found.a.empty());
  }
}

TEST(NearestTwins, OrderOfSendingChangesNothing) {
  std::vector<uint32_t> order = Ascending(40);
  const Shot sent = RandomQuay(3, {0, 1}, order);
  const PlainTwins twins = Plain(sent, Search(sent, sent.scene.crowds[0].members));
  std::mt19937_64 random(5);
  for (int round = 0; round < 5; ++round) {
    std::shuffle(order.begin(), order.end(), random);
    const Shot shuffled = RandomQuay(3, {0, 1}, order);
    EXPECT_EQ(Plain(shuffled, Search(shuffled, shuffled.scene.crowds[0].members)), twins);
  }
}

// Cards of one asset 0.02 m wide in a plane 10 m away, 100 px a metre.
Shot Cards(const std::vector<std::array<double, 2>>& places, const std::vector<uint32_t>& assets = {}) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.style.smallest_covered_px = 0;
  shot.AddClass(ClassKind::kFigure);
  for (size_t i = 0; i < places.size(); ++i) {
    const uint32_t row = shot.AddRow(0);
    shot.scene.objects.asset[row] = assets.empty() ? 0 : assets[i];
    shot.Place(row, i / kChunkLanes, {{{places[i][0], places[i][1], -10}, {0.01F, 0, 0, 0, 0.01F, 0, 0, 0, 0}}});
  }
  return shot;
}

// Places on a lattice of 1/8 m: many pairs are as near as the nearest, and some share a place.
TEST(NearestTwins, TiesGoToTheLeastIds) {
  std::mt19937_64 random(9);
  for (int round = 0; round < 40; ++round) {
    std::vector<std::array<double, 2>> places;
    std::vector<uint32_t> assets;
    const int64_t wide = round % 2 == 0 ? 32 : 6;
    for (int i = 0; i < 24; ++i) {
      places.push_back({static_cast<double>(random() % static_cast<uint64_t>(wide)) / 8,
                        static_cast<double>(random() % static_cast<uint64_t>(wide)) / 8});
      assets.push_back(static_cast<uint32_t>(random() % 2));
    }
    const Shot shot = Cards(places, assets);
    EXPECT_EQ(Plain(shot, Search(shot, Ascending(24))), AllPairs(shot, Ascending(24))) << round;
  }
}

TEST(NearestTwins, WantsTwoOfOneAssetSeenTogether) {
  EXPECT_EQ(Search(Cards({{0, 0}}), {0}).a, kNone);
  EXPECT_EQ(Search(Cards({{0, 0}, {1, 0}}, {0, 1}), {0, 1}).a, kNone);
  EXPECT_EQ(Search(Cards({{0, 0}, {1, 0}}, {kNone, kNone}), {0, 1}).a, kNone);
  EXPECT_EQ(Search(Cards({{0, 0}, {99, 0}}), {0, 1}).a, kNone);  // the other is out of the picture
  EXPECT_EQ(Search(Cards({{0, 0}, {1, 0}}), {}).a, kNone);
  const Twins twins = Search(Cards({{0, 0}, {1, 0}}), {0, 1});
  EXPECT_EQ(twins.a, 0u);
  EXPECT_EQ(twins.b, 1u);
  EXPECT_NEAR(twins.px, 100, 1e-9);  // double arithmetic on px of a few thousand
  EXPECT_EQ(twins.frame, 1001);
}

// Two stand side by side for the second camera alone, and for the first one of them is out of the picture: were "seen"
// asked of the shot and not of the camera, their distance in the first would count.
TEST(NearestTwins, BothAreSeenThroughTheSameCamera) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.AddCamera(1).poses[0].position_m = {15, 0, 0};
  shot.AddClass(ClassKind::kFigure);
  // Through the first, at 100 and 50 px a metre: u = 1900 and 1000 + 50 * 22 = 2100, 200 px apart; through the second u
  // = 1000 - 600 = 400 and 1000 + 350 = 1350.
  const std::array<float, 9> card = {0.1F, 0, 0, 0, 0.1F, 0, 0, 0, 0};
  shot.Place(shot.AddRow(0), 0, {{{9, 0, -10}, card}});
  shot.Place(shot.AddRow(0), 0, {{{22, 0, -20}, card}});
  shot.scene.objects.asset = {0, 0};
  shot.scene.crowds = {CrowdOf({0, 1}, 0, 0)};
  EXPECT_NEAR(Search(shot, {0, 1}).px, 950, 1e-9);
}

// All pairs of these would take minutes: everybody in one place, one above the other, one beside the other.
TEST(NearestTwins, CrowdsThatStandInALineTakeNoLonger) {
  constexpr uint32_t kCount = 60'000;
  std::vector<std::array<double, 2>> heap(kCount), column(kCount), line(kCount);
  for (size_t i = 0; i < kCount; ++i) column[i][1] = line[i][0] = static_cast<double>(i) * 0x1p-14;  // 3.7 m
  column[777][1] = 778.25 * 0x1p-14;  // a quarter from its neighbour's place
  for (const auto& places : {heap, column, line}) {
    const Shot shot = Cards(places);
    const Twins twins = Search(shot, Ascending(kCount));
    const double want_px = places == heap ? 0 : places == column ? 25 * 0x1p-14 : 100 * 0x1p-14;
    EXPECT_NEAR(twins.px, want_px, 1e-9);
  }
}

TEST(NearestTwins, StopsWhenAsked) {
  const Shot shot = Cards({{0, 0}, {1, 0}});
  Stop stop;
  stop.Cancel();
  EXPECT_EQ(Search(shot, {0, 1}, stop).a, kNone);
}

}  // namespace
}  // namespace scantling
