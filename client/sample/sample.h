// The demonstration shot: The Lamplighter's Ferry, sequence `qy`, the quay at dusk, at any size.
//
// In front a lamplighter and her dog; a night market of stalls, carts, bicycles and some four hundred people (at the
// default size); a moored ferry with sixty people on deck behind small boats; terraced houses with lit windows and
// tenants; gulls; reapers and hay carts on a far hillside; and a hill town built at a seventh of its size and set seven
// times too near. The camera tracks along the quay, then whips up to the town. All invented.
//
// Two crowds, with starting values: quay_crowd (the people of the market; a quarter of them stays, and a tenth of what
// they cover of each of 4 x 2 cells) and ferry_passengers (a quarter stays; told over 2 x 1 cells).

#ifndef SCANTLING_CLIENT_SAMPLE_SAMPLE_H_
#define SCANTLING_CLIENT_SAMPLE_SAMPLE_H_

#include <cstdint>

#include "absl/status/status.h"
#include "scantling/v1/scene.pb.h"

namespace scantling {

struct SampleOptions {
  int objects = 1500;   // 1 .. kMostSampleObjects
  uint64_t seed = 1;    // any; another seed is another evening on the same quay
  int frames = 240;     // 1 .. kMostSampleFrames, at 24 a second, from frame 1001
  int width_px = 2048;  // 1 .. 65536
  int height_px = 858;  // 1 .. 65536; pixels are square
  bool blocks = false;  // packed columns instead of rows; always above kMostSampleRows objects
};

inline constexpr int kMostSampleObjects = 2'000'000;
inline constexpr int kMostSampleFrames = 100'000;
inline constexpr int kMostSampleRows = 20'000;

// OK, or INVALID_ARGUMENT naming every option out of range, what was got and what was wanted.
absl::Status CheckSampleOptions(const SampleOptions& options);

// The shot. Options must pass CheckSampleOptions; otherwise the shot is empty. The same options give the same bytes on
// every platform, and rows and blocks hold the same numbers. About a fifth of the objects move in a small shot, a tenth
// from 20,000 objects on, and fewer where all poses together would pass eight million (half a gigabyte). Half of a
// larger cast goes into length of quay and half into a denser crowd: far above 20,000 objects it is a load, not a
// picture. O(objects + poses) time and memory; a million objects over 240 frames take about a second. Thread-safe.
v1::Shot MakeSample(const SampleOptions& options);

}  // namespace scantling

#endif  // SCANTLING_CLIENT_SAMPLE_SAMPLE_H_
