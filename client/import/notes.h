// Faults or warnings gathered while a file is read, so that all of them are told at once.

#ifndef SCANTLING_CLIENT_IMPORT_NOTES_H_
#define SCANTLING_CLIENT_IMPORT_NOTES_H_

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

namespace scantling::import {

// Counts every note, keeps the first kListed: a hostile file of a million faults costs bounded memory.
class Notes {
 public:
  static constexpr size_t kListed = 100;

  // `where` as a path in the file, "nodes[3].mesh"; empty: the file as a whole.
  void Add(const std::string& where, const std::string& what) {
    ++count_;
    if (listed_.size() < kListed) listed_.push_back(where.empty() ? what : where + ": " + what);
  }

  bool empty() const { return count_ == 0; }
  size_t count() const { return count_; }

  // One line a note, and a last one for those not listed.
  std::vector<std::string> Lines() const {
    std::vector<std::string> lines = listed_;
    if (count_ > listed_.size()) lines.push_back("and " + std::to_string(count_ - listed_.size()) + " more");
    return lines;
  }

 private:
  size_t count_ = 0;
  std::vector<std::string> listed_;
};

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_NOTES_H_
