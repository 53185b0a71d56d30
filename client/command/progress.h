// A bar on standard error while something long runs; nothing at all where standard error is no terminal.

#ifndef SCANTLING_CLIENT_COMMAND_PROGRESS_H_
#define SCANTLING_CLIENT_COMMAND_PROGRESS_H_

#include <chrono>
#include <cstdint>
#include <string>

namespace scantling::client {

// One state of a bar, e.g. "measuring [########----------------]  33%  12,000 objects". `fraction` is clamped to 0..1.
std::string ProgressLine(const std::string& stage, double fraction, int64_t objects);

// Draws at most ten times a second and wipes itself at its end. Calls come from one thread at a time.
class ProgressBar {
 public:
  ProgressBar();  // on where standard error is a terminal
  ~ProgressBar();
  ProgressBar(const ProgressBar&) = delete;
  ProgressBar& operator=(const ProgressBar&) = delete;

  void Show(const std::string& stage, double fraction, int64_t objects);

  // Takes the bar away until it is shown again, so that something else can be printed in its place.
  void Wipe();

 private:
  bool is_terminal_;
  bool is_drawn_ = false;
  std::chrono::steady_clock::time_point last_drawn_;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_PROGRESS_H_
