// Faults found in what a caller sent, gathered so that all of them are answered at once.
//
// A field path names the place in the caller's own terms ("objects[3].box.max_m.y"); a description says what was got
// and what was wanted ("got -1, want a number above 0"). Every fault is counted; only the first `kListed` are kept, so
// that a hostile input of a million faults costs bounded memory.

#ifndef SCANTLING_SERVER_UNITS_VIOLATIONS_H_
#define SCANTLING_SERVER_UNITS_VIOLATIONS_H_

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

namespace scantling {

struct Violation {
  std::string field;
  std::string description;
  friend bool operator==(const Violation&, const Violation&) = default;
};

class Violations {
 public:
  static constexpr size_t kListed = 10'000;

  void Add(std::string field, std::string description) {
    ++count_;
    if (listed_.size() < kListed) listed_.push_back({std::move(field), std::move(description)});
  }

  bool empty() const { return count_ == 0; }
  size_t count() const { return count_; }                           // all faults found
  const std::vector<Violation>& listed() const { return listed_; }  // the first kListed of them, in order found

 private:
  size_t count_ = 0;
  std::vector<Violation> listed_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_UNITS_VIOLATIONS_H_
