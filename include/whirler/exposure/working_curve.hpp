// From a step wedge to seconds under the lamp, for a negative resist (light hardens it).
//
//        depth
//   film |...............____     C_d = D_p ln(E/E_c)   (Jacobs 1992: Rapid Prototyping and
//        |            / |          Manufacturing; light falls off as Beer and Lambert say)
//        |          /   |         slope D_p: depth over which the light falls to 1/e
//        |        /     |         foot  E_c: dose below which nothing hardens
//        +------/-------+--- ln E (dose)
//             E_c     E_c exp(film/D_p): hardens the film right through
//
// D_p and E_c differ 7 and 70 times between laboratories on one batch (interlaboratory study,
// PMC10986335), so none are shipped: they come from the user's own wedge, lamp and meter.
//
// A wedge teaches in two ways. A step that kept part of its film is a point of the curve. A wedge
// whose steps are all or nothing gives one point, its film at the dose between the last step that
// stayed and the first that went. One such point cannot separate D_p from E_c: it gives the
// seconds for its own thickness and no other. Two films of different thickness can.
//
// Rejected: guessing D_p from the resist's kind. A thick film then comes out under-exposed at its
// foot, where nobody sees it until it lifts.
#pragma once

#include "whirler/exposure/wedge.hpp"
#include "whirler/units/result.hpp"

#include <cstddef>
#include <optional>
#include <span>

namespace whirler::exposure {

/// A value with its 95 % interval.
template <class Q>
struct Ranged {
  Q value;
  Q low;
  Q high;
};

/// What wedges taught.
struct WorkingCurve {
  Ranged<Length> depth;  ///< D_p; meaningless unless `separated`
  Ranged<Dose> critical; ///< E_c; meaningless unless `separated`
  bool separated = true; ///< false: one border only, good for `single_film` alone
  Length single_film;
  double border_half = 0.0; ///< of ln E: half the step at the border
  std::size_t points = 0;
  Length shallowest; ///< the films that the wedges show, from the shallowest step that stood ...
  Length deepest; ///< ... to the thickest that was hardened through; both 0: known from elsewhere

  // For predictions: the line depth = mean_depth + D_p (ln E - mean_log), its scatter and spread.
  Length mean_depth;
  double mean_log = 0.0;  ///< of the dose in J/m2
  double spread = 0.0;    ///< sum of squared distances of ln E from its mean
  double scatter_m = 0.0; ///< standard deviation of a point's depth [m]
  double student = 0.0;   ///< two-sided 95 % quantile for the freedom left
};

/// Scatter that is assumed before any is seen: 3 % of the film [gauge: common practice, no source].
inline constexpr double kGaugeShare = 0.03;

/// Fits all wedges together.
/// Faults (input): an irradiance, time or film not above 0; no step; a step's density not finite or
/// its film negative or above the film; no step kept film, or all kept it (the wedge has to reach
/// further); more light that left less film (a positive resist, or steps mixed up).
[[nodiscard]] Result<WorkingCurve> fit(std::span<const Wedge> wedges);

/// A curve known from elsewhere, without intervals.
/// Faults (input): a depth or dose not above 0.
[[nodiscard]] Result<WorkingCurve> curve_of(Length depth, Dose critical);

/// Whether a film lies outside those that the wedges show (by over 5 %): its seconds are then the
/// line drawn on, and only as good as the line is straight there.
[[nodiscard]] bool is_drawn_on(const WorkingCurve& curve, Length film);

/// C_d = D_p ln(E/E_c); zero at or below E_c. Fault (input): curve not separated; dose not above 0.
[[nodiscard]] Result<Length> cured_depth(const WorkingCurve& curve, Dose dose);

/// E_c exp(film/D_p), with the interval that the fit leaves. Faults (input): a film not above 0; a
/// curve that is not separated asked for another film than its own (by over 5 %).
[[nodiscard]] Result<Ranged<Dose>> dose_for(const WorkingCurve& curve, Length film);

/// dose/irradiance. Faults (input): a lamp not above 0; a time of over a day.
[[nodiscard]] Result<Ranged<Duration>> time_for(const Ranged<Dose>& dose, Irradiance lamp);

} // namespace whirler::exposure
