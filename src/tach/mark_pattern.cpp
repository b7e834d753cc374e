#include "mark_pattern.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

/// chi^2 over the best up to which a shift is possible still.
constexpr double kPossible = 30.0;

std::complex<double> turned(std::size_t k, std::size_t order, std::size_t marks) {
  return std::polar(1.0, 2.0 * std::numbers::pi * static_cast<double>(k * order % marks) /
                             static_cast<double>(marks));
}

/// Sum of squares of run[k] - base[k + shift] once its mean and order 1 are taken out.
double misfit(const MarkPattern& run, const MarkPattern& base, std::size_t shift) {
  const std::size_t n = run.late.size();
  std::vector<double> d(n);
  double mean = 0.0;
  std::complex<double> first;
  for (std::size_t k = 0; k < n; ++k) {
    d[k] = run.late[k] - base.late[(k + shift) % n];
    mean += d[k];
    first += d[k] * turned(k, 1, n);
  }
  double sum = 0.0;
  for (const double x : d)
    sum += x * x;
  const auto count = static_cast<double>(n);
  return std::max(0.0, sum - mean * mean / count - (n > 2 ? 2.0 : 1.0) * std::norm(first) / count);
}

} // namespace

MarkPattern pattern_of(const DwellFit& fit, const TurnBasis& basis) {
  MarkPattern out;
  out.late = fit.rows.beyond_rows;
  for (std::size_t k = 0; k < basis.marks; ++k)
    for (std::size_t r = 1; r < basis.rows; ++r)
      out.late[k] += basis.transform[k][r] * fit.solution.value[r - 1];
  out.sd = fit.noise / std::sqrt(static_cast<double>(std::max<std::size_t>(fit.rows.turns(), 1)));
  return out;
}

std::complex<double> order_of(const MarkPattern& pattern, std::size_t order) {
  const std::size_t n = pattern.late.size();
  std::complex<double> sum;
  for (std::size_t k = 0; k < n; ++k)
    sum += pattern.late[k] * turned(k, order, n);
  return sum * ((2 * order == n ? 1.0 : 2.0) / static_cast<double>(n));
}

std::vector<std::size_t> possible_shifts(const MarkPattern& run, const MarkPattern& base) {
  const std::size_t n = run.late.size();
  std::vector<double> sums(n);
  for (std::size_t s = 0; s < n; ++s)
    sums[s] = misfit(run, base, s);
  const double best = *std::min_element(sums.begin(), sums.end());
  // The scale is the noise, or the best misfit where the two patterns truly differ.
  const double noise = run.sd * run.sd + base.sd * base.sd;
  const double scale =
      std::max({noise, best / static_cast<double>(std::max<std::size_t>(n, 4) - 3), 1e-18});
  std::vector<std::size_t> out;
  for (std::size_t s = 0; s < n; ++s)
    if (sums[s] - best <= kPossible * scale)
      out.push_back(s);
  return out;
}

bool is_its_own_index(const MarkPattern& pattern) {
  return pattern.late.size() > 2 && possible_shifts(pattern, pattern).size() == 1;
}

} // namespace whirler::tach
