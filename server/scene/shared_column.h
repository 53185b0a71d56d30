// A column of numbers that copies share.
//
// A scene that is being assembled is copied with every edit; its poses, which may be a gigabyte, are not: a copy shares
// them until one of the two is written to.

#ifndef SCANTLING_SERVER_SCENE_SHARED_COLUMN_H_
#define SCANTLING_SERVER_SCENE_SHARED_COLUMN_H_

#include <algorithm>
#include <cstddef>
#include <memory>
#include <vector>

namespace scantling {

// Reads as a vector. Writing to a column whose numbers others share makes them its own first, O(size). Thread-safe
// among copies as different vectors are; one column as one vector is.
template <typename T>
class SharedColumn {
 public:
  void resize(size_t size) { Own().resize(size); }
  size_t size() const { return values_ == nullptr ? 0 : values_->size(); }
  bool empty() const { return size() == 0; }
  const T& operator[](size_t i) const { return (*values_)[i]; }
  T& operator[](size_t i) { return Own()[i]; }
  T* begin() { return Own().data(); }
  T* end() { return Own().data() + size(); }
  const T* begin() const { return values_ == nullptr ? nullptr : values_->data(); }
  const T* end() const { return begin() + size(); }

  friend bool operator==(const SharedColumn& a, const SharedColumn& b) {
    return a.values_ == b.values_ || std::equal(a.begin(), a.end(), b.begin(), b.end());
  }

 private:
  std::vector<T>& Own() {
    if (values_ == nullptr) {
      values_ = std::make_shared<std::vector<T>>();
    } else if (values_.use_count() > 1) {
      values_ = std::make_shared<std::vector<T>>(*values_);
    }
    return *values_;
  }

  std::shared_ptr<std::vector<T>> values_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_SHARED_COLUMN_H_
