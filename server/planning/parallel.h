// Shares independent pieces of work out among threads.

#ifndef SCANTLING_SERVER_PLANNING_PARALLEL_H_
#define SCANTLING_SERVER_PLANNING_PARALLEL_H_

#include <cstddef>
#include <functional>

namespace scantling {

// Calls work(i) once for every i in [0, count), on up to `threads` threads (the calling one among them), in no
// particular order; returns when all are done. `work` must not throw and its calls must not depend on one another.
// threads >= 1.
void ForEachInParallel(size_t count, int threads, const std::function<void(size_t)>& work);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_PARALLEL_H_
