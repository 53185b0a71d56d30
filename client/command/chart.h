// A small chart for the terminal: one object's height in the picture against the legibility floor, frame by frame.

#ifndef SCANTLING_CLIENT_COMMAND_CHART_H_
#define SCANTLING_CLIENT_COMMAND_CHART_H_

#include <cstdint>
#include <string>
#include <vector>

namespace scantling::client {

struct ChartPoint {
  int32_t frame = 0;
  bool seen = false;  // unseen frames are left blank
  double height_px = 0;
  double floor_px = 0;
  bool replaced = false;        // a drawing stands for it
  double visible_fraction = 0;  // share not hidden; 0 also where off screen
  bool in_frame = false;        // and yet it may be hidden or too small to be seen
};

struct ChartSize {
  int columns = 72;  // at most; frames beyond are drawn together, by their largest height
  int rows = 10;
};

// Lines of text, each ended by a line break: "*" height, "-" floor, "#" both in one place; pixels on a logarithmic
// scale from the least to the largest of both. Empty where no point is seen with a height or floor above 0. Points in
// the order of their frames. Under the frames a row of what is visible: see VisibleRow. Linear; pure; thread-safe.
std::string HeightChart(const std::vector<ChartPoint>& points, const ChartSize& size);

// One sign a column: "#" wholly visible, "1".."9" tenths of it, "x" wholly hidden, "/" a drawing stands for it, a blank
// where it is off screen. Frames drawn together show the most visible of them.
std::string VisibleRow(const std::vector<ChartPoint>& points, const ChartSize& size);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_CHART_H_
