// The full model turned round: the speed and dwell that leave a wanted film.
//
// The film is a smooth falling function of the top speed once the rest of the profile (spread,
// ramps, dwell) is fixed, so a bracketed secant on logarithms finds it in six to ten coats, each
// some ten microseconds. Where no dwell is given a drying film gets the one that it needs: until it
// is set, and a quarter more.
//
// Rejected: turning the workshop rule round and correcting once. With a slow ramp the exponent is
// 0.3 instead of 0.5 and the correction overshoots.
#pragma once

#include "whirler/film/thinning.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"
#include "whirler/units/speed_curve.hpp"

#include <optional>

namespace whirler::film {

/// A profile but for its top speed.
struct CoatPlan {
  std::optional<Speed> spread_speed; ///< none: straight up
  Duration spread_dwell = seconds(5.0);
  Ramp ramp = rpm_per_s(1000.0); ///< up, and down at the end
  std::optional<Duration> dwell; ///< at top speed; none: what the film needs to set
};

/// From rest, over the spread, to the top, its dwell, and down to rest. The spread is left out
/// where it is not slower than the top.
[[nodiscard]] SpeedCurve curve_of(const CoatPlan& plan, Speed top, Duration dwell);

/// A top speed with the dwell there and the film that both leave.
struct PlannedFilm {
  Speed speed;
  Duration dwell;
  Length thickness; ///< dry
};

/// Film over top speed, everything else looked up once.
class FilmOverSpeed {
 public:
  /// Faults (input): `estimate`'s; a plan whose ramp is not above 0, whose times are negative; a
  /// liquid that does not dry without a dwell.
  [[nodiscard]] static Result<FilmOverSpeed> make(const Resist& resist, const CoatPlan& plan,
                                                  const Environment& environment);
  /// Faults: a speed not above 0 (input); with no dwell given, a film that is not set after an hour
  /// (input).
  [[nodiscard]] Result<PlannedFilm> at(Speed top) const;

  /// The top speed between two for a dry film. Faults (input): a target not above 0; one that no
  /// speed between them leaves, with what is possible.
  [[nodiscard]] Result<PlannedFilm> find(Length target, Speed slowest, Speed fastest) const;

 private:
  FilmOverSpeed(thinning::Label label, const CoatPlan& plan, double pour_m, double radius_m)
      : label_(std::move(label)), plan_(plan), pour_m_(pour_m), radius_m_(radius_m) {}
  [[nodiscard]] Result<Duration> dwell_at(Speed top) const;
  [[nodiscard]] Result<Length> film(Speed top, Duration dwell) const;

  thinning::Label label_;
  CoatPlan plan_;
  double pour_m_;
  double radius_m_; ///< of the plate; a power-law liquid's film depends on it
};

/// `FilmOverSpeed::find` in one call.
[[nodiscard]] Result<PlannedFilm> speed_for(Length target, const Resist& resist,
                                            const CoatPlan& plan, const Environment& environment,
                                            Speed slowest, Speed fastest);

} // namespace whirler::film
