#include "elimination.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::tach {
namespace {

/// Stands in for a spline coefficient that nothing was seen of; far below any real pivot.
constexpr double kRidge = 1e-12;

} // namespace

BorderNormal operator-(const BorderNormal& later, const BorderNormal& earlier) {
  BorderNormal out = later;
  for (std::size_t i = 0; i < out.cells.size(); ++i)
    out.cells[i] -= earlier.cells[i];
  out.observations -= earlier.observations;
  return out;
}

BorderNormal operator+(const BorderNormal& a, const BorderNormal& b) {
  BorderNormal out = a;
  for (std::size_t i = 0; i < out.cells.size(); ++i)
    out.cells[i] += b.cells[i];
  out.observations += b.observations;
  return out;
}

namespace {

/// In-place Cholesky of the leading block; false where it is not positive.
bool factor(BorderNormal& m) {
  for (std::size_t j = 0; j < m.size; ++j) {
    const double whole = m.at(j, j);
    double d = whole;
    for (std::size_t k = 0; k < j; ++k)
      d -= m.at(j, k) * m.at(j, k);
    if (!(d > 1e-11 * whole))
      return false;
    m.at(j, j) = std::sqrt(d);
    for (std::size_t i = j + 1; i < m.size; ++i) {
      double v = m.at(i, j);
      for (std::size_t k = 0; k < j; ++k)
        v -= m.at(i, k) * m.at(j, k);
      m.at(i, j) = v / m.at(j, j);
    }
  }
  return true;
}

void solve_factored(const BorderNormal& l, std::span<double> x) {
  for (std::size_t i = 0; i < l.size; ++i) {
    for (std::size_t k = 0; k < i; ++k)
      x[i] -= l.at(i, k) * x[k];
    x[i] /= l.at(i, i);
  }
  for (std::size_t i = l.size; i-- > 0;) {
    for (std::size_t k = i + 1; k < l.size; ++k)
      x[i] -= l.at(k, i) * x[k];
    x[i] /= l.at(i, i);
  }
}

} // namespace

BorderSolution solve(const BorderNormal& normal) {
  BorderSolution out;
  out.size = normal.size;
  BorderNormal l = normal;
  if (!factor(l))
    return out;
  out.solvable = true;
  const std::size_t data = normal.size;
  for (std::size_t i = 0; i < normal.size; ++i)
    out.value[i] = normal.at(i, data);
  solve_factored(l, std::span(out.value).first(normal.size));
  out.rss = normal.at(data, data);
  for (std::size_t i = 0; i < normal.size; ++i)
    out.rss -= out.value[i] * normal.at(i, data);
  out.rss = std::max(out.rss, 0.0);
  for (std::size_t j = 0; j < normal.size; ++j) {
    std::array<double, kMostBorder> column{};
    column[j] = 1.0;
    solve_factored(l, std::span(column).first(normal.size));
    for (std::size_t i = 0; i < normal.size; ++i)
      out.inverse[i * kMostBorder + j] = column[i];
  }
  return out;
}

Elimination::Elimination(const TurnBasis& basis, std::size_t extra, std::size_t keep)
    : basis_(&basis), extra_(extra), border_(basis.rows - 1 + extra),
      used_(kSplineWidth + border_ + 1), keep_(keep > 0), observations_(-double{kSplineWidth - 1}) {
  pivots_.reserve(keep * used_);
}

void Elimination::add_row(const std::array<double, kSplineWidth>& spline, std::size_t row,
                          double value, std::span<const double> extra, double weight) {
  const std::size_t data = used_ - 1;
  for (std::size_t i = 0; i < kSplineWidth; ++i) {
    for (std::size_t j = 0; j <= i; ++j)
      cells_[i * kSide + j] += spline[i] * spline[j];
    cells_[data * kSide + i] += value * spline[i];
  }
  cells_[data * kSide + data] += value * value;
  const std::size_t pattern = kSplineWidth + row - 1; // row 0, the mean, has no pattern column
  if (row > 0) {
    for (std::size_t j = 0; j < kSplineWidth; ++j)
      cells_[pattern * kSide + j] += weight * spline[j];
    cells_[pattern * kSide + pattern] += weight * weight;
    cells_[data * kSide + pattern] += weight * value;
  }
  const std::size_t stride = basis_->rows;
  for (std::size_t e = 0; e < extra_; ++e) {
    const double x = weight * extra[e * stride + row];
    const std::size_t at = data - extra_ + e;
    double* line = cells_.data() + at * kSide;
    for (std::size_t j = 0; j < kSplineWidth; ++j)
      line[j] += x * spline[j];
    if (row > 0)
      line[pattern] += weight * x;
    for (std::size_t f = 0; f <= e; ++f)
      line[data - extra_ + f] += x * weight * extra[f * stride + row];
    cells_[data * kSide + at] += x * value;
  }
}

/// A turn at an even speed, of weight 1 and without extra columns: nearly all that a dwell has.
/// What the spline adds is the same in each but for the speed.
void Elimination::add_even_turn(std::span<const double> rows, double relative_speed) {
  const std::size_t data = used_ - 1;
  double* data_line = cells_.data() + data * kSide;
  const double square = relative_speed * relative_speed;
  for (std::size_t i = 0; i < kSplineWidth; ++i)
    for (std::size_t j = 0; j <= i; ++j)
      cells_[i * kSide + j] += square * basis_->spline_gram[i][j];
  std::array<double, kSplineWidth> by_data{};
  for (std::size_t r = 0; r < basis_->rows; ++r) {
    const auto& spline = basis_->spline_rows[r];
    const double value = rows[r];
    for (std::size_t q = 0; q < kSplineWidth; ++q)
      by_data[q] += value * spline[q];
    data_line[data] += value * value;
    if (r == 0)
      continue;
    const std::size_t pattern = kSplineWidth + r - 1;
    double* line = cells_.data() + pattern * kSide;
    for (std::size_t q = 0; q < kSplineWidth; ++q)
      line[q] += relative_speed * spline[q];
    line[pattern] += 1.0;
    data_line[pattern] += value;
  }
  for (std::size_t q = 0; q < kSplineWidth; ++q)
    data_line[q] += relative_speed * by_data[q];
}

void Elimination::add_turn(std::span<const double> rows, double relative_speed, double slope,
                           std::span<const double> extra, double weight) {
  constexpr double kEven = 2e-3; // of the speed over the turn; what it weighs amiss is far less
  const bool even = extra_ == 0 && weight == 1.0 && std::abs(slope) < kEven;
  if (even)
    add_even_turn(rows, relative_speed);
  for (std::size_t r = 0; !even && r < basis_->rows; ++r) {
    std::array<double, kSplineWidth> spline;
    for (std::size_t q = 0; q < kSplineWidth; ++q)
      spline[q] = weight * relative_speed *
                  (basis_->spline_rows[r][q] + slope * basis_->spline_slope_rows[r][q]);
    add_row(spline, r, weight * rows[r], extra, weight);
  }
  observations_ += static_cast<double>(basis_->rows);
  next_knot();
}

void Elimination::skip_turn() { next_knot(); }

void Elimination::add_border(std::span<const double> coefficients, double value) {
  const std::size_t data = used_ - 1;
  for (std::size_t i = 0; i < border_; ++i) {
    for (std::size_t j = 0; j <= i; ++j)
      cells_[(kSplineWidth + i) * kSide + kSplineWidth + j] += coefficients[i] * coefficients[j];
    cells_[data * kSide + kSplineWidth + i] += coefficients[i] * value;
  }
  cells_[data * kSide + data] += value * value;
  observations_ += 1.0;
}

/// Eliminates unknown `first` from all after it. The pivot's row is left in `pivot_row`.
void Elimination::eliminate_first(Cells& cells, std::size_t first, std::size_t used,
                                  double* pivot_row) {
  const double pivot = cells[first * kSide + first] + kRidge;
  for (std::size_t i = first; i < used; ++i)
    pivot_row[i] = cells[i * kSide + first];
  pivot_row[first] = pivot;
  const double inverse = 1.0 / pivot;
  for (std::size_t i = first + 1; i < used; ++i) {
    const double share = pivot_row[i] * inverse;
    double* line = cells.data() + i * kSide;
    for (std::size_t j = first + 1; j <= i; ++j)
      line[j] -= share * pivot_row[j];
  }
}

void Elimination::next_knot() {
  eliminate_first(cells_, 0, used_, last_pivot_.data());
  if (keep_)
    pivots_.insert(pivots_.end(), last_pivot_.begin(),
                   last_pivot_.begin() + static_cast<std::ptrdiff_t>(used_));
  for (std::size_t i = 1; i < kSplineWidth; ++i)
    for (std::size_t j = 1; j <= i; ++j)
      cells_[(i - 1) * kSide + j - 1] = cells_[i * kSide + j];
  for (std::size_t j = 0; j < kSplineWidth; ++j)
    cells_[(kSplineWidth - 1) * kSide + j] = 0.0;
  for (std::size_t i = kSplineWidth; i < used_; ++i) {
    double* line = cells_.data() + i * kSide;
    for (std::size_t j = 0; j + 1 < kSplineWidth; ++j)
      line[j] = line[j + 1];
    line[kSplineWidth - 1] = 0.0;
  }
  observations_ -= 1.0;
}

BorderNormal Elimination::border(std::array<PivotRow, kSplineWidth - 1>* pivots) const {
  Cells cells = cells_;
  PivotRow pivot_row{};
  // The newest coefficient has been touched by no turn yet: three are left.
  for (std::size_t first = 0; first + 1 < kSplineWidth; ++first) {
    eliminate_first(cells, first, used_, pivot_row.data());
    if (pivots != nullptr)
      (*pivots)[first] = pivot_row;
  }
  BorderNormal out;
  out.size = border_;
  out.observations = observations_;
  for (std::size_t i = 0; i <= border_; ++i)
    for (std::size_t j = 0; j <= i; ++j)
      out.at(i, j) = out.at(j, i) = cells[(kSplineWidth + i) * kSide + kSplineWidth + j];
  return out;
}

/// Back-substitution: the last three coefficients first, from the cells as they stand.
std::vector<double> Elimination::spline_of(const BorderSolution& solution) const {
  const std::size_t turns = pivots_.size() / used_;
  std::vector<double> spline(turns + kSplineWidth - 1, 0.0);
  Cells cells = cells_;
  std::array<std::array<double, kSide>, kSplineWidth> tail{};
  for (std::size_t first = 0; first + 1 < kSplineWidth; ++first)
    eliminate_first(cells, first, used_, tail[first].data());
  // The next coefficient comes last and by a product: each waits for the one before it.
  const auto value_of = [&](const double* row, std::size_t first, std::size_t knot) {
    double v = row[used_ - 1];
    for (std::size_t b = 0; b < border_; ++b)
      v -= row[kSplineWidth + b] * solution.value[b];
    const std::size_t known = std::min(kSplineWidth - first, spline.size() - knot);
    const double inverse = 1.0 / row[first];
    for (std::size_t q = known; q-- > 1;)
      v -= row[first + q] * spline[knot + q];
    return v * inverse;
  };
  for (std::size_t first = kSplineWidth - 1; first-- > 0;)
    spline[turns + first] = value_of(tail[first].data(), first, turns + first);
  for (std::size_t knot = turns; knot-- > 0;)
    spline[knot] = value_of(pivots_.data() + knot * used_, 0, knot);
  return spline;
}

void Elimination::forget(std::size_t turns) {
  pivots_.erase(pivots_.begin(), pivots_.begin() + static_cast<std::ptrdiff_t>(turns * used_));
}

std::vector<double> Elimination::residuals(const TurnRows& data, double speed_unit,
                                           const BorderSolution& solution,
                                           std::span<const double> extra) const {
  const auto spline = spline_of(solution);
  const std::size_t rows = basis_->rows;
  std::vector<double> left(data.values);
  for (std::size_t i = 0; i < data.turns(); ++i) {
    std::array<double, kSplineWidth> c;
    std::array<double, kSplineWidth> sloped;
    for (std::size_t q = 0; q < kSplineWidth; ++q) {
      c[q] = spline[i + q] * data.speed[i] / speed_unit;
      sloped[q] = c[q] * data.slope[i];
    }
    for (std::size_t r = 0; r < rows; ++r) {
      double fitted = r > 0 ? solution.value[r - 1] : 0.0;
      for (std::size_t q = 0; q < kSplineWidth; ++q)
        fitted += c[q] * basis_->spline_rows[r][q] + sloped[q] * basis_->spline_slope_rows[r][q];
      for (std::size_t e = 0; e < extra_; ++e)
        fitted += solution.value[rows - 1 + e] * extra[(i * extra_ + e) * rows + r];
      left[i * rows + r] -= fitted;
    }
  }
  return left;
}

} // namespace whirler::tach
