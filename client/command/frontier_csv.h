// A frontier's points as CSV, one record a point, under a header of stable column names that carry their units.

#ifndef SCANTLING_CLIENT_COMMAND_FRONTIER_CSV_H_
#define SCANTLING_CLIENT_COMMAND_FRONTIER_CSV_H_

#include <string>

#include "scantling/v1/shot_planner.pb.h"

namespace scantling::client {

// Columns are only ever added, at the end. Pure; thread-safe.
std::string FrontierCsvHeader();

// A limit that is not set is an empty cell; so is everything behind `fits` where no plan does.
std::string FrontierCsvRecord(const v1::FrontierPoint& point);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_FRONTIER_CSV_H_
