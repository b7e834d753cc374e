#include "whirler/tach/order_one.hpp"

#include "dwell_fit.hpp"
#include "statistics.hpp"
#include "whirler/tach/marked_pulses.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whirler::tach {

Angle OnceVector::amplitude() const { return radians(std::hypot(re.rad(), im.rad())); }
Angle OnceVector::phase() const { return radians(std::atan2(im.rad(), re.rad())); }

double OnceCovariance::largest() const {
  const double half = 0.5 * (re_re - im_im);
  return 0.5 * (re_re + im_im) + std::hypot(half, re_im);
}

double chance_of_noise(double ratio, std::size_t pulses, std::size_t fitted) {
  const auto m = static_cast<double>(pulses);
  const double freedom = m - static_cast<double>(fitted);
  if (!(freedom > 0.0))
    return 1.0;
  return tail_f2(0.25 * m * ratio * ratio, freedom);
}

namespace {

/// The true length at which an estimate of length `b` or more has a chance of 2.5 %.
double lower_bound(double b) {
  constexpr double kTail = 0.025;
  if (tail_rice(b, 0.0) > kTail)
    return 0.0;
  double low = 0.0;
  double high = b;
  for (int i = 0; i < 50; ++i) {
    const double middle = 0.5 * (low + high);
    (tail_rice(b, middle) > kTail ? high : low) = middle;
  }
  return low;
}

} // namespace

AngleInterval amplitude_interval(OnceVector estimate, OnceCovariance covariance,
                                 double degrees_of_freedom, Axes axes) {
  const double size = estimate.amplitude().rad();
  // Student's spread stands in for the unknown noise; exact for one component, near for two.
  const double widen = t_both(0.05, std::max(1.0, degrees_of_freedom)) / t_both(0.05, 1e6);
  const double sd = widen * std::sqrt(axes == Axes::one ? covariance.re_re : covariance.largest());
  if (!(sd > 0.0))
    return {radians(size), radians(size)};
  const double reach = t_both(0.05, 1e6) * sd;
  const double low = axes == Axes::one ? std::max(0.0, size - reach) : sd * lower_bound(size / sd);
  return {radians(low), radians(size + reach)};
}

Result<OrderOne> order_one(const PulseTrain& pulses, int marks_per_turn) {
  constexpr std::size_t kLeastTurns = 4;
  auto marked = by_mark(pulses, marks_per_turn);
  if (!marked)
    return marked.fault();
  const TurnBasis basis(static_cast<std::size_t>(marks_per_turn));
  const auto longest =
      std::max_element(marked->stretches.begin(), marked->stretches.end(),
                       [](const Stretch& a, const Stretch& b) { return a.size() < b.size(); });
  TurnSlots slots;
  if (longest != marked->stretches.end())
    slots = whole_turns(std::move(*longest), basis.marks);
  const std::size_t turns = slots.turns(basis.marks);
  if (turns < kLeastTurns)
    return input_fault("only " + std::to_string(turns) + " whole turns", "tach pulses",
                       "record 4 or more in one piece");
  const DwellFit fit = fit_dwell(basis, slots, pulses.tick, 0, turns);
  OrderOne out = figure_of(fit, basis);
  if (!longest->aligned)
    out.phase.reset();
  out.counts = marked->counts;
  out.counts.outliers += fit.outliers;
  out.counts.used = turns * basis.marks - fit.filled.size();
  return out;
}

} // namespace whirler::tach
