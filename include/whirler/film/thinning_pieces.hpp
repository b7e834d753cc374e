// The speed curve as the solver walks it: straight pieces of omega(t), so that a step never spans
// a kink. A smoothed curve was rejected: it needs a width, and a width is a tuning knob.
#pragma once

#include "whirler/units/result.hpp"
#include "whirler/units/speed_curve.hpp"

#include <span>
#include <vector>

namespace whirler::film::thinning {

/// omega runs straight from start_s to end_s. Inner numbers of the solver: s, rad/s, rad/s2.
struct Piece {
  double start_s = 0.0;
  double end_s = 0.0;
  double omega_start = 0.0; // rad/s
  double slope = 0.0;       // rad/s2
  [[nodiscard]] double length() const { return end_s - start_s; }
  [[nodiscard]] double omega(double t_s) const { return omega_start + slope * (t_s - start_s); }
  [[nodiscard]] double omega_end() const { return omega(end_s); }
};

/// Jumps leave no piece. Fault (input): fewer than two knots, no time between the first and the
/// last, a time or speed that is not finite, times that fall. A speed below zero turns the other
/// way, which a film does not feel: its size counts, with a kink where it crosses zero.
[[nodiscard]] Result<std::vector<Piece>> pieces_of(const SpeedCurve& curve);

/// The part of the pieces up to `end_s`, the last one cut there.
[[nodiscard]] std::vector<Piece> pieces_until(std::span<const Piece> pieces, double end_s);

/// What is left of the pieces from `start_s` on, the first one cut there.
[[nodiscard]] std::vector<Piece> pieces_from(std::span<const Piece> pieces, double start_s);

/// The highest omega of all [rad/s].
[[nodiscard]] double top_omega(std::span<const Piece> pieces);

/// The last time at which omega is at least `share` of the highest [s].
[[nodiscard]] double last_time_near_top(std::span<const Piece> pieces, double share);

/// The size of omega at a time; end values outside.
[[nodiscard]] double omega_at(std::span<const Piece> pieces, double t_s);

} // namespace whirler::film::thinning
