#include "acceleration_doubts.hpp"

#include "complex_vector.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>

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

double AtTheEnds::kept() const {
  constexpr double kMost = 0.9; // a square wave keeps no less
  const double s = std::min(2.0 * more_of, kMost);
  return 1.0 - s + std::sin(std::numbers::pi * s) / std::numbers::pi;
}

AtTheEnds at_the_ends(const TurnSamples& of) {
  constexpr double kMany = 0.03;
  const auto values = values_of(of);
  if (values.empty())
    return {};
  const auto [lowest, highest] = std::minmax_element(values.begin(), values.end());
  const std::size_t above = crowd(values, *highest, true);
  const std::size_t below = crowd(values, *lowest, false);
  const auto all = static_cast<double>(values.size());
  const AtTheEnds out{static_cast<double>(above + below) / all,
                      static_cast<double>(std::max(above, below)) / all};
  return out.share > kMany ? out : AtTheEnds{};
}

namespace {

/// The mean turn, about its mean value; empty where too few samples tell it.
std::vector<double> mean_turn(const TurnSamples& of, const std::vector<bool>& left_out) {
  constexpr std::size_t kPlaces = 48;
  constexpr double kFewest = 8.0; // samples a place
  const auto& at = of.track->at;
  const SampleRange range = samples_of(of);
  std::vector<double> sum(kPlaces, 0.0);
  std::vector<double> count(kPlaces, 0.0);
  TurnOf turns(of.begins_s);
  for (std::size_t i = range.from; i < range.to; ++i) {
    if (left_out[turns.at(at[i].s())])
      continue;
    const double share = turns.share(at[i].s());
    const auto place = std::min(kPlaces - 1, static_cast<std::size_t>(share * double{kPlaces}));
    sum[place] += of.track->m_s2[i];
    count[place] += 1.0;
  }
  if (*std::min_element(count.begin(), count.end()) < kFewest)
    return {};
  double mean = 0.0;
  for (std::size_t i = 0; i < kPlaces; ++i)
    mean += sum[i] / count[i] / double{kPlaces};
  for (std::size_t i = 0; i < kPlaces; ++i)
    sum[i] = sum[i] / count[i] - mean;
  return sum;
}

/// The least that two samples differ by.
double step_of(std::span<const double> values) {
  constexpr std::size_t kFew = 4000;
  std::vector<double> sorted(
      values.begin(), values.begin() + static_cast<std::ptrdiff_t>(std::min(values.size(), kFew)));
  std::sort(sorted.begin(), sorted.end());
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 1; i < sorted.size(); ++i)
    if (sorted[i] > sorted[i - 1])
      least = std::min(least, sorted[i] - sorted[i - 1]);
  return least;
}

/// Share of a turn that is cut off at its upper side. Coarse steps make flat tops of their own.
double cut_off(std::vector<double> turn, double step) {
  constexpr double kCoarse = 0.15;
  constexpr double kNearTop = 0.95; // of the top's height
  constexpr double kFlat = 0.14;    // of one that is cut at 0.95 of it, or has 6 % of a third order
  std::sort(turn.begin(), turn.end(), std::greater<>());
  const double top = (turn[0] + turn[1] + turn[2]) / 3.0;
  const auto near = static_cast<double>(
      std::count_if(turn.begin(), turn.end(), [&](double v) { return v > kNearTop * top; }));
  const double share = near / static_cast<double>(turn.size());
  if (share < kFlat || step > kCoarse * top)
    return 0.0;
  const double cut_at = std::min(1.0, std::cos(std::numbers::pi * std::min(share, 0.5)) / kNearTop);
  return std::acos(cut_at) / std::numbers::pi;
}

} // namespace

AtTheEnds flat_tops(const TurnSamples& of, const std::vector<bool>& left_out) {
  std::vector<double> turn = mean_turn(of, left_out);
  if (turn.empty())
    return {};
  const double step = step_of(values_of(of));
  const double above = cut_off(turn, step);
  for (double& value : turn)
    value = -value;
  const double below = cut_off(turn, step);
  return {above + below, std::max(above, below)};
}

GoesAway goes_away(std::span<const std::complex<double>> by_turn) {
  constexpr double kUpper = 0.8;
  constexpr double kClear = 0.2; // noise of a turn, over the signal
  constexpr double kAway = 0.5;
  constexpr std::size_t kFewest = 3; // turns
  std::vector<double> size;
  std::vector<double> change;
  for (std::size_t i = 0; i < by_turn.size(); ++i) {
    if (by_turn[i] == 0.0)
      continue;
    size.push_back(std::abs(by_turn[i]));
    if (i > 0 && by_turn[i - 1] != 0.0)
      change.push_back(std::abs(by_turn[i] - by_turn[i - 1]));
  }
  const auto share_of = [](std::vector<double>& values, double share) {
    const auto at =
        values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size()));
    std::nth_element(values.begin(), at, values.end());
    return *at;
  };
  if (change.size() < 2 * kFewest)
    return {};
  const double usually = share_of(size, kUpper);
  if (share_of(change, 0.5) > kClear * usually)
    return {};
  const auto away = static_cast<std::size_t>(
      std::count_if(size.begin(), size.end(), [&](double v) { return v < kAway * usually; }));
  if (away < kFewest)
    return {};
  return {static_cast<double>(away) / static_cast<double>(size.size()), usually};
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
