#include "dwells.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kBand = 0.04;     ///< of the speed, from lowest to highest in a dwell
constexpr double kWideBand = 0.12; ///< where the loop hunts too much for the first
constexpr double kSurelyFlat = 0.004;
constexpr double kLeastTime = 0.3; ///< s

double mean_speed(const TurnBegins& begins, std::size_t from, std::size_t to) {
  return kTwoPi * static_cast<double>(to - from) / (begins[to] - begins[from]);
}

/// Whether the speed climbs or falls through the stretch rather than wandering about.
bool is_ramp(const TurnBegins& begins, const Dwell& d, double spread) {
  const bool whole_record = d.from == 0 && d.to + 1 == begins.size();
  if (spread < kSurelyFlat || whole_record) // a drift within the band is no ramp
    return false;
  const std::size_t third = std::max<std::size_t>(1, d.turns() / 3);
  const double first = mean_speed(begins, d.from, d.from + third);
  const double last = mean_speed(begins, d.to - third, d.to);
  return std::abs(last - first) > 0.45 * spread * d.speed;
}

/// A dwell that a ramp leads into settles first: its beginning is left to the ramp.
Dwell settled(const TurnBegins& begins, Dwell d) {
  constexpr double kSettle = 0.4; // s
  constexpr double kNear = 0.003; // of the speed that is kept
  if (d.from == 0)
    return d;
  const double speed = mean_speed(begins, d.from + d.turns() / 2, d.to);
  const std::size_t latest = d.from + d.turns() / 4;
  const double until = begins[d.from] + kSettle;
  while (d.from < latest &&
         (begins[d.from] < until ||
          std::abs(mean_speed(begins, d.from, d.from + 1) - speed) > kNear * speed))
    ++d.from;
  return d;
}

/// One that a ramp leads out of ends a little before it.
Dwell before_ramp(const TurnBegins& begins, Dwell d) {
  constexpr double kNear = 0.003;
  if (d.to + 1 == begins.size())
    return d;
  const double speed = mean_speed(begins, d.from, d.from + (d.turns() + 1) / 2);
  const std::size_t earliest = d.to - d.turns() / 8;
  while (d.to > earliest && std::abs(mean_speed(begins, d.to - 1, d.to) - speed) > kNear * speed)
    --d.to;
  return d;
}

std::vector<Dwell> find_within(const TurnBegins& begins, double band) {
  std::vector<Dwell> found;
  const std::size_t turns = begins.size() - 1;
  std::size_t from = 0;
  while (from + kLeastTurns <= turns) {
    double longest = 0.0;
    double shortest = 1e300;
    std::size_t to = from;
    for (; to < turns; ++to) {
      const double turn = std::max(begins[to + 1] - begins[to], 1e-12);
      if (std::max(longest, turn) > (1.0 + band) * std::min(shortest, turn))
        break;
      longest = std::max(longest, turn);
      shortest = std::min(shortest, turn);
    }
    Dwell d{from, to, 0.0};
    const bool long_enough = d.turns() >= kLeastTurns && begins[to] - begins[from] >= kLeastTime;
    if (long_enough) {
      d.speed = mean_speed(begins, from, to);
      if (!is_ramp(begins, d, longest / shortest - 1.0)) {
        d = before_ramp(begins, settled(begins, d));
        d.speed = mean_speed(begins, d.from, d.to);
        if (d.turns() >= kLeastTurns)
          found.push_back(d);
        from = to;
        continue;
      }
    }
    // On a ramp: begin anew a little on, so that a dwell at its end is not cut by where we stood.
    from += std::max<std::size_t>(1, d.turns() / 4);
  }
  return found;
}

} // namespace

std::vector<Dwell> find_dwells(const TurnBegins& begins) {
  if (begins.size() <= kLeastTurns)
    return {};
  auto narrow = find_within(begins, kBand);
  const auto longest = [](const std::vector<Dwell>& dwells) {
    std::size_t turns = 0;
    for (const Dwell& d : dwells)
      turns = std::max(turns, d.turns());
    return turns;
  };
  if (2 * longest(narrow) >= begins.size() - 1)
    return narrow; // no dwell can be twice as long
  auto wide = find_within(begins, kWideBand);
  return longest(wide) > 2 * longest(narrow) ? wide : narrow;
}

} // namespace whirler::tach
