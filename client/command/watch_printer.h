// Prints what happens to a watched shot, for people or for programs.

#ifndef SCANTLING_CLIENT_COMMAND_WATCH_PRINTER_H_
#define SCANTLING_CLIENT_COMMAND_WATCH_PRINTER_H_

#include <chrono>
#include <map>
#include <optional>
#include <string>

#include "absl/status/status.h"
#include "client/command/exit_code.h"
#include "client/library/live_events.h"
#include "client/library/live_shot.h"

namespace scantling::client {

struct WatchPrinterOptions {
  std::string file;  // as the user named it
  bool json = false;
  bool all = false;  // every changed object in the text
};

// Results go to standard output, each whole and at once; in text form, what is wrong with the file or the connection to
// standard error. Not thread-safe.
class WatchPrinter {
 public:
  using TimePoint = std::chrono::steady_clock::time_point;
  explicit WatchPrinter(WatchPrinterOptions options) : options_(std::move(options)) {}

  void Began(const LiveShot& shot);
  void FileChanged(const LiveShot& before, const ShotChange& change);
  void FileFaulty(const absl::Status& status);  // the last good plan stands
  void FileGone();

  void Plan(const LivePlanUpdate& news);
  // In text, a first look is printed only where no plan follows soon: by Tick.
  void Provisional(const LiveProvisional& news, TimePoint now);
  void Refused(const absl::Status& status);
  void Connection(const LiveConnectionChange& change);
  void Tick(TimePoint now);

  // kDone as long as everything could be printed.
  ExitCode code() const { return code_; }

 private:
  void Put(const std::string& text);
  void Say(const std::string& text);

  const WatchPrinterOptions options_;
  ExitCode code_ = ExitCode::kDone;
  std::optional<v1::Totals> told_;             // totals of the last final plan told
  std::map<std::string, LiveChange> changed_;  // since then
  std::string first_look_;
  TimePoint first_look_since_{};
  bool was_lost_ = false;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_WATCH_PRINTER_H_
