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

// A plan of `rows` rows, the same as before; `changes` as rows and bytes.
PublishedPlan Plan(std::vector<std::pair<uint32_t, std::string>> changes, std::vector<uint32_t> canonical,
                   std::string closing = "") {
  PublishedPlan plan;
  plan.was.resize(canonical.size());
  std::iota(plan.was.begin(), plan.was.end(), 0u);
  for (auto& [row, bytes] : changes) plan.changes.push_back({row, Bytes(std::move(bytes))});
  plan.canonical = std::move(canonical);
  plan.closing = Bytes(std::move(closing));
  return plan;
}

// The first: no row was there before.
PublishedPlan First(PublishedPlan plan) {
  plan.was.assign(plan.was.size(), kNone);
  return plan;
}

TEST(Published, TellsWhatChangedSinceANumber) {
  Published published;
  EXPECT_EQ(published.number(), 0);
  EXPECT_EQ(published.Put(First(Plan({{0, "a1"}, {1, "b1"}, {2, "c1"}}, {2, 0, 1}, "first"))), 1);
  EXPECT_EQ(published.Put(Plan({{1, "b2"}}, {2, 0, 1}, "second")), 2);
  EXPECT_EQ(published.Put(Plan({}, {2, 0, 1}, "third")), 3);
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
  published.Put(First(Plan({{0, "a"}, {1, "b"}}, {0, 1})));
  PublishedPlan next = Plan({}, {0});
  next.was = {1};
  next.gone = {"a"};
  published.Put(std::move(next));
  EXPECT_EQ(*published.Find(0), "b");
  EXPECT_THAT(published.Since(1).gone, ElementsAre("a"));
  EXPECT_THAT(Told(published.Since(1)), IsEmpty());
  EXPECT_THAT(published.Since(2).gone, IsEmpty());
  EXPECT_THAT(published.Since(0).gone, IsEmpty());  // there is nothing it could be gone from
}

TEST(Published, OtherWordsAboutThePlanAreANewNumberAndNoChange) {
  Published published;
  published.Put(First(Plan({{0, "a"}}, {0}, "settled")));
  EXPECT_EQ(published.Close(Bytes("settled, of the next revision")), 2);
  EXPECT_THAT(Told(published.Since(1)), IsEmpty());
  EXPECT_EQ(*published.Since(1).closing, "settled, of the next revision");
}

TEST(Published, WhoStayedAwayTooLongIsToldEverything) {
  Published published;
  published.Put(First(Plan({{0, "a"}}, {0})));
  for (int i = 0; i < 3000; ++i) {
    PublishedPlan plan = Plan({}, {0});
    plan.gone = {Numbered("x", i)};
    published.Put(std::move(plan));
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
    PublishedPlan plan;
    std::vector<std::string> next;
    for (uint32_t row = 0; row < ids.size(); ++row) {
      if (random() % 10 == 0) {
        plan.gone.push_back(ids[row]);
        there.erase(ids[row]);
      } else {
        plan.was.push_back(row);
        next.push_back(ids[row]);
      }
    }
    for (uint32_t i = random() % 3; i > 0; --i) {
      plan.was.push_back(kNone);
      next.push_back(Numbered("o", random() % 2 == 0 ? next_id++ : 100000 + step * 10 + static_cast<int>(i)));
    }
    ids = next;
    for (uint32_t row = 0; row < ids.size(); ++row) {
      if (there.contains(ids[row]) && random() % 4 != 0) continue;
      there[ids[row]] = std::to_string(random() % 100);
      plan.changes.push_back({row, Bytes(ids[row] + "=" + there[ids[row]])});
    }
    plan.canonical.resize(ids.size());
    std::iota(plan.canonical.begin(), plan.canonical.end(), 0u);
    published.Put(std::move(plan));
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
