// Idea: ask for the file's state many times a second instead of being told by the kernel: one system call costs nothing
// beside a plan, and it sees what another machine wrote to a shared disk, which notification does not.
//
// A file is read when its state has stayed the same for a while, so that one that is being written is mostly let be
// finished; a file that is half-written for longer is read, and its faults told, and read again when it goes on.

#include "client/command/watch_file.h"

#include <sys/stat.h>

#include <utility>

namespace scantling::client {
namespace {

int64_t Nanoseconds(const timespec& time) { return int64_t{time.tv_sec} * 1'000'000'000 + time.tv_nsec; }

}  // namespace

WatchedFile::WatchedFile(std::string path, std::chrono::milliseconds quiet)
    : path_(std::move(path)), quiet_(quiet), read_(Now()), seen_(read_) {}

std::optional<WatchedFile::State> WatchedFile::Now() const {
  struct stat about = {};
  if (stat(path_.c_str(), &about) != 0) return std::nullopt;
  return State{about.st_dev, about.st_ino, about.st_size, Nanoseconds(about.st_mtim), Nanoseconds(about.st_ctim)};
}

WatchedFile::News WatchedFile::Look(TimePoint now) {
  const std::optional<State> state = Now();
  if (state != seen_) {
    seen_ = state;
    seen_since_ = now;
  }
  if (now - seen_since_ < quiet_ || seen_ == read_) return News::kNone;
  read_ = seen_;
  return read_ ? News::kWritten : News::kGone;
}

}  // namespace scantling::client
