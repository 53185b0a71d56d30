#include "server/session/store.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <set>
#include <thread>

#include "server/session/ticker.h"

namespace scantling {
namespace {

using testing::HasSubstr;

using Store = SessionStore<int>;

TEST(NewSessionId, IsOneOfVeryMany) {
  std::set<std::string> ids;
  for (int i = 0; i < 1000; ++i) ids.insert(NewSessionId());
  EXPECT_EQ(ids.size(), 1000u);
  EXPECT_EQ(ids.begin()->size(), 32u);
}

TEST(SessionStore, FindsASessionForItsOwnerOnly) {
  Store store({});
  const auto id = store.Reserve("ann");
  ASSERT_TRUE(id.ok());
  EXPECT_EQ(store.Find(*id, "ann").status().code(), absl::StatusCode::kNotFound);  // not put in yet
  store.Put(*id, std::make_shared<int>(7));
  EXPECT_EQ(**store.Find(*id, "ann"), 7);
  EXPECT_EQ(store.Find(*id, "bob").status().code(), absl::StatusCode::kNotFound);
  EXPECT_EQ(store.Find("x", "ann").status().code(), absl::StatusCode::kNotFound);
  store.Remove(*id);
  EXPECT_EQ(store.Find(*id, "ann").status().code(), absl::StatusCode::kNotFound);
}

TEST(SessionStore, LimitsEachIdentityByItself) {
  Store store({.sessions = 2, .objects = 100, .bytes = int64_t{10} << 20});
  const auto a = store.Reserve("ann"), b = store.Reserve("ann"), c = store.Reserve("bob");
  ASSERT_TRUE(a.ok() && b.ok() && c.ok());
  const absl::Status third = store.Reserve("ann").status();
  EXPECT_EQ(third.code(), absl::StatusCode::kResourceExhausted);
  EXPECT_THAT(std::string(third.message()), HasSubstr("than the 2 that one identity may have (live_sessions)"));
  EXPECT_TRUE(store.Charge(*a, 60, 0).ok());
  EXPECT_TRUE(store.Charge(*c, 60, 0).ok());
  EXPECT_THAT(std::string(store.Charge(*b, 41, 0).message()), HasSubstr("got 101 objects"));
  EXPECT_TRUE(store.Charge(*b, 40, 0).ok());
  EXPECT_THAT(std::string(store.Charge(*b, 40, int64_t{11} << 20).message()), HasSubstr("got 11 MiB of memory"));
  // Growing less is always allowed.
  EXPECT_TRUE(store.Charge(*a, 10, 0).ok());
  EXPECT_TRUE(store.Charge(*b, 90, 0).ok());
}

TEST(SessionStore, DropsWhatWasLeftForTooLong) {
  Store store({.keep = std::chrono::seconds(10)});
  const auto id = store.Reserve("ann");
  store.Put(*id, std::make_shared<int>(1));
  const auto now = Store::Clock::now();
  EXPECT_TRUE(store.Expire(now + std::chrono::hours(1)).empty());  // a stream is there
  store.Detached(*id);
  EXPECT_TRUE(store.Expire(now + std::chrono::seconds(9)).empty());
  store.Attached(*id);
  EXPECT_TRUE(store.Expire(now + std::chrono::hours(1)).empty());
  store.Detached(*id);
  EXPECT_EQ(store.Expire(Store::Clock::now() + std::chrono::seconds(11)).size(), 1u);
  EXPECT_EQ(store.Find(*id, "ann").status().code(), absl::StatusCode::kNotFound);
}

TEST(Ticker, CallsUntilItsEnd) {
  std::atomic<int> calls = 0;
  {
    const Ticker ticker(std::chrono::milliseconds(1), [&] { ++calls; });
    while (calls < 3) std::this_thread::yield();
  }
  const int after = calls;
  std::this_thread::sleep_for(std::chrono::milliseconds(10));
  EXPECT_EQ(calls, after);
}

}  // namespace
}  // namespace scantling
