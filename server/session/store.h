// The sessions there are: whose they are, what they hold, and until when.
//
// A session lives while a stream is attached to it, and for some time after. What one identity holds in all its
// sessions is limited: sessions, objects, bytes.

#ifndef SCANTLING_SERVER_SESSION_STORE_H_
#define SCANTLING_SERVER_SESSION_STORE_H_

#include <chrono>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "server/session/session_id.h"

namespace scantling {

struct SessionLimits {
  int64_t sessions = 64;  // of one identity
  int64_t objects = 4'000'000;
  int64_t bytes = int64_t{12} << 30;
  std::chrono::seconds keep{300};  // without a stream
};

// Thread-safe. Session is any type; the store holds it by shared_ptr and never calls it.
template <typename Session>
class SessionStore {
 public:
  using Clock = std::chrono::steady_clock;

  explicit SessionStore(const SessionLimits& limits) : limits_(limits) {}

  const SessionLimits& limits() const { return limits_; }

  // A new id for a session to be put in, which counts from now on. RESOURCE_EXHAUSTED where the identity has as many as
  // it may.
  absl::StatusOr<std::string> Reserve(const std::string& identity) {
    const std::scoped_lock lock(mutex_);
    int64_t held = 0;
    for (const auto& [id, entry] : entries_) held += entry.identity == identity;
    if (held >= limits_.sessions) {
      return absl::ResourceExhaustedError(
          absl::StrCat("got one session more than the ", limits_.sessions,
                       " that one identity may have (live_sessions), want another closed first"));
    }
    std::string id = NewSessionId();
    entries_[id].identity = identity;
    return id;
  }

  void Put(const std::string& id, std::shared_ptr<Session> session) {
    const std::scoped_lock lock(mutex_);
    entries_[id].session = std::move(session);
  }

  // NOT_FOUND where there is none, or it is another's: whoever asks learns no more.
  absl::StatusOr<std::shared_ptr<Session>> Find(std::string_view id, const std::string& identity) {
    const std::scoped_lock lock(mutex_);
    const auto found = entries_.find(std::string(id));
    if (found == entries_.end() || found->second.session == nullptr || found->second.identity != identity) {
      return absl::NotFoundError("no such session");
    }
    return found->second.session;
  }

  void Attached(const std::string& id) { SetDetached(id, Clock::time_point::max()); }
  void Detached(const std::string& id) { SetDetached(id, Clock::now()); }

  // The session is about to hold so much. RESOURCE_EXHAUSTED where its identity would hold more than it may in all;
  // then nothing changed.
  absl::Status Charge(const std::string& id, int64_t objects, int64_t bytes) {
    const std::scoped_lock lock(mutex_);
    const auto found = entries_.find(id);
    if (found == entries_.end()) return absl::OkStatus();
    int64_t all_objects = objects, all_bytes = bytes;
    for (const auto& [other, entry] : entries_) {
      if (other == id || entry.identity != found->second.identity) continue;
      all_objects += entry.objects;
      all_bytes += entry.bytes;
    }
    const bool grows = objects > found->second.objects || bytes > found->second.bytes;
    if (grows && all_objects > limits_.objects) return TooMany(all_objects, limits_.objects, "objects", "live_objects");
    if (grows && all_bytes > limits_.bytes) {
      return TooMany(all_bytes >> 20, limits_.bytes >> 20, "MiB of memory", "live_memory_mb");
    }
    found->second.objects = objects;
    found->second.bytes = bytes;
    return absl::OkStatus();
  }

  void Remove(const std::string& id) {
    std::shared_ptr<Session> last;  // its end may take a while, and wants no lock
    const std::scoped_lock lock(mutex_);
    const auto found = entries_.find(id);
    if (found == entries_.end()) return;
    last = std::move(found->second.session);
    entries_.erase(found);
  }

  // Drops those without a stream for longer than they are kept, and answers them.
  std::vector<std::shared_ptr<Session>> Expire(Clock::time_point now) {
    std::vector<std::shared_ptr<Session>> last;
    const std::scoped_lock lock(mutex_);
    for (auto entry = entries_.begin(); entry != entries_.end();) {
      const Clock::time_point since = entry->second.detached;
      const bool late = since != Clock::time_point::max() && now - since > limits_.keep;
      if (late && entry->second.session != nullptr) last.push_back(std::move(entry->second.session));
      entry = late ? entries_.erase(entry) : std::next(entry);
    }
    return last;
  }

  std::vector<std::shared_ptr<Session>> All() const {
    const std::scoped_lock lock(mutex_);
    std::vector<std::shared_ptr<Session>> all;
    for (const auto& [id, entry] : entries_) {
      if (entry.session != nullptr) all.push_back(entry.session);
    }
    return all;
  }

 private:
  struct Entry {
    std::string identity;
    std::shared_ptr<Session> session;
    Clock::time_point detached = Clock::time_point::max();
    int64_t objects = 0, bytes = 0;
  };

  static absl::Status TooMany(int64_t got, int64_t most, const char* what, const char* setting) {
    return absl::ResourceExhaustedError(absl::StrCat(
        "got ", got, " ", what, " in all sessions of one identity, want at most ", most, " (", setting, ")"));
  }

  void SetDetached(const std::string& id, Clock::time_point at) {
    const std::scoped_lock lock(mutex_);
    const auto found = entries_.find(id);
    if (found != entries_.end()) found->second.detached = at;
  }

  const SessionLimits limits_;
  mutable std::mutex mutex_;
  std::map<std::string, Entry> entries_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SESSION_STORE_H_
