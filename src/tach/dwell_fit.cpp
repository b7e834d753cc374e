#include "dwell_fit.hpp"

#include "statistics.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace whirler::tach {
namespace {

constexpr std::size_t kMostBlocks = 40;
constexpr std::size_t kBlockTurns = 6; ///< at least; fewer say little of their own vector
constexpr double kScatterDoubt = 0.002;
constexpr double kOutlierTurn = 12.0; ///< a turn's mean square over the fit's, to be looked at
constexpr double kOutlierPulse = 6.0; ///< standard deviations
constexpr double kOutlierShare = 0.4; ///< of its turn's squares, for the worst mark
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

/// Feeds the turns, noting the border's increments block by block.
Elimination run(const TurnBasis& basis, const TurnRows& rows, double unit, bool keep,
                std::vector<BorderNormal>& blocks) {
  Elimination elimination(basis, 0, keep ? rows.turns() : 0);
  const std::size_t turns = rows.turns();
  const std::size_t count = std::clamp<std::size_t>(turns / kBlockTurns, 1, kMostBlocks);
  BorderNormal before;
  for (std::size_t i = 0, block = 0; i < turns; ++i) {
    elimination.add_turn(rows.turn(i), rows.speed[i] / unit, rows.slope[i]);
    if (i + 1 == (block + 1) * turns / count) {
      const BorderNormal now = elimination.border();
      blocks.push_back(block == 0 ? now : now - before);
      before = now;
      ++block;
    }
  }
  return elimination;
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

/// One pass: the fit of the rows as they are.
void fit_once(DwellFit& fit, const TurnBasis& basis) {
  fit.blocks.clear();
  // Two marks leave nothing to hold a stamp against, so what is left of them is not asked for.
  const bool keep = basis.marks > 2 || !fit.rows.filled.empty();
  const double unit = fit.rows.speed[fit.rows.turns() / 2];
  std::vector<BorderNormal> blocks;
  const Elimination elimination = run(basis, fit.rows, unit, keep, blocks);
  const BorderNormal whole = elimination.border();
  fit.solution = solve(whole);
  fit.degrees_of_freedom = std::max(1.0, whole.observations - static_cast<double>(whole.size) -
                                             static_cast<double>(fit.rows.filled.size()));
  fit.noise = std::sqrt(fit.solution.rss / fit.degrees_of_freedom);
  if (keep)
    fit.left = elimination.residuals(fit.rows, unit, fit.solution);
  const std::size_t turns = fit.rows.turns();
  for (std::size_t b = 0; b < blocks.size(); ++b) {
    const BorderSolution own = solve(blocks[b]);
    if (own.solvable)
      fit.blocks.push_back({vector_of(own, basis), covariance_of(own, basis),
                            (b + 1) * turns / blocks.size() - b * turns / blocks.size()});
  }
}

double fitted_lateness(const DwellFit& fit, const TurnBasis& basis, std::size_t turn,
                       std::size_t mark) {
  double fitted = fit.rows.beyond_rows[mark];
  for (std::size_t r = 0; r < basis.rows; ++r) {
    const std::size_t at = turn * basis.rows + r;
    fitted += basis.transform[mark][r] * (fit.rows.values[at] - fit.left[at]);
  }
  return fitted;
}

/// Puts the fitted lateness in place of the marks that were filled in from their neighbours: one
/// step of expectation and maximisation towards the fit of the seen pulses alone.
void refill(DwellFit& fit, const TurnBasis& basis) {
  std::vector<double> change(fit.rows.filled.size());
  for (std::size_t f = 0; f < change.size(); ++f) {
    FilledMark& mark = fit.rows.filled[f];
    const double fitted = fitted_lateness(fit, basis, mark.turn, mark.mark);
    change[f] = fitted - mark.lateness;
    mark.lateness = fitted;
  }
  for (std::size_t f = 0; f < change.size(); ++f) {
    const FilledMark& mark = fit.rows.filled[f];
    for (std::size_t r = 0; r < basis.rows; ++r)
      fit.rows.values[mark.turn * basis.rows + r] += basis.transform[mark.mark][r] * change[f];
  }
}

/// Marks whose lateness no noise explains, worst turns first looked for by their mean square.
std::vector<std::size_t> bad_slots(const DwellFit& fit, const TurnBasis& basis,
                                   const TurnSlots& slots, std::size_t from) {
  std::vector<std::size_t> bad;
  const std::size_t turns = fit.rows.turns();
  std::vector<double> square(turns);
  for (std::size_t i = 0; i < turns; ++i)
    for (std::size_t r = 0; r < basis.rows; ++r)
      square[i] += std::pow(fit.left[i * basis.rows + r], 2);
  std::vector<double> sorted(square);
  const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(turns / 2);
  std::nth_element(sorted.begin(), middle, sorted.end());
  const double usual = *middle;
  const double noise = std::sqrt(usual / static_cast<double>(basis.rows));
  for (std::size_t i = 0; i < turns; ++i) {
    if (square[i] < kOutlierTurn * usual)
      continue;
    // One bad stamp throws its whole turn about; only the worst is taken at a time.
    std::size_t worst = 0;
    double size = 0.0;
    double whole = 0.0; // where all marks are late together the speed moved, and no stamp is bad
    for (std::size_t k = 0; k < basis.marks; ++k) {
      const double late = std::abs(lateness_of(fit.rows, basis, slots, from, i, k) -
                                   fitted_lateness(fit, basis, i, k));
      whole += late * late;
      if (late > size) {
        size = late;
        worst = k;
      }
    }
    if (size > kOutlierPulse * noise && size * size > kOutlierShare * whole)
      bad.push_back((from + i) * basis.marks + worst);
  }
  return bad;
}

/// Makes holes of the bad stamps; false when there are none, or so many that they are no accident.
bool mend(DwellFit& fit, const TurnBasis& basis, TurnSlots& slots, std::size_t from) {
  if (basis.marks < 3)
    return false; // nothing to hold a stamp against
  const auto bad = bad_slots(fit, basis, slots, from);
  const auto most =
      static_cast<std::size_t>(kMostOutliers * static_cast<double>(fit.rows.turns() * basis.marks));
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
  if (basis.marks == 1) { // a mark a turn, and a knot: nothing is left to tell anything by
    fit.rows = bare_turns(basis, slots, tick, from, to);
    return fit;
  }
  constexpr int kMends = 3;
  for (int pass = 0; pass <= kMends; ++pass) {
    fit.rows = turn_rows(basis, slots, tick, from, to);
    fit_once(fit, basis);
    if (pass == kMends || !mend(fit, basis, slots, from))
      break;
  }
  if (!fit.rows.filled.empty())
    for (int step = 0; step < 2; ++step) {
      refill(fit, basis);
      fit_once(fit, basis);
    }
  weigh_scatter(fit, basis);
  return fit;
}

DwellFit fit_rows(const TurnBasis& basis, TurnRows rows) {
  DwellFit fit;
  fit.rows = std::move(rows);
  fit_once(fit, basis);
  weigh_scatter(fit, basis);
  return fit;
}

namespace {

/// A timer that rounds the same way each turn makes a pattern that no scatter shows.
double rounding_floor(const DwellFit& fit, const TurnBasis& basis, double speed) {
  const double step = fit.rows.tick_s * speed;
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
  out.turns = fit.rows.turns();
  out.length = seconds(fit.rows.knots.back());
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
