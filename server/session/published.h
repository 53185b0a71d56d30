// What the reader of a session is told: the last decision of every object, and since when it is that.
//
// A plan is published as a whole under the next number; every object keeps the number under which its decision changed
// last. What a reader who knows number N has missed is then what changed since N, whatever happened in between: a slow
// reader gets several plans' changes as one, a reader who comes back gets exactly what he missed, and nothing queues.
// Decisions are opaque bytes here, and shared, so that a snapshot being sent costs pointers.
//
// Thread-safe.

#ifndef SCANTLING_SERVER_SESSION_PUBLISHED_H_
#define SCANTLING_SERVER_SESSION_PUBLISHED_H_

#include <cstddef>
#include <cstdint>
#include <memory>
#include <mutex>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace scantling {

using SharedBytes = std::shared_ptr<const std::string>;

// What changed since some number, in canonical order.
struct Snapshot {
  int64_t number = 0;  // of the plan it brings the reader to
  bool anew = false;   // everything: what the reader knows does not count
  std::vector<std::string> gone;
  std::vector<SharedBytes> decisions;
  SharedBytes closing;  // what is said of the plan as a whole
};

// A plan against the one published before it.
struct PublishedPlan {
  struct Change {
    uint32_t row = 0;
    SharedBytes bytes;
  };
  std::vector<uint32_t> was;        // per row: its row in the plan before; kNone: it was not there
  std::vector<std::string> gone;    // ids of objects that left since
  std::vector<Change> changes;      // rows whose bytes changed, or that are new
  std::vector<uint32_t> canonical;  // all rows by id
  SharedBytes closing;              // what is said of the plan as a whole
};

class Published {
 public:
  // The bytes of a row of the last plan; nullptr: there is no such row.
  SharedBytes Find(uint32_t row) const;

  // The next plan. Returns its number.
  int64_t Put(PublishedPlan plan);

  // The same decisions with other words about the plan as a whole.
  int64_t Close(SharedBytes closing);

  int64_t number() const;  // of the last plan; 0: none yet

  // What a reader who took in `number` has missed. 0, a number that was never given, or one too long ago: everything.
  Snapshot Since(int64_t number) const;

  size_t bytes() const;

 private:
  struct Told {
    SharedBytes bytes;
    int64_t number = 0;
  };

  mutable std::mutex mutex_;
  std::vector<Told> told_;                             // by row of the last plan
  std::vector<uint32_t> canonical_;                    // rows
  std::vector<std::pair<int64_t, std::string>> gone_;  // number under which it left, id; rising
  int64_t number_ = 0, horizon_ = 0;                   // who knows less than the horizon gets everything
  SharedBytes closing_;
  size_t bytes_ = 0;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SESSION_PUBLISHED_H_
