#include "mark_pattern.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

/// chi^2 over the best up to which a shift is possible still.
constexpr double kPossible = 30.0;

/// Sums of squares of many marks' noise differ by more than that among themselves.
double possible(std::size_t marks) {
  return std::max(kPossible, 6.0 * std::sqrt(2.0 * static_cast<double>(marks)));
}

/// exp(j psi_k) of each mark.
std::vector<std::complex<double>> directions(std::size_t marks) {
  std::vector<std::complex<double>> out(marks);
  for (std::size_t k = 0; k < marks; ++k)
    out[k] = std::polar(1.0, 2.0 * std::numbers::pi * static_cast<double>(k) /
                                 static_cast<double>(marks));
  return out;
}

/// Sum of squares of run[k] - base[k + shift] once its mean and order 1 are taken out.
double misfit(const MarkPattern& run, const MarkPattern& base, std::size_t shift,
              const std::vector<std::complex<double>>& direction) {
  const std::size_t n = run.late.size();
  double mean = 0.0;
  double sum = 0.0;
  std::complex<double> first;
  for (std::size_t k = 0; k < n; ++k) {
    const double d = run.late[k] - base.late[k + shift < n ? k + shift : k + shift - n];
    mean += d;
    sum += d * d;
    first += d * direction[k];
  }
  const auto count = static_cast<double>(n);
  return std::max(0.0, sum - mean * mean / count - (n > 2 ? 2.0 : 1.0) * std::norm(first) / count);
}

/// By shift.
std::vector<double> misfits(const MarkPattern& run, const MarkPattern& base) {
  const auto direction = directions(run.late.size());
  std::vector<double> sums(run.late.size());
  for (std::size_t s = 0; s < sums.size(); ++s)
    sums[s] = misfit(run, base, s, direction);
  return sums;
}

/// Sum of squares of what is not mean or order 1.
double beyond_first(const MarkPattern& pattern) {
  const std::size_t n = pattern.late.size();
  return misfit(pattern, {std::vector<double>(n, 0.0), 0.0}, 0, directions(n));
}

} // namespace

MarkPattern pattern_of(const DwellFit& fit, const TurnBasis& basis) {
  MarkPattern out;
  out.late = fit.beyond_rows;
  for (std::size_t k = 0; k < basis.marks; ++k)
    for (std::size_t r = 1; r < basis.rows; ++r)
      out.late[k] += basis.transform[k][r] * fit.solution.value[r - 1];
  out.sd = fit.noise / std::sqrt(static_cast<double>(std::max<std::size_t>(fit.turns, 1)));
  return out;
}

std::vector<std::complex<double>> orders_of(const MarkPattern& pattern) {
  const std::size_t n = pattern.late.size();
  const auto direction = directions(n);
  std::vector<std::complex<double>> out(n / 2 + 1);
  for (std::size_t order = 0; order < out.size(); ++order) {
    std::complex<double> sum;
    std::size_t at = 0; // k * order modulo N
    for (std::size_t k = 0; k < n; ++k) {
      sum += pattern.late[k] * direction[at];
      at = at + order < n ? at + order : at + order - n;
    }
    const bool alone = order == 0 || 2 * order == n;
    out[order] = sum * ((alone ? 1.0 : 2.0) / static_cast<double>(n));
  }
  return out;
}

std::vector<std::size_t> possible_shifts(const MarkPattern& run, const MarkPattern& base) {
  const std::size_t n = run.late.size();
  const auto sums = misfits(run, base);
  const double best = *std::min_element(sums.begin(), sums.end());
  // The scale is the noise, or the best misfit where the two patterns truly differ.
  const double noise = run.sd * run.sd + base.sd * base.sd;
  const double scale =
      std::max({noise, best / static_cast<double>(std::max<std::size_t>(n, 4) - 3), 1e-18});
  std::vector<std::size_t> out;
  for (std::size_t s = 0; s < n; ++s)
    if (sums[s] - best <= possible(n) * scale)
      out.push_back(s);
  return out;
}

std::string other_marks(const MarkPattern& run, const MarkPattern& base, bool numbered) {
  constexpr double kOther = 0.3;    // of the larger pattern's sum of squares
  constexpr double kCertain = 50.0; // times what noise makes
  constexpr double kSame = 0.1;     // of what is left where the index is believed
  constexpr double kSeen = 0.03;    // of the larger pattern's
  const std::size_t n = run.late.size();
  if (n < 4)
    return {};
  const auto sums = misfits(run, base);
  const auto best = std::min_element(sums.begin(), sums.end());
  const double whole = std::max(beyond_first(run), beyond_first(base));
  const double noise = (run.sd * run.sd + base.sd * base.sd) * static_cast<double>(n - 3);
  const double here = numbered ? sums[0] : *best;
  if (here < kCertain * noise)
    return {};
  const auto off = static_cast<std::size_t>(best - sums.begin());
  const std::size_t marks_off = std::min(off, n - off);
  if (numbered && *best < kSame * here && here > kSeen * whole)
    return "the baseline's index is " + std::to_string(marks_off) +
           (marks_off == 1 ? " mark" : " marks") + " off this run's";
  if (here < kOther * whole)
    return {};
  return "the baseline was made with other marks: their patterns differ by " +
         number_text(1e3 * std::sqrt(here / static_cast<double>(n))) + " mrad rms";
}

bool is_its_own_index(const MarkPattern& pattern) {
  const std::size_t n = pattern.late.size();
  if (n < 4)
    return false;
  // Held against itself turned by some marks even noise differs, by that of both.
  const double noise = std::max(2.0 * pattern.sd * pattern.sd, 1e-18);
  const double alike = (static_cast<double>(n - 3) + possible(n)) * noise;
  const auto sums = misfits(pattern, pattern);
  return std::all_of(sums.begin() + 1, sums.end(), [&](double sum) { return sum > alike; });
}

} // namespace whirler::tach
