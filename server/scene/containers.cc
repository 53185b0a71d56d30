// Every object has at most one container, so the containers make a graph in which each node has at most one way out:
// walking from a node ends outside, at a node of an earlier walk, or at a node of this walk, and only the last is a
// cycle. Each node is walked once; the number of its walk is its mark.

#include "server/scene/containers.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "server/scene/faults.h"

namespace scantling {
namespace {

constexpr size_t kNamedOnCycle = 8;  // ids of a cycle that its fault names

std::vector<uint32_t> CycleFrom(std::span<const uint32_t> container, uint32_t on_it) {
  std::vector<uint32_t> cycle;
  uint32_t row = on_it;
  do {
    cycle.push_back(row);
    row = container[row];
  } while (row != on_it);
  std::rotate(cycle.begin(), std::min_element(cycle.begin(), cycle.end()), cycle.end());
  return cycle;
}

}  // namespace

std::vector<std::vector<uint32_t>> FindCycles(std::span<const uint32_t> container) {
  std::vector<std::vector<uint32_t>> cycles;
  std::vector<uint32_t> walk(container.size(), kNone);
  for (uint32_t start = 0; start < container.size(); ++start) {
    uint32_t row = start;
    while (row != kNone && walk[row] == kNone) {
      walk[row] = start;
      row = container[row];
    }
    if (row != kNone && walk[row] == start) cycles.push_back(CycleFrom(container, row));
  }
  std::sort(cycles.begin(), cycles.end(), [](const auto& a, const auto& b) { return a[0] < b[0]; });
  return cycles;
}

std::string CycleFault(const std::vector<uint32_t>& cycle, const StringColumn& ids) {
  std::string text = "got a cycle of containers: ";
  for (size_t i = 0; i < cycle.size() && i < kNamedOnCycle; ++i)
    absl::StrAppend(&text, QuotedText(ids[cycle[i]]), " in ");
  if (cycle.size() > kNamedOnCycle) absl::StrAppend(&text, "... in ");
  absl::StrAppend(&text, QuotedText(ids[cycle[0]]), " (", cycle.size(), cycle.size() == 1 ? " object" : " objects",
                  "), want no object that holds itself");
  return text;
}

}  // namespace scantling
