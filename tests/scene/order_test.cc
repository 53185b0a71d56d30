#include <gtest/gtest.h>

#include <algorithm>
#include <numeric>
#include <random>
#include <string>
#include <vector>

#include "server/scene/canonical.h"
#include "server/scene/containers.h"

namespace scantling {
namespace {

std::vector<uint32_t> OrderOf(const std::vector<std::string>& ids) {
  StringColumn column;
  for (const std::string& id : ids) column.Append(id);
  return CanonicalOrder(column);
}

// The plain way: compare whole strings, bytes as unsigned (std::string does), equal ones by row.
std::vector<uint32_t> PlainOrder(const std::vector<std::string>& ids) {
  std::vector<uint32_t> order(ids.size());
  std::iota(order.begin(), order.end(), 0u);
  std::stable_sort(order.begin(), order.end(), [&](uint32_t a, uint32_t b) { return ids[a] < ids[b]; });
  return order;
}

TEST(CanonicalOrder, NothingAndOneThing) {
  EXPECT_TRUE(OrderOf({}).empty());
  EXPECT_EQ(OrderOf({"a"}), (std::vector<uint32_t>{0}));
}

TEST(CanonicalOrder, ShorterComesFirstAndBytesAreUnsigned) {
  EXPECT_EQ(OrderOf({"lamp10", "lamp", "lamp1", "\xC3\xA9", "z"}), (std::vector<uint32_t>{1, 2, 0, 4, 3}));
}

TEST(CanonicalOrder, AgreesWithPlainSortingOnRandomIds) {
  std::mt19937 random(20);
  for (int round = 0; round < 300; ++round) {
    std::vector<std::string> ids;
    for (int i = 0; i < 60; ++i) {
      // Few letters and long common beginnings make ties of eight bytes and more likely.
      std::string id(random() % 20, 'q');
      for (size_t k = random() % 12; k > 0; --k) id += static_cast<char>('a' + random() % 3);
      ids.push_back(id);
    }
    ASSERT_EQ(OrderOf(ids), PlainOrder(ids)) << "round " << round;
  }
}

TEST(FindCycles, ForestsHaveNone) {
  EXPECT_TRUE(FindCycles({}).empty());
  const std::vector<uint32_t> forest = {kNone, 0, 1, 1, kNone, 4};
  EXPECT_TRUE(FindCycles(forest).empty());
}

TEST(FindCycles, FindsEveryCycleOnceAndNotWhatHangsOnIt) {
  // 0 -> 1 -> 2 -> 0; 3 hangs on 1; 4 holds itself; 5 -> 6 -> 5; 7 hangs on 3.
  const std::vector<uint32_t> container = {1, 2, 0, 1, 4, 6, 5, 3};
  EXPECT_EQ(FindCycles(container), (std::vector<std::vector<uint32_t>>{{0, 1, 2}, {4}, {5, 6}}));
}

TEST(FindCycles, LongChainsNeedNoStack) {
  std::vector<uint32_t> chain(1'000'000);
  for (uint32_t i = 0; i < chain.size(); ++i) chain[i] = i + 1;
  chain.back() = kNone;
  EXPECT_TRUE(FindCycles(chain).empty());
  chain.back() = 0;
  ASSERT_EQ(FindCycles(chain).size(), 1u);
  EXPECT_EQ(FindCycles(chain)[0].size(), chain.size());
}

// Against walking from each row until it repeats or ends: row i is on a cycle exactly where the walk comes back to i.
TEST(FindCycles, AgreesWithWalkingFromEveryRow) {
  std::mt19937 random(3);
  for (int round = 0; round < 300; ++round) {
    const uint32_t n = 1 + random() % 12;
    std::vector<uint32_t> container(n);
    for (uint32_t& c : container) c = random() % 3 == 0 ? kNone : random() % n;
    std::vector<bool> found(n, false);
    for (const auto& cycle : FindCycles(container)) {
      for (const uint32_t row : cycle) found[row] = true;
    }
    for (uint32_t i = 0; i < n; ++i) {
      uint32_t row = container[i];
      for (uint32_t steps = 0; steps < n && row != kNone && row != i; ++steps) row = container[row];
      ASSERT_EQ(found[i], row == i) << "round " << round << " row " << i;
    }
  }
}

}  // namespace
}  // namespace scantling
