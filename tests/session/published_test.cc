#include "server/session/published.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <numeric>
#include <random>
#include <set>

#include "server/scene/scene.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

// (g++ 12 warns falsely at "x" + std::to_string(7).)
std::string Numbered(std::string stem, int number) { return stem.append(std::to_string(number)); }

SharedBytes Bytes(std::string text) { return std::make_shared<const std::string>(std::move(text)); }

std::vector<std::string> Told(const Snapshot& snapshot) {
  std::vector<std::string> told;
  for (const SharedBytes& bytes : snapshot.decisions) told.push_back(*bytes);
  return told;
}

TEST(Published, TellsWhatChangedSinceANumber) {
  Published published;
  EXPECT_EQ(published.number(), 0);
  EXPECT_EQ(published.Put({{0, Bytes("a1")}, {1, Bytes("b1")}, {2, Bytes("c1")}}, {2, 0, 1}, Bytes("first")), 1);
  EXPECT_EQ(published.Put({{1, Bytes("b2")}}, {2, 0, 1}, Bytes("second")), 2);
  EXPECT_EQ(published.Put({}, {2, 0, 1}, Bytes("third")), 3);
  EXPECT_THAT(Told(published.Since(1)), ElementsAre("b2"));
  EXPECT_THAT(Told(published.Since(2)), IsEmpty());
  EXPECT_EQ(*published.Since(1).closing, "third");
  EXPECT_EQ(published.Since(1).number, 3);
  EXPECT_FALSE(published.Since(1).anew);
  // Whoever knows nothing, or something this never told, gets all, in canonical order.
  for (const int64_t unknown : {0, -1, 4}) {
    EXPECT_TRUE(published.Since(unknown).anew);
    EXPECT_THAT(Told(published.Since(unknown)), ElementsAre("c1", "a1", "b2"));
  }
}

TEST(Published, TellsWhoLeft) {
  Published published;
  published.Put({{0, Bytes("a")}, {1, Bytes("b")}}, {0, 1}, nullptr);
  const std::vector<uint32_t> was = {1};
  published.MoveRows(was, {"a"});
  EXPECT_EQ(*published.Find(0), "b");
  published.Put({}, {0}, nullptr);
  EXPECT_THAT(published.Since(1).gone, ElementsAre("a"));
  EXPECT_THAT(Told(published.Since(1)), IsEmpty());
  EXPECT_THAT(published.Since(2).gone, IsEmpty());
  EXPECT_THAT(published.Since(0).gone, IsEmpty());  // there is nothing it could be gone from
}

TEST(Published, WhoStayedAwayTooLongIsToldEverything) {
  Published published;
  published.Put({{0, Bytes("a")}}, {0}, nullptr);
  const std::vector<uint32_t> was = {0};
  for (int i = 0; i < 3000; ++i) {
    published.MoveRows(was, {Numbered("x", i)});
    published.Put({}, {0}, nullptr);
  }
  EXPECT_TRUE(published.Since(1).anew);
  EXPECT_FALSE(published.Since(3000).anew);
  EXPECT_THAT(published.Since(3000).gone, ElementsAre("x2999"));
}

// A reader who reads at any times knows, each time, exactly the decisions there are.
TEST(Published, AnyReaderComesToWhatThereIs) {
  std::mt19937 random(7);
  Published published;
  std::vector<std::string> ids;               // by row
  std::map<std::string, std::string> there;   // id -> decision
  std::map<std::string, std::string> reader;  // what the reader knows
  int64_t known = 0;
  int next_id = 0;
  for (int step = 0; step < 2000; ++step) {
    std::vector<uint32_t> was;
    std::vector<std::string> gone, next;
    for (uint32_t row = 0; row < ids.size(); ++row) {
      if (random() % 10 == 0) {
        gone.push_back(ids[row]);
        there.erase(ids[row]);
      } else {
        was.push_back(row);
        next.push_back(ids[row]);
      }
    }
    for (uint32_t i = random() % 3; i > 0; --i) {
      was.push_back(kNone);
      // Ids come back.
      next.push_back(Numbered("o", random() % 2 == 0 ? next_id++ : 100000 + step * 10 + static_cast<int>(i)));
    }
    ids = next;
    published.MoveRows(was, gone);
    std::vector<Published::Change> changes;
    for (uint32_t row = 0; row < ids.size(); ++row) {
      if (there.contains(ids[row]) && random() % 4 != 0) continue;
      there[ids[row]] = std::to_string(random() % 100);
      changes.push_back({row, Bytes(ids[row] + "=" + there[ids[row]])});
    }
    std::vector<uint32_t> canonical(ids.size());
    std::iota(canonical.begin(), canonical.end(), 0u);
    published.Put(std::move(changes), canonical, nullptr);
    if (random() % 3 != 0) continue;
    const Snapshot snapshot = published.Since(known);
    if (snapshot.anew) reader.clear();
    for (const std::string& id : snapshot.gone) reader.erase(id);
    for (const SharedBytes& bytes : snapshot.decisions) {
      const size_t at = bytes->find('=');
      reader[bytes->substr(0, at)] = bytes->substr(at + 1);
    }
    known = snapshot.number;
    ASSERT_EQ(reader, there) << step;
  }
}

}  // namespace
}  // namespace scantling
