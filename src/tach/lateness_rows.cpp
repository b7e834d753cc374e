// Lateness of each mark against the turns' own reference, as rows a turn.
#include "turn_rows.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

/// Time of mark 0 of any turn of the dwell from the piece's first, extended straight past both ends
/// of the dwell.
class Knots {
 public:
  Knots(const TurnBasis& basis, const TurnSlots& slots, double tick_s, TurnRange piece,
        TurnRange whole)
      : ticks_(slots.ticks.data()), marks_(basis.marks), tick_s_(tick_s),
        origin_(slots.ticks[piece.from * basis.marks]), piece_(static_cast<long>(piece.from)),
        first_(static_cast<long>(whole.from) - piece_),
        last_(static_cast<long>(whole.to) - piece_) {}
  [[nodiscard]] double at(long i) const {
    const std::int64_t tick = ticks_[static_cast<std::size_t>(piece_ + i) * marks_];
    return static_cast<double>(tick - origin_) * tick_s_;
  }
  [[nodiscard]] double extended(long i) const {
    if (i < first_)
      return at(first_) + static_cast<double>(i - first_) * (at(first_ + 1) - at(first_));
    if (i > last_)
      return at(last_) + static_cast<double>(i - last_) * (at(last_) - at(last_ - 1));
    return at(i);
  }
  [[nodiscard]] long first() const { return first_; }
  [[nodiscard]] long last() const { return last_; }

 private:
  const std::int64_t* ticks_;
  std::size_t marks_;
  double tick_s_;
  std::int64_t origin_;
  long piece_; ///< turn of the stretch that the knots count from
  long first_; ///< of the dwell, from there
  long last_;
};

void lay_knots(TurnRows& out, const Knots& knots, std::size_t turns) {
  out.knots.resize(turns + 1);
  for (std::size_t i = 0; i <= turns; ++i)
    out.knots[i] = knots.at(static_cast<long>(i));
}

/// The coefficients of a spline that runs close to all pulses.
/// Which spline it is does not matter to the fit, only that it is one: it takes the large numbers
/// away so that what is left has all its digits.
void lay_reference(TurnRows& out, const Knots& knots) {
  const std::size_t turns = out.turns();
  out.spline.resize(turns + 3);
  double before = knots.extended(-2);
  double here = knots.extended(-1);
  for (std::size_t j = 0; j < out.spline.size(); ++j) {
    const double after = j <= turns ? out.knots[j] : knots.extended(static_cast<long>(j));
    out.spline[j] = (8.0 * here - before - after) / 6.0;
    before = here;
    here = after;
  }
}

/// Speed at the middle of each turn, and its relative change over the turn.
void lay_speed(TurnRows& out, const Knots& knots) {
  const std::size_t turns = out.turns();
  const auto speed_of = [&](long i) {
    return kTwoPi / std::max(knots.at(i + 1) - knots.at(i), out.tick_s);
  };
  out.speed.resize(turns);
  out.slope.resize(turns);
  for (std::size_t i = 0; i < turns; ++i)
    out.speed[i] = kTwoPi / std::max(out.knots[i + 1] - out.knots[i], out.tick_s);
  for (std::size_t i = 0; i < turns; ++i) {
    const auto turn = static_cast<long>(i);
    const bool has_before = turn > knots.first();
    const bool has_after = turn + 1 < knots.last();
    const double before = !has_before ? out.speed[i]
                          : i > 0     ? out.speed[i - 1]
                                      : speed_of(turn - 1);
    const double after = !has_after      ? out.speed[i]
                         : i + 1 < turns ? out.speed[i + 1]
                                         : speed_of(turn + 1);
    const double over = has_before && has_after ? 2.0 : 1.0;
    out.slope[i] = std::clamp((after - before) / (over * out.speed[i]), -0.8, 0.8);
  }
}

} // namespace

std::vector<double> means_beyond_rows(const TurnBasis& basis, std::span<const double> late,
                                      std::size_t turns) {
  std::vector<double> out(late.begin(), late.end());
  std::array<double, kMostRows> sums{};
  for (std::size_t k = 0; k < basis.marks; ++k)
    for (std::size_t r = 0; r < basis.rows; ++r)
      sums[r] += basis.transform[k][r] * late[k];
  for (std::size_t k = 0; k < basis.marks; ++k) {
    for (std::size_t r = 0; r < basis.rows; ++r)
      out[k] -= basis.transform[k][r] * sums[r];
    out[k] /= static_cast<double>(turns);
  }
  return out;
}

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

namespace {

void lay_filled(TurnRows& out, const TurnBasis& basis, const TurnSlots& slots, TurnRange piece) {
  out.filled.clear();
  for (auto hole =
           std::lower_bound(slots.holes.begin(), slots.holes.end(), piece.from * basis.marks);
       hole != slots.holes.end() && *hole < piece.to * basis.marks; ++hole) {
    const std::size_t turn = *hole / basis.marks - piece.from;
    const std::size_t mark = *hole % basis.marks;
    out.filled.push_back({turn, mark, lateness_of(out, basis, slots, piece.from, turn, mark)});
  }
}

void lay_times(TurnRows& out, const TurnBasis& basis, Duration tick, const Knots& knots,
               TurnRange piece) {
  out.rows = basis.rows;
  out.tick_s = tick.s();
  lay_knots(out, knots, piece.to - piece.from);
  lay_reference(out, knots);
  lay_speed(out, knots);
  out.values.resize(out.turns() * out.rows);
  out.beyond_rows.resize(basis.marks, 0.0);
}

} // namespace

void lay_rows(TurnRows& out, const TurnBasis& basis, const TurnSlots& slots, Duration tick,
              TurnRange piece, TurnRange whole) {
  lay_times(out, basis, tick, Knots(basis, slots, tick.s(), piece, whole), piece);
  // As lateness_of, without looking up for each mark what holds for the whole turn.
  sum_rows(out, basis, [&, origin = slots.ticks[piece.from * basis.marks]](std::size_t i) {
    const std::int64_t* tick_at = slots.ticks.data() + (piece.from + i) * basis.marks;
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
  lay_filled(out, basis, slots, piece);
}

TurnRows turn_rows(const TurnBasis& basis, const TurnSlots& slots, Duration tick, std::size_t from,
                   std::size_t to, Course course) {
  TurnRows out;
  const TurnRange range{from, to};
  if (course == Course::dwell) {
    lay_rows(out, basis, slots, tick, range, range);
  } else {
    lay_times(out, basis, tick, Knots(basis, slots, tick.s(), range, range), range);
    lay_rate(out);
    sum_rows(out, basis, [&](std::size_t i) {
      return [&, i](std::size_t k) { return lateness_of(out, basis, slots, from, i, k); };
    });
    lay_filled(out, basis, slots, range);
  }
  out.beyond_rows = means_beyond_rows(basis, out.beyond_rows, out.turns());
  return out;
}

} // namespace whirler::tach
