// Idea: hours and weeks are estimates of the rate card; seconds and feet are counted frames. Neither is turned into the
// other: a second of a crowd extra is not the hours of a second of a lead.
//
// Rounding to n significant digits: scale by a power of ten, round half away from zero, scale back.

#include "client/command/units.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "client/command/words.h"

namespace scantling::client {
namespace {

std::string WithThousands(const std::string& digits) {
  std::string out;
  for (size_t i = 0; i < digits.size(); ++i) {
    const bool ends_group = (digits.size() - i) % 3 == 0;
    if (ends_group && !out.empty() && out != "-") out += ',';
    out += digits[i];
  }
  return out;
}

std::string Decimals(double value, int decimals) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  return text;
}

// Magnitudes outside are written with an exponent.
constexpr double kLeastWritten = 1e-6;
constexpr double kMostWritten = 1e15;

std::string Rounded(double value, int digits) {
  if (!std::isfinite(value)) return std::isnan(value) ? "?" : "unlimited";
  if (value == 0) return "0";
  const double magnitude = std::abs(value);
  if (magnitude >= kMostWritten || magnitude < kLeastWritten) {
    char text[32];
    std::snprintf(text, sizeof text, "%.*g", digits, value);
    return text;
  }
  int decimals = digits - 1 - static_cast<int>(std::floor(std::log10(magnitude)));
  // 9.96 to two digits is 10, not 10.0: look again after rounding.
  const double step = std::pow(10.0, -decimals);
  const double rounded = std::round(magnitude / step) * step;
  decimals = digits - 1 - static_cast<int>(std::floor(std::log10(rounded) + 1e-12));
  return decimals > 0 ? Decimals(std::copysign(rounded, value), decimals)
                      : WithThousands(Decimals(std::copysign(rounded, value), 0));
}

}  // namespace

std::optional<WorkUnit> WorkUnitOf(std::string_view name) {
  if (name == "hours") return WorkUnit::kHours;
  if (name == "weeks") return WorkUnit::kWeeks;
  if (name == "seconds") return WorkUnit::kSeconds;
  if (name == "feet") return WorkUnit::kFeet;
  return std::nullopt;
}

const char* NameOf(WorkUnit unit) {
  switch (unit) {
    case WorkUnit::kHours:
      return "animator-hours";
    case WorkUnit::kWeeks:
      return "animator-weeks";
    case WorkUnit::kSeconds:
      return "seconds of animation";
    case WorkUnit::kFeet:
      return "feet of film";
  }
  return "";
}

const char* HeadingOf(WorkUnit unit) {
  switch (unit) {
    case WorkUnit::kHours:
      return "hours";
    case WorkUnit::kWeeks:
      return "weeks";
    case WorkUnit::kSeconds:
      return "seconds";
    case WorkUnit::kFeet:
      return "feet";
  }
  return "";
}

WorkRates RatesOf(const v1::Plan& plan) { return {plan.totals().hours_per_animator_week(), plan.totals().rate_fps()}; }

double SecondsOf(int64_t frames, const WorkRates& rates) {
  return rates.frames_per_second > 0 ? static_cast<double>(frames) / rates.frames_per_second : 0;
}

double FeetOf(int64_t frames) { return static_cast<double>(frames) / kFramesPerFoot; }

double AmountOf(const v1::Decision& decision, WorkUnit unit, const WorkRates& rates) {
  switch (unit) {
    case WorkUnit::kHours:
      return decision.anim_hours();
    case WorkUnit::kWeeks:
      return rates.hours_per_week > 0 ? decision.anim_hours() / rates.hours_per_week : 0;
    case WorkUnit::kSeconds:
      return SecondsOf(FrameCount(decision.animated()), rates);
    case WorkUnit::kFeet:
      return FeetOf(FrameCount(decision.animated()));
  }
  return 0;
}

double AmountOf(const v1::Totals& totals, WorkUnit unit, const WorkRates& rates) {
  switch (unit) {
    case WorkUnit::kHours:
      return totals.plan().anim_hours().mean();
    case WorkUnit::kWeeks:
      return totals.animator_weeks();
    case WorkUnit::kSeconds:
      return totals.animated_seconds();
    case WorkUnit::kFeet:
      return totals.animated_seconds() * rates.frames_per_second / kFramesPerFoot;
  }
  return 0;
}

std::string Figure(double value) {
  if (value == 0) return "0";
  if (std::abs(value) < 0.05) return value > 0 ? "<0.1" : ">-0.1";
  if (std::isfinite(value) && std::abs(value) < 1) return Decimals(value, 1);
  return Rounded(value, 2);
}

std::string Count(int64_t value) { return WithThousands(std::to_string(value)); }

std::string Measured(double value) {
  if (std::isfinite(value) && std::abs(value) >= 1000 && std::abs(value) < kMostWritten) {
    return WithThousands(Decimals(value, 0));
  }
  return Rounded(value, 3);
}

}  // namespace scantling::client
