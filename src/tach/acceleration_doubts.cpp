#include "acceleration_doubts.hpp"

#include "complex_vector.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::tach {
namespace {

constexpr double kGapOfTurn = 0.3;
constexpr std::size_t kFewestFrozen = 8; ///< samples in a row

struct SampleRange {
  std::size_t from;
  std::size_t to;
};

SampleRange samples_of(const TurnSamples& of) {
  const auto& at = of.track->at;
  const auto index = [&at](double time_s) {
    return static_cast<std::size_t>(std::lower_bound(at.begin(), at.end(), seconds(time_s)) -
                                    at.begin());
  };
  return {index(of.begins_s.front()), index(of.begins_s.back())};
}

std::span<const double> values_of(const TurnSamples& of) {
  const SampleRange range = samples_of(of);
  return std::span(of.track->m_s2).subspan(range.from, range.to - range.from);
}

/// Marks the turns that [from, to] touches.
void mark(std::vector<bool>& turns, const TurnSamples& of, double from_s, double to_s) {
  const auto begins = of.begins_s;
  const auto after = std::upper_bound(begins.begin(), begins.end(), from_s);
  auto i = after == begins.begin() ? 0 : static_cast<std::size_t>(after - begins.begin()) - 1;
  for (; i < turns.size() && begins[i] < to_s; ++i)
    turns[i] = true;
}

std::size_t copies_of(std::span<const double> values, double value) {
  return static_cast<std::size_t>(std::count(values.begin(), values.end(), value));
}

/// Samples at one end of the range, where they are far more than at the next value inwards.
std::size_t crowd(std::span<const double> values, double end, bool highest) {
  constexpr std::size_t kFarMore = 4; ///< a sine in coarse steps: 2.4 at most
  double next = highest ? -1e300 : 1e300;
  for (const double value : values)
    if (value != end && (highest ? value > next : value < next))
      next = value;
  const std::size_t at_end = copies_of(values, end);
  return at_end >= kFarMore * std::max<std::size_t>(1, copies_of(values, next)) ? at_end : 0;
}

} // namespace

std::vector<bool> without_samples(const TurnSamples& of) {
  const double turn =
      (of.begins_s.back() - of.begins_s.front()) / static_cast<double>(of.begins_s.size() - 1);
  std::vector<bool> out(of.begins_s.size() - 1, false);
  const auto& at = of.track->at;
  const auto& values = of.track->m_s2;
  SampleRange range = samples_of(of);
  range.from = std::max<std::size_t>(range.from, 1);
  range.to = std::min(range.to + 1, at.size());
  std::size_t since = range.from - 1; // of samples that are all the same
  for (std::size_t i = range.from; i < range.to; ++i) {
    if ((at[i] - at[i - 1]).s() > kGapOfTurn * turn)
      mark(out, of, at[i - 1].s(), at[i].s());
    const bool goes_on = values[i] == values[since];
    const std::size_t last = goes_on ? i : i - 1;
    if ((!goes_on || i + 1 == range.to) && last - since + 1 >= kFewestFrozen &&
        (at[last] - at[since]).s() > turn)
      mark(out, of, at[since].s(), at[last].s());
    if (!goes_on)
      since = i;
  }
  return out;
}

bool stands_still(const TurnSamples& of) {
  const auto values = values_of(of);
  return std::all_of(values.begin(), values.end(),
                     [&values](double value) { return value == values.front(); });
}

double share_at_the_ends(const TurnSamples& of) {
  constexpr double kMany = 0.03;
  const auto values = values_of(of);
  if (values.empty())
    return 0.0;
  const auto [lowest, highest] = std::minmax_element(values.begin(), values.end());
  const std::size_t crowded = crowd(values, *highest, true) + crowd(values, *lowest, false);
  const double share = static_cast<double>(crowded) / static_cast<double>(values.size());
  return share > kMany ? share : 0.0;
}

std::optional<double> creep_of(std::span<const std::complex<double>> by_turn) {
  constexpr double kWidest = 0.05;
  constexpr std::size_t kMostTurns = 4096;
  constexpr double kSure = 40.0; // chi^2; the best of thousands of noise alone has some 20
  constexpr double kLost = 0.95; // of the power: an eighth of a turn of drift
  const auto turns = by_turn.first(std::min(by_turn.size(), kMostTurns));
  double seen = 0.0;
  double whole = 0.0;
  for (const auto& v : turns) {
    seen += v != 0.0 ? 1.0 : 0.0;
    whole += std::norm(v);
  }
  const auto power = [&](double creep) { return power_turning(turns, creep) / seen; };
  const double still = power(0.0);
  double best = 0.0;
  double most = still;
  const auto look = [&](double from, double to, double step) {
    for (double creep = from; creep <= to; creep += step)
      if (const double p = power(creep); p > most) {
        most = p;
        best = creep;
      }
  };
  const double width = 1.0 / static_cast<double>(turns.size()); // of the peak
  look(-kWidest, kWidest, 0.5 * width);
  look(best - 0.5 * width, best + 0.5 * width, 0.05 * width);
  const double noise = std::max((whole - most) / std::max(1.0, seen - 2.0), 1e-12 * whole / seen);
  if (most - still < kSure * 0.5 * noise || still > kLost * most)
    return std::nullopt;
  return best;
}

} // namespace whirler::tach
