#include "whirl_columns.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::tach {

SharedFit shared_fit(const Elimination& fit) {
  SharedFit out;
  std::array<PivotRow, kSplineWidth - 1> pivots{};
  const BorderNormal normal = fit.border(&pivots);
  for (std::size_t first = 0; first < pivots.size(); ++first) {
    std::copy_n(pivots[first].begin(), fit.used(), out.pivots[first].begin());
    out.by_pivot[first] = 1.0 / pivots[first][first];
  }
  out.without = solve(normal);
  out.observations = normal.observations;
  return out;
}

void WhirlColumns::add_turn(const SharedTurn& turn, const std::array<double, kLiveRows>& re,
                            const std::array<double, kLiveRows>& im) {
  for (std::size_t r = 0; r < kLiveRows; ++r) {
    const double x = turn.weight * re[r];
    const double y = turn.weight * im[r];
    const SharedRow& design = turn.design[r];
    for (std::size_t j = 0; j < kSharedWidth; ++j) {
      re_[j] += x * design[j];
      im_[j] += y * design[j];
    }
    re_re_ += x * x;
    re_im_ += x * y;
    im_im_ += y * y;
  }
}

void WhirlColumns::eliminate(const SharedRow& pivot, double by_pivot, std::size_t first) {
  const double x = re_[first];
  const double y = im_[first];
  const double of_re = x * by_pivot;
  const double of_im = y * by_pivot;
  for (std::size_t j = 0; j < kSharedWidth; ++j) {
    re_[j] -= of_re * pivot[j];
    im_[j] -= of_im * pivot[j];
  }
  re_re_ -= of_re * x;
  re_im_ -= of_re * y;
  im_im_ -= of_im * y;
}

void WhirlColumns::next_knot(const SharedTurn& turn) {
  eliminate(turn.pivot, turn.by_pivot, 0);
  for (std::size_t j = 0; j + 1 < kSplineWidth; ++j) {
    re_[j] = re_[j + 1];
    im_[j] = im_[j + 1];
  }
  re_[kSplineWidth - 1] = 0.0;
  im_[kSplineWidth - 1] = 0.0;
}

WhirlSolution WhirlColumns::solve(const SharedFit& shared) const {
  constexpr double kTooAlike = 1e-11; // what is left of a column that the others make up
  WhirlSolution out;
  const BorderSolution& without = shared.without;
  if (!without.solvable)
    return out;
  WhirlColumns left = *this;
  for (std::size_t first = 0; first < shared.pivots.size(); ++first)
    left.eliminate(shared.pivots[first], shared.by_pivot[first], first);
  const std::size_t n = without.size;
  const double* b_re = left.re_.data() + kSplineWidth;
  const double* b_im = left.im_.data() + kSplineWidth;
  std::array<double, kMostBorder> v_re{};
  std::array<double, kMostBorder> v_im{};
  double d_re = b_re[n];
  double d_im = b_im[n];
  double s_rr = left.re_re_;
  double s_ri = left.re_im_;
  double s_ii = left.im_im_;
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) {
      v_re[i] += without.covariance(i, j) * b_re[j];
      v_im[i] += without.covariance(i, j) * b_im[j];
    }
    d_re -= without.value[i] * b_re[i];
    d_im -= without.value[i] * b_im[i];
    s_rr -= v_re[i] * b_re[i];
    s_ri -= v_re[i] * b_im[i];
    s_ii -= v_im[i] * b_im[i];
  }
  const double det = s_rr * s_ii - s_ri * s_ri;
  if (!(s_rr > kTooAlike * left.re_re_ && s_ii > kTooAlike * left.im_im_ &&
        det > kTooAlike * s_rr * s_ii))
    return out;
  const double i_rr = s_ii / det;
  const double i_ri = -s_ri / det;
  const double i_ii = s_rr / det;
  out.solvable = true;
  out.far_above = {i_rr * d_re + i_ri * d_im, i_ri * d_re + i_ii * d_im};
  out.far_variance = std::max(i_rr, i_ii);
  out.rss = std::max(0.0, without.rss - out.far_above.real() * d_re - out.far_above.imag() * d_im);
  for (std::size_t i = 0; i < n; ++i) {
    out.border[i] =
        without.value[i] - v_re[i] * out.far_above.real() - v_im[i] * out.far_above.imag();
    out.variance[i] = without.covariance(i, i) + v_re[i] * v_re[i] * i_rr +
                      2.0 * v_re[i] * v_im[i] * i_ri + v_im[i] * v_im[i] * i_ii;
  }
  return out;
}

} // namespace whirler::tach
