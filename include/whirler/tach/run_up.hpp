// One run through many speeds, fitted as a whole: the marks' pattern (the same at every speed), an
// axis out of plumb (falls with speed squared) and unbalance on the mount (grows with speed
// squared, turns by 180 degrees through the mount's natural speed, settles above it). No baseline
// is needed: that the three change differently with speed is what tells them apart.
//
// The mount's equation is integrated along the measured angle, since the steady formula is wrong on
// any ramp that is fast against (z wn)^2/5; long dwells come in as their vectors. Natural speed and
// damping are searched for; all else is linear and solved exactly at each step of the search
// (variable projection: Golub and Pereyra, SIAM J. Numer. Anal. 10, 413, 1973).
//
// What a record cannot tell it does not pretend to: where the natural speed is not seen, every
// mount that fits as well is kept, and the whirl's interval covers what any of them would say.
#pragma once

#include "whirler/tach/marked_pulses.hpp"
#include "whirler/tach/order_one.hpp"
#include "whirler/tach/spinner_model.hpp"

#include <array>
#include <optional>
#include <vector>

namespace whirler::tach {

struct MountEstimate {
  Frequency natural;
  double damping = 0.0;
  double natural_spread = 0.0; ///< standard deviation over the value
  double damping_spread = 0.0;
  bool found = false; ///< seen in this record; else only the best of many that fit
};

/// The unbalance's part of the once-per-turn vector at a speed.
struct Whirl {
  OnceVector vector;
  OnceCovariance covariance;
  AngleInterval interval; ///< 95 %, over all mounts that fit
};

/// A second natural speed: the mount is softer in one direction, or has a second mode.
struct SecondMount {
  Frequency natural;
  double damping = 0.0;
  OnceVector far_above;
};

/// A mount that fits, with what it makes of the rest.
struct FittingMount {
  Frequency natural;
  double damping = 0.0;
  OnceVector far_above;
  OnceCovariance covariance;
  std::optional<SecondMount> second{};
  std::array<double, 16> joint{}; ///< covariance of both K, re and im, where there is a second
};

/// What one mount leaves of a run-up at order 1, beyond what the pulses' own noise explains.
struct Misfit {
  double chance = 1.0; ///< that noise alone leaves as much
  Angle left;          ///< rms of the once-per-turn vectors of a few turns each, noise taken off
  double order = 0.0;  ///< near 1, where most of it is one thing that turns so often a turn; else 0
};

/// A plate that moved on its hub in a ramp: one mount, and another K from there on.
struct MovedPlate {
  Speed speed;       ///< at which it moved
  OnceVector before; ///< K until then
};

struct RunUp {
  OnceVector far_above; ///< K: the whirl's vector far above the natural speed is -K, |K| = U/(M R)
  OnceCovariance covariance;
  MountEstimate mount;
  bool against_named = false; ///< the model names a mount on which these pulses were not made
  OnceVector pattern;         ///< the marks' own order 1
  OnceCovariance pattern_covariance;
  OnceVector plumb; ///< of an axis out of plumb, at `plumb_at`
  OnceCovariance plumb_covariance;
  Speed plumb_at; ///< the slowest speed of the record
  Angle pulse_noise;
  double p_growth = 1.0;     ///< chance that noise alone looks so much like unbalance
  double p_plumb = 1.0;      ///< the same of the axis out of plumb
  double model_spread = 0.0; ///< of the whirl, over the whirl: what the model leaves out
  double freedom = 1.0;      ///< degrees of freedom left
  Speed slowest;
  Speed fastest;
  std::vector<FittingMount> fitting; ///< the best first; more than one where `mount.found` is not
  /// Probes beside the best, natural up and down, damping up and down (and so the second mount's),
  /// for the spread of what follows from it; and the covariance of (ln natural, ln damping, ...).
  std::vector<FittingMount> beside{};
  std::vector<double> step{};
  std::vector<double> of_mount{}; ///< a square
  /// Where one mount does not fit the run-up: what it leaves. `fitting` may have a second mount
  /// then; `left_over` is what the best fit of all leaves still.
  std::optional<Misfit> misfit{};
  std::optional<Misfit> left_over{};
  std::optional<MovedPlate> moved{}; ///< `far_above` is K since then

  [[nodiscard]] Whirl whirl_at(Speed speed) const;
  /// K itself, with all that is not known of the mount.
  [[nodiscard]] Whirl far_whirl() const;

 private:
  template <class GainsOf>
  [[nodiscard]] Whirl whirl_through(GainsOf gains_of) const;
};

/// D of a steady whirl: K conj(G) at `speed`.
[[nodiscard]] OnceVector steady_whirl(OnceVector far_above, Frequency natural, double damping,
                                      Speed speed);
/// The same of all that moves on a mount, the second natural speed included.
[[nodiscard]] OnceVector steady_whirl(const FittingMount& mount, Speed speed);

/// The fit of one stretch; none where it holds too little: fewer than 3 marks cannot do it on their
/// own, nor one speed, nor a few turns. A mount that the model names is held to, within 10 %,
/// unless another fits beyond all doubt better: `against_named`.
[[nodiscard]] std::optional<RunUp> fit_run_up(const MarkedPulses& pulses, std::size_t stretch,
                                              const SpinnerModel& model);

} // namespace whirler::tach
