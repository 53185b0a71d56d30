// One shared counter hands out indices: pieces differ widely in length (a static chunk, a moving one), and whoever is
// free takes the next. Which thread took which piece leaves no trace in the results.

#include "server/planning/parallel.h"

#include <algorithm>
#include <atomic>
#include <thread>
#include <vector>

namespace scantling {

void ForEachInParallel(size_t count, int threads, const std::function<void(size_t)>& work) {
  std::atomic<size_t> next{0};
  const auto take_all = [&] {
    for (size_t i = next.fetch_add(1); i < count; i = next.fetch_add(1)) work(i);
  };
  const size_t helpers = std::min(count, static_cast<size_t>(std::max(threads, 1))) - (count == 0 ? 0 : 1);
  std::vector<std::jthread> others;
  others.reserve(helpers);
  for (size_t i = 0; i < helpers; ++i) others.emplace_back(take_all);
  take_all();
}

}  // namespace scantling
