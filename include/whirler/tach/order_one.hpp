// Once per turn, out of pulse times: the vector D in
//
//     lateness of mark k [rad, + = late] = Re(D exp(-j psi_k)),   psi_k = 2 pi k / N
//
// with its covariance. Time stamps are fitted, not intervals (the noise of neighbouring intervals
// is correlated, and a fit that ignores it loses half of the information). The slow speed is a
// cubic spline of time over angle with one knot a turn: a spline with knots at whole turns is
// exactly orthogonal to every order on evenly counted pulses, so it follows hunting, drift and
// ramps and still costs the vector nothing.
//
// Rejected: subtracting a running one-turn mean and transforming each turn (1.36 times the bound in
// standard deviation, fails at some mark counts); a polynomial over the dwell (hunting goes
// through it); one transform of the whole record (needs even time samples and a constant speed).
//
// The bound that it is measured against: var(Re D) = var(Im D) = 2 s^2/M for M pulses of noise s
// (Rife and Boorstyn, IEEE Trans. Inform. Theory 20, 591, 1974).
#pragma once

#include "whirler/tach/pulses.hpp"
#include "whirler/units/result.hpp"

#include <cstddef>
#include <optional>

namespace whirler::tach {

/// A once-per-turn vector as real and imaginary part of D.
struct OnceVector {
  Angle re;
  Angle im;

  [[nodiscard]] Angle amplitude() const;
  [[nodiscard]] Angle phase() const; ///< arg D, -180 to 180 degrees
  friend OnceVector operator-(OnceVector a, OnceVector b) { return {a.re - b.re, a.im - b.im}; }
  friend OnceVector operator+(OnceVector a, OnceVector b) { return {a.re + b.re, a.im + b.im}; }
};

/// Covariance of (re, im), rad^2.
struct OnceCovariance {
  double re_re = 0.0;
  double re_im = 0.0;
  double im_im = 0.0;

  [[nodiscard]] double largest() const; ///< the larger principal variance, rad^2
  friend OnceCovariance operator+(OnceCovariance a, OnceCovariance b) {
    return {a.re_re + b.re_re, a.re_im + b.re_im, a.im_im + b.im_im};
  }
};

struct AngleInterval {
  Angle low;
  Angle high;
};

/// How much of D the marks can show: one mark nothing, two a single component, three or more all.
enum class Axes { none = 0, one = 1, both = 2 };
[[nodiscard]] constexpr Axes axes_of(int marks_per_turn) {
  return marks_per_turn <= 1 ? Axes::none : marks_per_turn == 2 ? Axes::one : Axes::both;
}

/// What was wrong with the pulses. Always reported, also when all was repaired.
struct PulseCounts {
  std::size_t pulses = 0;       ///< as they came
  std::size_t used = 0;         ///< in the figure that these counts belong to
  std::size_t missing = 0;      ///< marks that passed unseen between pulses
  std::size_t doubled = 0;      ///< pulses too many, left out
  std::size_t out_of_order = 0; ///< put back in their place
  std::size_t outliers = 0;     ///< in place, but at an impossible time; left out
  std::size_t wrapped = 0;      ///< times that the counter began anew
  std::size_t breaks = 0;       ///< places where the count of marks was lost for good

  [[nodiscard]] std::size_t faults() const { return missing + doubled + out_of_order + outliers; }
};

struct OrderOne {
  OnceVector vector;
  OnceCovariance covariance;
  Axes axes = Axes::none;
  Angle amplitude;            ///< |D|; of two marks, the one component that they show
  std::optional<Angle> phase; ///< none where the marks cannot tell it
  AngleInterval interval;     ///< 95 % of the amplitude
  Angle pulse_noise;          ///< standard deviation of one pulse about the fit
  double p_value = 1.0;       ///< chance that noise alone gives as much
  Speed speed;                ///< mean over the stretch
  Duration length;
  std::size_t turns = 0;
  PulseCounts counts;
};

/// The vector in pulses of one steady stretch, speed free to wander slowly. Pulses are repaired
/// first. The first pulse is mark 0 where `pulses.marks` is empty.
/// Faults (input): marks outside 1..1024, fewer than 4 turns, more than 5 % of the pulses missing
/// or too many, mark numbers that contradict the pulses.
[[nodiscard]] Result<OrderOne> order_one(const PulseTrain& pulses, int marks_per_turn);

/// Chance that white noise alone gives an amplitude of `ratio` = A/s in M pulses, where
/// s^2 = RSS/(M - fitted): F(2, M - fitted). `fitted` counts all parameters, the vector's two
/// included; 3 is a mean and the vector.
[[nodiscard]] double chance_of_noise(double ratio, std::size_t pulses, std::size_t fitted = 3);

/// 95 % interval of |D| from its estimate: equal tails of the Rice distribution, so that it covers
/// 95 to 97.5 % whatever the true amplitude, zero included.
[[nodiscard]] AngleInterval amplitude_interval(OnceVector estimate, OnceCovariance covariance,
                                               double degrees_of_freedom, Axes axes = Axes::both);

} // namespace whirler::tach
