#include "dwell_fit.hpp"

#include "dwell_pass.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace whirler::tach {
namespace {

constexpr double kScatterDoubt = 0.002;
constexpr double kMostOutliers = 0.02;

OnceVector vector_of(const BorderSolution& s, const TurnBasis& basis) {
  const double scale = 1.0 / basis.order_one_scale;
  return {radians(s.value[0] * scale), radians(basis.marks > 2 ? s.value[1] * scale : 0.0)};
}

OnceCovariance covariance_of(const BorderSolution& s, const TurnBasis& basis) {
  const double scale = 1.0 / (basis.order_one_scale * basis.order_one_scale);
  if (basis.marks <= 2)
    return {s.covariance(0, 0) * scale, 0.0, 0.0};
  return {s.covariance(0, 0) * scale, s.covariance(0, 1) * scale, s.covariance(1, 1) * scale};
}

/// A square over its variance, where noiseless pulses may leave none.
double over(double square, double variance) {
  if (variance != 0.0)
    return square / variance;
  return square > 0.0 ? std::numeric_limits<double>::infinity() : 0.0;
}

/// (v - mean)' C^-1 (v - mean)
double distance(OnceVector v, OnceVector mean, OnceCovariance c, bool both) {
  const double x = (v.re - mean.re).rad();
  const double y = (v.im - mean.im).rad();
  if (!both)
    return over(x * x, c.re_re);
  const double det = c.re_re * c.im_im - c.re_im * c.re_im;
  return over(c.im_im * x * x - 2.0 * c.re_im * x * y + c.re_re * y * y, det);
}

/// Blocks joined in pairs; an odd last one is left out.
std::vector<BlockVector> joined(const std::vector<BlockVector>& blocks) {
  std::vector<BlockVector> out;
  for (std::size_t i = 0; i + 1 < blocks.size(); i += 2) {
    const BlockVector& a = blocks[i];
    const BlockVector& b = blocks[i + 1];
    const OnceVector sum = a.vector + b.vector;
    const OnceCovariance c = a.covariance + b.covariance;
    out.push_back({{0.5 * sum.re, 0.5 * sum.im},
                   {0.25 * c.re_re, 0.25 * c.re_im, 0.25 * c.im_im},
                   a.turns + b.turns});
  }
  return out;
}

/// How much more the blocks' vectors scatter than the pulses' white noise explains: what hunts,
/// rattles or rubs near once a turn shows here and nowhere else. Asked of ever longer blocks, since
/// what wanders slowly scatters little from one short block to the next.
void weigh_scatter(DwellFit& fit, const TurnBasis& basis) {
  constexpr std::size_t kFewestBlocks = 5;
  const bool both = basis.marks > 2;
  const OnceVector mean = vector_of(fit.solution, basis);
  const double variance = fit.noise * fit.noise;
  for (auto blocks = fit.blocks; blocks.size() >= kFewestBlocks && variance > 0.0;
       blocks = joined(blocks)) {
    double chi2 = 0.0;
    for (const BlockVector& block : blocks)
      chi2 += distance(block.vector, mean, block.covariance, both);
    const double freedom = static_cast<double>(blocks.size() - 1) * (both ? 2.0 : 1.0);
    const double ratio = chi2 / (freedom * variance);
    if (ratio > fit.scatter && tail_f(ratio, freedom, fit.degrees_of_freedom) < kScatterDoubt) {
      fit.scatter = ratio;
      fit.scatter_freedom = freedom;
    }
  }
}

/// What follows from the border's equations: the whole's, and the blocks'.
void set_fit(DwellFit& fit, const TurnBasis& basis, const BorderSums& sums) {
  fit.solution = solve(sums.whole);
  fit.degrees_of_freedom =
      std::max(1.0, sums.whole.observations - static_cast<double>(sums.whole.size) -
                        static_cast<double>(fit.filled.size()));
  fit.noise = std::sqrt(fit.solution.rss / fit.degrees_of_freedom);
  const std::size_t turns = fit.turns;
  const std::size_t count = sums.blocks.size();
  fit.blocks.clear();
  for (std::size_t b = 0; b < count; ++b) {
    const BorderSolution own = solve(sums.blocks[b]);
    if (own.solvable)
      fit.blocks.push_back({vector_of(own, basis), covariance_of(own, basis),
                            (b + 1) * turns / count - b * turns / count});
  }
}

/// Makes holes of the bad stamps; false when there are none, or so many that they are no accident.
bool mend(DwellFit& fit, const TurnBasis& basis, TurnSlots& slots,
          const std::vector<std::size_t>& bad) {
  const auto most =
      static_cast<std::size_t>(kMostOutliers * static_cast<double>(fit.turns * basis.marks));
  if (bad.empty() || fit.outliers + bad.size() > most)
    return false;
  fit.outliers += bad.size();
  slots.holes.insert(slots.holes.end(), bad.begin(), bad.end());
  std::sort(slots.holes.begin(), slots.holes.end());
  slots.holes.erase(std::unique(slots.holes.begin(), slots.holes.end()), slots.holes.end());
  fill_holes(slots.ticks, slots.holes, basis.marks);
  return true;
}

} // namespace

DwellFit fit_dwell(const TurnBasis& basis, TurnSlots& slots, Duration tick, std::size_t from,
                   std::size_t to) {
  DwellFit fit;
  fit.turns = to - from;
  fit.length =
      static_cast<double>(slots.ticks[to * basis.marks] - slots.ticks[from * basis.marks]) * tick;
  fit.tick = tick;
  fit.beyond_rows.assign(basis.marks, 0.0);
  if (basis.marks == 1) // a mark a turn, and a knot: nothing is left to tell anything by
    return fit;
  constexpr int kMends = 3;
  DwellPass pass(basis, slots, tick, {from, to});
  for (int time = 0; time <= kMends; ++time) {
    const bool look = time < kMends && basis.marks > 2; // two leave nothing to hold a stamp against
    pass.start_anew();
    pass.run(nullptr, look);
    if (!look || !mend(fit, basis, slots, pass.bad()))
      break;
  }
  for (int step = 0; step < 2 && !pass.filled().empty(); ++step) {
    const BorderSolution held = solve(pass.sums().whole);
    pass.run(&held, false);
  }
  fit.filled = pass.filled();
  fit.beyond_rows = pass.beyond_rows();
  set_fit(fit, basis, pass.sums());
  weigh_scatter(fit, basis);
  return fit;
}

DwellFit fit_rows(const TurnBasis& basis, const TurnRows& rows, const std::vector<bool>& left_out) {
  DwellFit fit;
  fit.turns = rows.turns();
  fit.length = seconds(rows.knots.back());
  fit.beyond_rows = rows.beyond_rows;
  const double unit = rows.speed[fit.turns / 2];
  Elimination elimination(basis, 0);
  BorderSums sums(fit.turns);
  std::size_t skipped = 0; // in a row; after so many no spline coefficient spans the gap
  for (std::size_t i = 0; i < fit.turns; ++i) {
    skipped = left_out[i] ? skipped + 1 : 0;
    if (skipped == 0)
      elimination.add_turn(rows.turn(i), rows.speed[i] / unit, rows.slope[i]);
    else if (skipped <= kSplineWidth)
      elimination.skip_turn();
    sums.note(i, elimination);
  }
  set_fit(fit, basis, sums);
  weigh_scatter(fit, basis);
  return fit;
}

namespace {

/// A timer that rounds the same way each turn makes a pattern that no scatter shows.
double rounding_floor(const DwellFit& fit, const TurnBasis& basis, double speed) {
  const double step = fit.tick.s() * speed;
  const double rounding = step * step / 12.0;
  const double seen = fit.noise * fit.noise;
  if (seen >= rounding)
    return 0.0;
  return (rounding - seen) / (basis.order_one_scale * basis.order_one_scale);
}

double chance(OnceVector v, OnceCovariance c, double freedom, Axes axes) {
  if (axes == Axes::one)
    return tail_t_both(v.re.rad() / std::sqrt(c.re_re), freedom);
  return tail_f2(0.5 * distance(v, {}, c, true), freedom);
}

} // namespace

OrderOne figure_of(const DwellFit& fit, const TurnBasis& basis) {
  OrderOne out;
  out.axes = axes_of(static_cast<int>(basis.marks));
  out.turns = fit.turns;
  out.length = fit.length;
  const double speed = 2.0 * std::numbers::pi * static_cast<double>(out.turns) / out.length.s();
  out.speed = rad_per_s(speed);
  out.pulse_noise = radians(fit.noise);
  if (out.axes == Axes::none || !fit.solution.solvable)
    return out;
  out.vector = vector_of(fit.solution, basis);
  const double variance = fit.noise * fit.noise * fit.scatter;
  const double floor = rounding_floor(fit, basis, speed);
  const OnceCovariance unit = covariance_of(fit.solution, basis);
  out.covariance = {unit.re_re * variance + floor, unit.re_im * variance,
                    unit.im_im * variance + floor};
  const double freedom = fit.scatter > 1.0 ? fit.scatter_freedom : fit.degrees_of_freedom;
  out.amplitude = out.vector.amplitude();
  if (out.axes == Axes::both)
    out.phase = out.vector.phase();
  out.interval = amplitude_interval(out.vector, out.covariance, freedom, out.axes);
  out.p_value = chance(out.vector, out.covariance, freedom, out.axes);
  return out;
}

} // namespace whirler::tach
