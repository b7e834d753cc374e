// Least squares of turn rows on a cubic spline of time (one knot a turn) and a border of columns
// that run through the whole record: the marks' pattern by order, and what the caller adds.
//
// Only four spline coefficients touch a turn, so they are eliminated as the turns go by (Cholesky
// of a banded matrix with a border, in the order of time) and the work and memory a turn are
// constant. That serves a recorded run and a live one alike. The border's normal equations at any
// moment are those of an exact fit of all turns so far; their increments between two moments are
// independent of each other, which gives vectors of blocks of turns for nothing.
#pragma once

#include "turn_rows.hpp"

#include <array>
#include <span>
#include <vector>

namespace whirler::tach {

inline constexpr std::size_t kMostExtra = 6; ///< columns that the caller adds
inline constexpr std::size_t kMostBorder = kMostRows - 1 + kMostExtra;
using PivotRow = std::array<double, kSplineWidth + kMostBorder + 1>; ///< spline, border, data

/// Normal equations of the border, spline eliminated. The last row and column are the data.
struct BorderNormal {
  static constexpr std::size_t kSide = kMostBorder + 1;
  std::size_t size = 0;                      ///< unknowns
  std::array<double, kSide * kSide> cells{}; ///< symmetric, full
  double observations = 0.0;                 ///< rows less spline coefficients

  [[nodiscard]] double& at(std::size_t i, std::size_t j) { return cells[i * kSide + j]; }
  [[nodiscard]] double at(std::size_t i, std::size_t j) const { return cells[i * kSide + j]; }
};
/// The part that came in between two moments.
[[nodiscard]] BorderNormal operator-(const BorderNormal& later, const BorderNormal& earlier);
[[nodiscard]] BorderNormal operator+(const BorderNormal& a, const BorderNormal& b);

struct BorderSolution {
  std::size_t size = 0;
  std::array<double, kMostBorder> value{};
  std::array<double, kMostBorder * kMostBorder> inverse{}; ///< covariance for unit noise
  double rss = 0.0;
  bool solvable = false;

  [[nodiscard]] double covariance(std::size_t i, std::size_t j) const {
    return inverse[i * kMostBorder + j];
  }
};
[[nodiscard]] BorderSolution solve(const BorderNormal& normal);

class Elimination {
 public:
  /// `extra` columns beside the pattern. With `keep` turns to come, spline coefficients and what is
  /// left of the rows can be had afterwards, and memory grows until `forget`; with 0 nothing grows.
  Elimination(const TurnBasis& basis, std::size_t extra, std::size_t keep = 0);

  /// One turn: its rows, speed relative to any fixed one, change of speed over the turn; the extra
  /// columns' rows, column after column; and its weight, one over its noise relative to the
  /// others'.
  void add_turn(std::span<const double> rows, double relative_speed, double slope,
                std::span<const double> extra = {}, double weight = 1.0);
  /// A turn of which nothing is believed: the spline runs on through it.
  void skip_turn();
  /// An observation of the border alone: coefficients (pattern first, then extra), and its value.
  void add_border(std::span<const double> coefficients, double value);

  /// `pivots`: what eliminating the newest spline coefficients left, for columns that follow.
  [[nodiscard]] BorderNormal border(std::array<PivotRow, kSplineWidth - 1>* pivots = nullptr) const;
  [[nodiscard]] std::size_t border_size() const { return border_; }
  /// The row that eliminating the last turn's oldest spline coefficient left: spline, border, data.
  [[nodiscard]] std::span<const double> last_pivot() const {
    return std::span(last_pivot_).first(used_);
  }
  [[nodiscard]] std::size_t used() const { return used_; }

  /// Lets the first `turns` go of those that are kept.
  void forget(std::size_t turns);
  /// What is left of the rows of the first turns that are kept, turn after turn, after the fit of
  /// all so far. A spline coefficient hardly knows of turns that are a score away from it.
  /// `extra` has the extra columns' rows of all turns, turn after turn.
  [[nodiscard]] std::vector<double> residuals(const TurnRows& data, double speed_unit,
                                              const BorderSolution& solution,
                                              std::span<const double> extra = {}) const;

 private:
  static constexpr std::size_t kSide = kSplineWidth + kMostBorder + 1;
  using Cells = std::array<double, kSide * kSide>; // lower triangle: spline, border, data

  void add_even_turn(std::span<const double> rows, double relative_speed);
  void add_row(const std::array<double, kSplineWidth>& spline, std::size_t row, double value,
               std::span<const double> extra, double weight);
  static void eliminate_first(Cells& cells, std::size_t first, std::size_t used, double* pivot_row);
  void next_knot();
  [[nodiscard]] std::vector<double> spline_of(const BorderSolution& solution) const;

  const TurnBasis* basis_;
  std::size_t extra_;
  std::size_t border_;
  std::size_t used_; ///< rows of the triangle
  bool keep_;
  Cells cells_{};
  PivotRow last_pivot_{};
  double observations_ = 0.0;
  std::vector<double> pivots_; ///< a knot: the eliminated row, `used_` numbers
};

} // namespace whirler::tach
