// How long each step of a turn took: what the mount's equation is integrated along.
#include "run_up_problem.hpp"
#include "step_lengths.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

} // namespace

/// What the marks say at each step, against the reference: lateness (rad) about the turn's mean for
/// the whirl that a late mark meets, and the turn's mean itself.
void RunUpProblem::lay_lateness(Window& window) const {
  const TurnRows& rows = window.rows;
  window.late.assign(rows.turns() * steps_, 0.0);
  window.usual.assign(steps_, 0.0);
  double good = 1e-9;
  for (std::size_t i = 0; i < rows.turns(); ++i) {
    double* late = window.late.data() + i * steps_;
    for (std::size_t s = 0; s < steps_; ++s)
      late[s] = transform_.late(s, rows.turn(i));
    if (window.left_out[i] != 0)
      continue;
    good += 1.0;
    for (std::size_t s = 0; s < steps_; ++s)
      window.usual[s] += late[s];
  }
  for (double& late : window.usual)
    late /= good;
}

/// Durations of the steps. The reference runs through mark 0, which is late itself: the mean of all
/// marks is put in its place. In a corner the reference is wrong by far more than any mark is:
/// there the steps go by the marks, less their usual lateness.
void RunUpProblem::lay_steps(Window& window) const {
  const TurnRows& rows = window.rows;
  const std::size_t turns = rows.turns();
  const std::size_t stride = transform_.stride();
  const auto mean = [&](std::size_t i) {
    return rows.turn(i)[0] / std::sqrt(static_cast<double>(basis_->marks));
  };
  const auto seen = [&](std::size_t i, std::size_t s) { // s, by the mark at step s of turn i
    return (mean(i) + window.late[i * steps_ + s] - window.usual[s]) / rows.speed[i];
  };
  const auto at_knot = [&](std::size_t i) {
    const std::size_t before = i > 0 ? i - 1 : 0;
    const std::size_t after = std::min(i, turns - 1);
    if (i < turns && (window.left_out[before] != 0 || window.left_out[after] != 0))
      return seen(i, 0);
    return 0.5 * (mean(before) / rows.speed[before] + mean(after) / rows.speed[after]);
  };
  const auto shift = [&](std::size_t i, std::size_t s) {
    const double share = static_cast<double>(s) / static_cast<double>(steps_);
    if (s == steps_ || window.left_out[i] == 0)
      return at_knot(i) * (1.0 - share) + at_knot(i + 1) * share;
    const std::size_t from = s / stride * stride;
    const double between = static_cast<double>(s - from) / static_cast<double>(stride);
    const double next = from + stride == steps_ ? at_knot(i + 1) : seen(i, from + stride);
    return seen(i, from) * (1.0 - between) + next * between;
  };
  window.step_s.resize(turns * steps_);
  for (std::size_t i = 0; i < turns; ++i) {
    double before = rows.knots[i] + shift(i, 0);
    for (std::size_t s = 0; s < steps_; ++s) {
      const double u = static_cast<double>(s + 1) / static_cast<double>(steps_);
      const double now = moment_of(rows, i, u).time + shift(i, s + 1);
      window.step_s[i * steps_ + s] = now - before;
      before = now;
    }
    keep_between_neighbours(rows, i, {window.step_s.data() + i * steps_, steps_});
  }
}

/// Change of speed over a turn, rad/s^2, by its first and second half.
double RunUpProblem::ramp_in(const Window& window, std::size_t turn) const {
  const double* step = window.step_s.data() + turn * steps_;
  const std::size_t half = steps_ / 2;
  const double first = std::accumulate(step, step + half, 0.0);
  const double second = std::accumulate(step + half, step + steps_, 0.0);
  const double angle = kTwoPi / static_cast<double>(steps_);
  return (angle * static_cast<double>(steps_ - half) / second -
          angle * static_cast<double>(half) / first) /
         (0.5 * (first + second));
}

} // namespace whirler::tach
