// What to do with the seconds: judge an exposure that was given, and a film that is not even.
#pragma once

#include "whirler/exposure/working_curve.hpp"

namespace whirler::exposure {

enum class Verdict { under, within, over };

/// The most that is usually given on top of what hardens the film down to the copper.
/// [common practice, no source]
inline constexpr double kUsualMargin = 1.5;

/// A past exposure against what the film needs.
struct Judgement {
  Verdict verdict = Verdict::within; ///< against the interval, not the middle
  bool within_margin = false;        ///< over, and by no more than is usually laid on top
  double ratio = 1.0;                ///< given over needed
  double wedge_steps = 0.0;          ///< log10(ratio)/0.15: how many half-stop steps too many
  Duration next;                     ///< to try now
  Duration next_low;                 ///< and the two strips beside it
  Duration next_high;
};

/// Density between steps of the usual wedge, half a stop: each passes 1/sqrt(2) of the light.
inline constexpr double kUsualStep = 0.15;

/// Fault (input): a time not above 0.
[[nodiscard]] Result<Judgement> judge(Duration given, const Ranged<Duration>& needed);

/// One exposure for a film that is not even.
struct OneForAll {
  Ranged<Duration> thinnest;
  Ranged<Duration> thickest;
  double over_at_thinnest = 1.0; ///< how many times what it needs the thinnest place gets
  bool serves_both = false;      ///< that stays within the latitude
};

/// How much a resist may be over-exposed before lines swell is learnt from its own lines; until
/// then half as much again [common practice, no source].
inline constexpr double kUsualLatitude = 1.5;

/// Faults (input): `dose_for`'s and `time_for`'s; a range that is upside down; a latitude under 1.
[[nodiscard]] Result<OneForAll> one_for_all(const WorkingCurve& curve, Length thinnest,
                                            Length thickest, Irradiance lamp,
                                            double latitude = kUsualLatitude);

} // namespace whirler::exposure
