// Notices that a file was written, whichever way: in place, or by another file moved over it.

#ifndef SCANTLING_CLIENT_COMMAND_WATCH_FILE_H_
#define SCANTLING_CLIENT_COMMAND_WATCH_FILE_H_

#include <sys/types.h>

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>

namespace scantling::client {

// Not thread-safe.
class WatchedFile {
 public:
  using TimePoint = std::chrono::steady_clock::time_point;
  enum class News {
    kNone,
    kWritten,  // it is not as it was last read, and has been left alone for `quiet`
    kGone,     // it was there the last time; told once
  };

  // What the file is now counts as read.
  WatchedFile(std::string path, std::chrono::milliseconds quiet);

  // Looks once. `now` must not go back. What is told as written counts as read.
  News Look(TimePoint now);

 private:
  // What tells one writing from another: the file itself, its size, its times to the nanosecond.
  struct State {
    dev_t device = 0;
    ino_t inode = 0;
    int64_t size = 0, modified_ns = 0, changed_ns = 0;
    bool operator==(const State&) const = default;
  };
  std::optional<State> Now() const;

  const std::string path_;
  const std::chrono::milliseconds quiet_;
  std::optional<State> read_, seen_;
  TimePoint seen_since_{};
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_WATCH_FILE_H_
