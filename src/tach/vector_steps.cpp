#include "vector_steps.hpp"

#include "complex_vector.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <span>
#include <utility>

namespace whirler::tach {
namespace {

constexpr std::size_t kLeastBlocks = 2; ///< of a stretch: one alone is an outlier

/// Vectors about their mean in units of their own noise: blocks of a turn more or less are nearly
/// alike, but a large vector in units that differ by a few per cent would seem to step.
std::vector<Complex> whitened(const DwellFit& fit, std::size_t from) {
  std::vector<Complex> out;
  Complex mean;
  for (std::size_t i = from; i < fit.blocks.size(); ++i)
    mean += as_complex(fit.blocks[i].vector) / static_cast<double>(fit.blocks.size() - from);
  for (std::size_t i = from; i < fit.blocks.size(); ++i) {
    const BlockVector& b = fit.blocks[i];
    const double sd = fit.noise * std::sqrt(b.covariance.largest());
    if (sd > 0.0)
      out.push_back((as_complex(b.vector) - mean) / sd);
  }
  return out;
}

/// Mean square of what a block differs from the middle of its neighbours by, over that of white
/// noise, at least 1, by the median: what rattles or hunts makes it large; a drift, and a step or
/// two, do not.
double restlessness(std::span<const Complex> v) {
  constexpr double kMedian = 2.0 * 1.5 * 0.693; // of chi^2 of two numbers, variance 1.5 each
  std::vector<double> square;
  for (std::size_t i = 1; i + 1 < v.size(); ++i)
    square.push_back(std::norm(v[i] - 0.5 * (v[i - 1] + v[i + 1])));
  const auto middle = square.begin() + static_cast<std::ptrdiff_t>(square.size() / 2);
  std::nth_element(square.begin(), middle, square.end());
  return std::max(1.0, *middle / kMedian);
}

/// Sum of squares about the mean of v[i..j).
class SquaresWithin {
 public:
  explicit SquaresWithin(std::span<const Complex> v) : sum_(v.size() + 1), square_(v.size() + 1) {
    for (std::size_t i = 0; i < v.size(); ++i) {
      sum_[i + 1] = sum_[i] + v[i];
      square_[i + 1] = square_[i] + std::norm(v[i]);
    }
  }
  [[nodiscard]] double of(std::size_t i, std::size_t j) const {
    return square_[j] - square_[i] - std::norm(sum_[j] - sum_[i]) / static_cast<double>(j - i);
  }
  [[nodiscard]] Complex mean(std::size_t i, std::size_t j) const {
    return (sum_[j] - sum_[i]) / static_cast<double>(j - i);
  }

 private:
  std::vector<Complex> sum_;
  std::vector<double> square_;
};

/// Ends of the stretches that cost least in squares and `price` a cut: dynamic programming
/// (Jackson et al., IEEE Signal Proc. Lett. 12, 105, 2005).
std::vector<std::size_t> cheapest_cuts(const SquaresWithin& squares, std::size_t n, double price) {
  std::vector<double> cost(n + 1, std::numeric_limits<double>::infinity());
  std::vector<std::size_t> begin(n + 1, 0);
  cost[0] = 0.0;
  for (std::size_t j = kLeastBlocks; j <= n; ++j)
    for (std::size_t i = 0; i + kLeastBlocks <= j; ++i) {
      const double whole = cost[i] + squares.of(i, j) + (i > 0 ? price : 0.0);
      if (whole < cost[j]) {
        cost[j] = whole;
        begin[j] = i;
      }
    }
  std::vector<std::size_t> ends;
  for (std::size_t at = n; at > 0; at = begin[at])
    ends.push_back(at);
  std::reverse(ends.begin(), ends.end());
  return ends;
}

/// Sum of squares about the best cubic: what a drift leaves.
double left_by_cubic(std::span<const Complex> v) {
  std::vector<Complex> left(v.begin(), v.end());
  std::vector<std::vector<double>> basis;
  for (int power = 0; power <= 3; ++power) {
    std::vector<double> p(v.size());
    for (std::size_t i = 0; i < p.size(); ++i)
      p[i] = std::pow(2.0 * static_cast<double>(i) / static_cast<double>(p.size()) - 1.0, power);
    for (const auto& before : basis) {
      const double share = std::inner_product(p.begin(), p.end(), before.begin(), 0.0);
      for (std::size_t i = 0; i < p.size(); ++i)
        p[i] -= share * before[i];
    }
    const double length = std::sqrt(std::inner_product(p.begin(), p.end(), p.begin(), 0.0));
    Complex share;
    for (std::size_t i = 0; i < p.size(); ++i) {
      p[i] /= length;
      share += p[i] * left[i];
    }
    for (std::size_t i = 0; i < p.size(); ++i)
      left[i] -= share * p[i];
    basis.push_back(std::move(p));
  }
  return std::accumulate(left.begin(), left.end(), 0.0,
                         [](double sum, Complex c) { return sum + std::norm(c); });
}

} // namespace

std::vector<VectorStep> steps_of(const DwellFit& fit, std::size_t from) {
  constexpr std::size_t kFewestBlocks = 8;
  constexpr double kPrice = 36.0; // chi^2 of two numbers at some 1e-8, for each place tried
  constexpr double kByChance = 1e-6;
  constexpr double kOverDrift = 12.0; // chi^2 by which steps fit better than a drift
  const auto v = whitened(fit, from);
  const std::size_t n = v.size();
  if (n < kFewestBlocks || n + from != fit.blocks.size())
    return {};
  const double restless = restlessness(v);
  const SquaresWithin squares(v);
  const auto ends = cheapest_cuts(squares, n, kPrice * restless);
  const auto stretches = static_cast<double>(ends.size());
  if (ends.size() < 2 || 4 * ends.size() > n)
    return {};
  double within = 0.0;
  for (std::size_t s = 0; s < ends.size(); ++s)
    within += squares.of(s > 0 ? ends[s - 1] : 0, ends[s]);
  // A drift cut in k leaves 1/k^2 of itself, and what turns about leaves more; steps leave noise.
  const double freedom = 2.0 * (static_cast<double>(n) - stretches);
  const double all = squares.of(0, n);
  const double left = std::max(0.0, within - freedom * restless);
  if (left > 0.5 / (stretches * stretches) * (all - freedom * restless) ||
      left_by_cubic(v) < within + kOverDrift * restless)
    return {};
  const double gain = (all - within) / (2.0 * (stretches - 1.0));
  const double places = std::pow(static_cast<double>(n), stretches - 1.0);
  if (places *
          tail_f(gain / std::max(restless, within / freedom), 2.0 * (stretches - 1.0), freedom) >
      kByChance)
    return {};
  std::vector<VectorStep> out;
  for (std::size_t s = 0; s + 1 < ends.size(); ++s) {
    const Complex change =
        squares.mean(ends[s], ends[s + 1]) - squares.mean(s > 0 ? ends[s - 1] : 0, ends[s]);
    const double sd = fit.noise * std::sqrt(fit.blocks[from + ends[s]].covariance.largest());
    out.push_back({from + ends[s], {radians(change.real() * sd), radians(change.imag() * sd)}});
  }
  return out;
}

} // namespace whirler::tach
