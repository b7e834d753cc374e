#include "turn_rows.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

} // namespace

std::array<double, kSplineWidth> spline_values(double u) {
  const double v = 1.0 - u;
  return {v * v * v / 6.0, (4.0 - 3.0 * u * u * (2.0 - u)) / 6.0,
          (4.0 - 3.0 * v * v * (2.0 - v)) / 6.0, u * u * u / 6.0};
}

TurnBasis::TurnBasis(std::size_t n, std::size_t most_rows, std::size_t orders)
    : marks(n), rows(n <= most_rows ? n : 2 * orders + 1), transform(n), spline(n), from_middle(n),
      order_one_scale(std::sqrt(static_cast<double>(n) / (n == 2 ? 1.0 : 2.0))) {
  const auto count = static_cast<double>(n);
  for (std::size_t k = 0; k < n; ++k) {
    const double u = static_cast<double>(k) / count;
    spline[k] = spline_values(u);
    from_middle[k] = u - 0.5;
    transform[k].fill(0.0);
    for (std::size_t r = 0; r < rows; ++r) {
      const std::size_t order = (r + 1) / 2;
      // k * order mod n keeps the angle small and the transform orthogonal to the last digit.
      const double angle = kTwoPi * static_cast<double>(k * order % n) / count;
      const double size =
          r == 0 || 2 * order == n ? std::sqrt(1.0 / count) : std::sqrt(2.0 / count);
      transform[k][r] = size * (r % 2 == 1 ? std::cos(angle) : r == 0 ? 1.0 : std::sin(angle));
      for (std::size_t q = 0; q < kSplineWidth; ++q) {
        spline_rows[r][q] += transform[k][r] * spline[k][q];
        spline_slope_rows[r][q] += transform[k][r] * spline[k][q] * (u - 0.5);
      }
    }
  }
  for (std::size_t r = 0; r < rows; ++r)
    for (std::size_t i = 0; i < kSplineWidth; ++i)
      for (std::size_t j = 0; j <= i; ++j)
        spline_gram[i][j] += spline_rows[r][i] * spline_rows[r][j];
}

namespace {

/// Time that the slot should have by the same mark a turn before (or after) and its neighbours'
/// pace; none where those are missing too.
bool fill_from_turn(std::span<std::int64_t> ticks, std::size_t slot, std::ptrdiff_t turn) {
  const auto at = static_cast<std::ptrdiff_t>(slot);
  const auto size = static_cast<std::ptrdiff_t>(ticks.size());
  const auto value = [&](std::ptrdiff_t i) {
    return i >= 0 && i < size ? ticks[static_cast<std::size_t>(i)] : kHole;
  };
  const std::int64_t same = value(at + turn);
  std::int64_t sum = 0;
  std::int64_t found = 0;
  for (const std::ptrdiff_t side : {-1, 1})
    if (value(at + side) != kHole && value(at + side + turn) != kHole) {
      sum += value(at + side) - value(at + side + turn);
      ++found;
    }
  if (same == kHole || found == 0)
    return false;
  ticks[slot] = same + sum / found;
  return true;
}

/// Straight between the nearest filled slots, or on from two of them at an end.
void fill_straight(std::span<std::int64_t> ticks, std::size_t slot) {
  std::size_t after = slot + 1;
  while (after < ticks.size() && ticks[after] == kHole)
    ++after;
  if (slot == 0) { // only before an aligned stretch's first pulse: whole_turns fills from behind
    const std::size_t next = after + 1 < ticks.size() ? after + 1 : after;
    ticks[slot] = ticks[after] - static_cast<std::int64_t>(after) * (ticks[next] - ticks[after]);
    return;
  }
  const std::int64_t before = ticks[slot - 1];
  if (after < ticks.size())
    ticks[slot] = before + (ticks[after] - before) / static_cast<std::int64_t>(after - slot + 1);
  else
    ticks[slot] = before + (slot > 1 ? before - ticks[slot - 2] : 1);
}

} // namespace

void fill_holes(std::span<std::int64_t> ticks, std::span<const std::size_t> holes,
                std::size_t marks) {
  for (const std::size_t slot : holes)
    ticks[slot] = kHole;
  const auto turn = static_cast<std::ptrdiff_t>(marks);
  for (const std::size_t slot : holes)
    if (!fill_from_turn(ticks, slot, -turn) && !fill_from_turn(ticks, slot, turn))
      fill_straight(ticks, slot);
}

TurnSlots whole_turns(Stretch stretch, std::size_t marks) {
  TurnSlots out;
  const auto first = static_cast<std::size_t>(stretch.first_mark);
  out.first_slot = stretch.aligned ? (marks - first) % marks : 0;
  if (stretch.size() < out.first_slot + marks + 1)
    return out;
  const std::size_t turns = (stretch.size() - 1 - out.first_slot) / marks;
  out.ticks = std::move(stretch.ticks);
  const auto begin = out.ticks.begin();
  out.ticks.erase(begin, begin + static_cast<std::ptrdiff_t>(out.first_slot));
  out.ticks.resize(turns * marks + 1);
  for (std::size_t slot = 0; slot < out.ticks.size(); ++slot)
    if (out.ticks[slot] == kHole)
      out.holes.push_back(slot);
  fill_holes(out.ticks, out.holes, marks);
  return out;
}

namespace {

/// Time of mark 0 of each turn, from the first one's.
void lay_knots(TurnRows& out, const TurnBasis& basis, const TurnSlots& slots, std::size_t from,
               std::size_t to) {
  const std::int64_t origin = slots.ticks[from * basis.marks];
  out.knots.resize(to - from + 1);
  for (std::size_t i = 0; i < out.knots.size(); ++i)
    out.knots[i] = static_cast<double>(slots.ticks[(from + i) * basis.marks] - origin) * out.tick_s;
}

/// The coefficients of a spline that runs close to all pulses.
/// Which spline it is does not matter to the fit, only that it is one: it takes the large numbers
/// away so that what is left has all its digits.
void lay_reference(TurnRows& out) {
  const std::size_t turns = out.turns();
  const auto knot = [&](std::ptrdiff_t i) { // extended straight past both ends
    const auto last = static_cast<std::ptrdiff_t>(turns);
    const auto at = [&](std::ptrdiff_t j) { return out.knots[static_cast<std::size_t>(j)]; };
    if (i < 0)
      return at(0) + static_cast<double>(i) * (at(1) - at(0));
    if (i > last)
      return at(last) + static_cast<double>(i - last) * (at(last) - at(last - 1));
    return at(i);
  };
  out.spline.resize(turns + 3);
  for (std::size_t j = 0; j < out.spline.size(); ++j) {
    const auto i = static_cast<std::ptrdiff_t>(j) - 1;
    out.spline[j] = (8.0 * knot(i) - knot(i - 1) - knot(i + 1)) / 6.0;
  }
}

/// Speed at the middle of each turn, and its relative change over the turn.
void lay_speed(TurnRows& out) {
  const std::size_t turns = out.turns();
  out.speed.resize(turns);
  out.slope.assign(turns, 0.0);
  for (std::size_t i = 0; i < turns; ++i)
    out.speed[i] = kTwoPi / std::max(out.knots[i + 1] - out.knots[i], out.tick_s);
  for (std::size_t i = 0; turns > 1 && i < turns; ++i) {
    const std::size_t before = i > 0 ? i - 1 : i;
    const std::size_t after = i + 1 < turns ? i + 1 : i;
    const double change =
        (out.speed[after] - out.speed[before]) / static_cast<double>(after - before);
    out.slope[i] = std::clamp(change / out.speed[i], -0.8, 0.8);
  }
}

/// The marks' sums of lateness become means of what no row holds.
void take_rows_out(TurnRows& out, const TurnBasis& basis) {
  std::array<double, kMostRows> sums{};
  for (std::size_t k = 0; k < basis.marks; ++k)
    for (std::size_t r = 0; r < basis.rows; ++r)
      sums[r] += basis.transform[k][r] * out.beyond_rows[k];
  for (std::size_t k = 0; k < basis.marks; ++k) {
    for (std::size_t r = 0; r < basis.rows; ++r)
      out.beyond_rows[k] -= basis.transform[k][r] * sums[r];
    out.beyond_rows[k] /= static_cast<double>(out.turns());
  }
}

} // namespace

namespace {

/// Slope, at knot `at`, of the polynomial of angle over time through knots [from, to].
double slope_through(const std::vector<double>& knots, std::size_t from, std::size_t to,
                     std::size_t at) {
  double sum = 0.0;
  for (std::size_t j = from; j <= to; ++j) {
    if (j == at)
      continue;
    // Lagrange's weight of knot j in the slope; the angle counts from knot `at`.
    double weight = 1.0 / (knots[j] - knots[at]);
    for (std::size_t m = from; m <= to; ++m)
      if (m != j && m != at)
        weight *= (knots[at] - knots[m]) / (knots[j] - knots[m]);
    sum += weight * kTwoPi * (static_cast<double>(j) - static_cast<double>(at));
  }
  return sum;
}

/// Speed at the knots, by two of them either side (a hunting loop bends the angle too much for
/// fewer: what the reference misses within a turn looks like order 1).
void lay_rate(TurnRows& out) {
  constexpr std::size_t kReach = 2;
  const std::size_t turns = out.turns();
  out.rate.resize(turns + 1);
  for (std::size_t i = 0; i <= turns; ++i) {
    const std::size_t from = i > kReach ? i - kReach : 0;
    const std::size_t to = std::min(i + kReach, turns);
    const double mean = kTwoPi * static_cast<double>(to - from) / (out.knots[to] - out.knots[from]);
    out.rate[i] = std::clamp(slope_through(out.knots, from, to, i), 0.1 * mean, 4.0 * mean);
  }
}

} // namespace

double bend_at(std::span<const double> t, std::size_t i) {
  const double first = kTwoPi / (t[i + 1] - t[i]);
  const double second = kTwoPi / (t[i + 2] - t[i + 1]);
  const double third = kTwoPi / (t[i + 3] - t[i + 2]);
  const double a = (second - first) / (t[i + 2] - t[i]);
  const double b = (third - second) / (t[i + 3] - t[i + 1]);
  return (b - a) / (t[i + 3] - t[i]) * std::pow(t[i + 2] - t[i + 1], 3);
}

Moment moment_of(const TurnRows& rows, std::size_t turn, double u) {
  const double length = rows.knots[turn + 1] - rows.knots[turn];
  const double a = rows.rate[turn] * length / kTwoPi; // in turns over the share s of the time
  const double b = rows.rate[turn + 1] * length / kTwoPi;
  double s = u;
  double rate = 1.0;
  for (int step = 0; step < 4; ++step) {
    constexpr double kSettled = 1e-7; // Newton's next step would be of its square
    const double angle = s * s * (3.0 - 2.0 * s) + s * (1.0 - s) * (a * (1.0 - s) - b * s);
    rate = 6.0 * s * (1.0 - s) + a * (1.0 - s) * (1.0 - 3.0 * s) - b * s * (2.0 - 3.0 * s);
    s -= (angle - u) / std::max(rate, 0.05);
    if (std::abs(angle - u) < kSettled)
      break;
  }
  return {rows.knots[turn] + s * length, rate * kTwoPi / length};
}

double lateness_of(const TurnRows& rows, const TurnBasis& basis, const TurnSlots& slots,
                   std::size_t from, std::size_t turn, std::size_t mark) {
  const std::int64_t origin = slots.ticks[from * basis.marks];
  const std::int64_t tick = slots.ticks[(from + turn) * basis.marks + mark];
  const double time = static_cast<double>(tick - origin) * rows.tick_s;
  const double u = static_cast<double>(mark) / static_cast<double>(basis.marks);
  if (!rows.rate.empty()) {
    const Moment due = moment_of(rows, turn, u);
    return (time - due.time) * due.speed;
  }
  const double* c = rows.spline.data() + turn;
  const auto& b = basis.spline[mark];
  const double due = c[0] * b[0] + c[1] * b[1] + c[2] * b[2] + c[3] * b[3];
  return (time - due) * rows.speed[turn] * (1.0 + rows.slope[turn] * (u - 0.5));
}

namespace {

/// Rows of all turns; `late_of` (turn, mark) has the lateness. Sums are held in registers, `kWidth`
/// of them: as many as the rows or a few more, whose shares are all zero.
template <std::size_t kWidth, class Late>
void sum_rows(TurnRows& out, const TurnBasis& basis, Late late_of) {
  for (std::size_t i = 0; i < out.turns(); ++i) {
    std::array<double, kWidth> sums{};
    const auto late_in_turn = late_of(i);
    for (std::size_t k = 0; k < basis.marks; ++k) {
      const double late = late_in_turn(k);
      const double* share = basis.transform[k].data();
      for (std::size_t r = 0; r < kWidth; ++r)
        sums[r] += share[r] * late;
      out.beyond_rows[k] += late;
    }
    std::copy_n(sums.begin(), out.rows,
                out.values.begin() + static_cast<std::ptrdiff_t>(i * out.rows));
  }
}

template <class Late>
void sum_rows(TurnRows& out, const TurnBasis& basis, Late late_of) {
  if (out.rows <= 4)
    sum_rows<4>(out, basis, late_of);
  else if (out.rows <= 10)
    sum_rows<10>(out, basis, late_of);
  else
    sum_rows<kMostRows>(out, basis, late_of);
}

} // namespace

TurnRows bare_turns(const TurnBasis& basis, const TurnSlots& slots, Duration tick, std::size_t from,
                    std::size_t to) {
  TurnRows out;
  out.tick_s = tick.s();
  lay_knots(out, basis, slots, from, to);
  out.beyond_rows.assign(basis.marks, 0.0);
  for (const std::size_t slot : slots.holes)
    if (slot >= from * basis.marks && slot < to * basis.marks)
      out.filled.push_back({slot / basis.marks - from, slot % basis.marks, 0.0});
  return out;
}

TurnRows turn_rows(const TurnBasis& basis, const TurnSlots& slots, Duration tick, std::size_t from,
                   std::size_t to, Course course) {
  TurnRows out;
  out.rows = basis.rows;
  out.tick_s = tick.s();
  lay_knots(out, basis, slots, from, to);
  lay_reference(out);
  lay_speed(out);
  if (course == Course::ramp)
    lay_rate(out);
  out.values.resize(out.turns() * out.rows);
  out.beyond_rows.assign(basis.marks, 0.0);
  if (course == Course::ramp)
    sum_rows(out, basis, [&](std::size_t i) {
      return [&, i](std::size_t k) { return lateness_of(out, basis, slots, from, i, k); };
    });
  else // the same, without looking up what holds for the whole turn
    sum_rows(out, basis, [&, origin = slots.ticks[from * basis.marks]](std::size_t i) {
      const std::int64_t* tick_at = slots.ticks.data() + (from + i) * basis.marks;
      const double* c = out.spline.data() + i;
      const std::array<double, kSplineWidth> near{c[0], c[1], c[2], c[3]};
      const double speed = out.speed[i];
      return [&basis, near, tick_at, origin, speed, slope = out.slope[i] * speed,
              tick_s = out.tick_s](std::size_t k) {
        const auto& b = basis.spline[k];
        const double due = near[0] * b[0] + near[1] * b[1] + near[2] * b[2] + near[3] * b[3];
        return (static_cast<double>(tick_at[k] - origin) * tick_s - due) *
               (speed + slope * basis.from_middle[k]);
      };
    });
  for (const std::size_t slot : slots.holes)
    if (slot >= from * basis.marks && slot < to * basis.marks) {
      const std::size_t turn = slot / basis.marks - from;
      const std::size_t mark = slot % basis.marks;
      out.filled.push_back({turn, mark, lateness_of(out, basis, slots, from, turn, mark)});
    }
  take_rows_out(out, basis);
  return out;
}

} // namespace whirler::tach
