// Units of work a reader may choose, and figures printed with no more precision than they have. Pure; thread-safe.

#ifndef SCANTLING_CLIENT_COMMAND_UNITS_H_
#define SCANTLING_CLIENT_COMMAND_UNITS_H_

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "scantling/v1/plan.pb.h"

namespace scantling::client {

// What an amount of animation is told in.
enum class WorkUnit {
  kHours,    // of an animator
  kWeeks,    // of an animator, of the rate card's hours
  kSeconds,  // of animation: frames animated over the frame rate
  kFeet,     // of film: frames animated over 16
};

// Frames on a foot of 35 mm film with four perforations a frame (64 perforations to the foot). Common practice, no
// source.
inline constexpr double kFramesPerFoot = 16;

// "hours", "weeks", "seconds", "feet"; nothing for other texts.
std::optional<WorkUnit> WorkUnitOf(std::string_view name);

const char* NameOf(WorkUnit unit);     // "animator-weeks"
const char* HeadingOf(WorkUnit unit);  // of a column: "weeks"

// Of the plan: what turns hours into weeks and frames into seconds. Both above 0, else amounts in that unit are 0.
struct WorkRates {
  double hours_per_week = 0;
  double frames_per_second = 0;
};
WorkRates RatesOf(const v1::Plan& plan);

double SecondsOf(int64_t frames, const WorkRates& rates);
double FeetOf(int64_t frames);

// How much animation a decision asks for: estimated hours or weeks, or the counted seconds or feet of its animated
// frames.
double AmountOf(const v1::Decision& decision, WorkUnit unit, const WorkRates& rates);

// The same summed over the plan.
double AmountOf(const v1::Totals& totals, WorkUnit unit, const WorkRates& rates);

// Two significant digits and thousands marked: 0 -> "0", 0.03 -> "<0.1", 3.14 -> "3.1", 38.4 -> "38", 1234 -> "1,200";
// not a number -> "?". Estimates carry no more.
std::string Figure(double value);

// Whole numbers exactly, thousands marked: 12345 -> "12,345".
std::string Count(int64_t value);

// Three significant digits, for what was measured or proved rather than estimated: 0.01234 -> "0.0123", 1234.6 ->
// "1,235".
std::string Measured(double value);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_UNITS_H_
