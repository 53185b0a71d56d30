// Idea: return to the line's start, draw, wipe to the line's end. Ten drawings a second are as many as an eye follows,
// and keep a slow terminal from slowing the plan.
//
// Source: ECMA-48, EL (erase in line): ESC [ K.

#include "client/command/progress.h"

#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "absl/strings/str_cat.h"
#include "client/command/units.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr int kBarColumns = 24;
constexpr std::chrono::milliseconds kBetweenDrawings{100};

}  // namespace

std::string ProgressLine(const std::string& stage, double fraction, int64_t objects) {
  const double share = std::isfinite(fraction) ? std::clamp(fraction, 0.0, 1.0) : 0;
  const int filled = static_cast<int>(std::floor(share * kBarColumns));
  const std::string percent = absl::StrCat(static_cast<int>(std::floor(share * 100)), "%");
  return absl::StrCat(Printable(stage), " [", std::string(static_cast<size_t>(filled), '#'),
                      std::string(static_cast<size_t>(kBarColumns - filled), '-'), "] ",
                      std::string(4 - std::min<size_t>(4, percent.size()), ' '), percent, "  ", Count(objects),
                      " objects");
}

ProgressBar::ProgressBar() : is_terminal_(isatty(STDERR_FILENO) == 1) {}

ProgressBar::~ProgressBar() { Wipe(); }

void ProgressBar::Wipe() {
  if (!is_drawn_) return;
  std::fputs("\r\033[K", stderr);
  std::fflush(stderr);
  is_drawn_ = false;
}

void ProgressBar::Show(const std::string& stage, double fraction, int64_t objects) {
  if (!is_terminal_) return;
  const auto now = std::chrono::steady_clock::now();
  if (now - last_drawn_ < kBetweenDrawings) return;
  last_drawn_ = now;
  is_drawn_ = true;
  std::fprintf(stderr, "\r%s\033[K", ProgressLine(stage, fraction, objects).c_str());
  std::fflush(stderr);
}

}  // namespace scantling::client
