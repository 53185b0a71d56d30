// A frontier as a supervisor reads it: what each budget loses, where more of it buys much less, and from where on
// nothing is lost. Pure; thread-safe.

#ifndef SCANTLING_CLIENT_COMMAND_FRONTIER_TEXT_H_
#define SCANTLING_CLIENT_COMMAND_FRONTIER_TEXT_H_

#include <string>
#include <vector>

#include "scantling/v1/shot_planner.pb.h"

namespace scantling::client {

struct TracedFrontier {
  v1::PlanOptions options;                // as asked with: limits that stay
  std::vector<v1::FrontierPoint> points;  // the loosest first
  v1::FrontierSummary summary;
};

// Lines of the table unless all are wanted.
inline constexpr size_t kShownPoints = 30;

// The whole report. `all`: every point's line. Linear in the points.
std::string FrontierText(const TracedFrontier& frontier, bool all);

// Its parts, in order; each ends with a line break, and is empty where there is nothing to say.
std::string FrontierHeader(const TracedFrontier& frontier);
std::string FrontierTable(const TracedFrontier& frontier, bool all);
std::string FrontierPicture(const TracedFrontier& frontier);
std::string FindingsText(const v1::FrontierSummary& summary, const std::vector<v1::FrontierPoint>& points);

// Which of `count` lines are shown where at most `most` (2 or more) may be: first, last, `must` (below 0: none) and the
// rest evenly between, in their order. All where they are no more than `most`.
std::vector<size_t> ShownLines(size_t count, size_t most, int must);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_FRONTIER_TEXT_H_
