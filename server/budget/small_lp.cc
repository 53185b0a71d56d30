// Primal simplex on a dense dictionary.
//
// Row i of the dictionary says basic_i = limit_i - sum over nonbasic j of a_ij x_j; the last row is the objective, its
// coefficients kept with the sign of gain. Columns enter by largest gain for the first pivots and by Bland's rule after
// kGreedyPivots, so degenerate programmes end too.
// Source: Chvatal, Linear Programming, 1983, chapters 2 and 3.

#include "server/budget/small_lp.h"

#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>

namespace scantling::budget {
namespace {

constexpr double kTiny = 1e-11;    // pivots and gains below are zero; figures are scaled to about 1
constexpr int kGreedyPivots = 60;  // a few times the usual number of pivots for 3 to 30 columns
constexpr int kMaxPivots = 2'000;

class Dictionary {
 public:
  explicit Dictionary(const SmallLp& lp)
      : rows_(lp.rows.size()), columns_(lp.objective.size()), stride_(columns_ + 1), cell_((rows_ + 1) * stride_) {
    for (size_t i = 0; i < rows_; ++i) {
      for (size_t j = 0; j < columns_; ++j) At(i, j) = lp.rows[i][j];
      At(i, columns_) = lp.limit[i];
      basic_.push_back(static_cast<int>(columns_ + i));
    }
    for (size_t j = 0; j < columns_; ++j) {
      At(rows_, j) = lp.objective[j];
      nonbasic_.push_back(static_cast<int>(j));
    }
  }

  bool Optimise() {
    for (int pivots = 0; pivots < kMaxPivots; ++pivots) {
      const int column = Entering(pivots >= kGreedyPivots);
      if (column < 0) return true;
      const int row = Leaving(column);
      if (row < 0) return false;
      Pivot(row, column);
    }
    return false;
  }

  SmallLpSolution Read() const {
    SmallLpSolution solution;
    solution.bounded = true;
    solution.x.assign(columns_, 0.0);
    solution.shadow_price.assign(rows_, 0.0);
    for (size_t i = 0; i < rows_; ++i) {
      if (basic_[i] < static_cast<int>(columns_)) solution.x[basic_[i]] = At(i, columns_);
    }
    for (size_t j = 0; j < columns_; ++j) {
      const int row = nonbasic_[j] - static_cast<int>(columns_);
      if (row >= 0) solution.shadow_price[row] = std::fmax(0.0, -At(rows_, j));
    }
    solution.value = -At(rows_, columns_);
    return solution;
  }

 private:
  double& At(size_t row, size_t column) { return cell_[row * stride_ + column]; }
  double At(size_t row, size_t column) const { return cell_[row * stride_ + column]; }

  int Entering(bool bland) const {
    int best = -1;
    for (size_t j = 0; j < columns_; ++j) {
      if (At(rows_, j) <= kTiny) continue;
      if (best < 0 || (bland ? nonbasic_[j] < nonbasic_[best] : At(rows_, j) > At(rows_, best))) {
        best = static_cast<int>(j);
      }
    }
    return best;
  }

  int Leaving(int column) const {
    int best = -1;
    double best_ratio = std::numeric_limits<double>::infinity();
    for (size_t i = 0; i < rows_; ++i) {
      const double a = At(i, column);
      if (a <= kTiny) continue;
      const double ratio = std::fmax(0.0, At(i, columns_)) / a;
      if (best < 0 || ratio < best_ratio || (ratio == best_ratio && basic_[i] < basic_[best])) {
        best = static_cast<int>(i);
        best_ratio = ratio;
      }
    }
    return best;
  }

  void Pivot(int row, int column) {
    const double inverse = 1.0 / At(row, column);
    for (size_t j = 0; j < stride_; ++j) At(row, j) *= inverse;
    At(row, column) = inverse;
    for (size_t i = 0; i <= rows_; ++i) {
      if (static_cast<int>(i) == row) continue;
      const double factor = At(i, column);
      if (factor == 0) continue;
      for (size_t j = 0; j < stride_; ++j) At(i, j) -= factor * At(row, j);
      At(i, column) = -factor * inverse;
    }
    std::swap(basic_[row], nonbasic_[column]);
  }

  size_t rows_, columns_, stride_;
  std::vector<double> cell_;
  std::vector<int> basic_, nonbasic_;
};

}  // namespace

SmallLpSolution Maximise(const SmallLp& lp) {
  Dictionary dictionary(lp);
  if (!dictionary.Optimise()) return {};
  return dictionary.Read();
}

}  // namespace scantling::budget
