// The full model: what film a whole speed curve leaves, ramps included. Flow and evaporation
// together, a viscosity that rises as the film dries, film and plate cooling as one.
//
//   dh/dt       = -(1/r) d/dr (r^2 K h^3) - E,   K = rho omega^2/(3 eta)
//   d(phi h)/dt = -(1/r) d/dr (r^2 K h^3 phi)    solids leave only with the flow
//
// after Emslie, Bonner and Peck (1958), Meyerhofer (1978) and Bornside, Macosko and Scriven (1989).
// Closures and their sources: closures.hpp. An even film stays even, so it is followed at one
// radius (column.hpp); a pour that is not even, a screw on the hub, a power-law liquid or turbulent
// air at the rim are followed over the radius (radial.hpp).
//
// What it does not see: surface tension, draughts, dust, the rim's bead, the corners of a rectangle
// behind the turbulence and the contact line there. It warns of those by their own rules and never
// states an evenness that it has not modelled: then centre and edge are absent, with the reason.
//
// "Set" means: taken along the curve to its highest speed and held there, less than 1 % of the
// solids would leave by flow in the next 60 s. Judged so, a pause at low speed does not count as
// set, and neither does a spindle at rest.
//
// Rejected: one number from a fitted formula. It cannot say what the ramp did, whether the dwell
// was long enough, or what an early stop leaves.
#pragma once

#include "whirler/film/air.hpp"
#include "whirler/film/closures_label.hpp"
#include "whirler/film/resist.hpp"
#include "whirler/film/thinning_pieces.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"
#include "whirler/units/speed_curve.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::film {

/// How the liquid lies when the curve starts.
struct Pour {
  Length thickness = micrometres(500.0); ///< wet, the mean over what it covers
  /// Depth at the centre over depth at its edge, 1: even. A pour is seldom even, and only an
  /// under-dwelt film remembers; none given: even, and the evenness is not modelled.
  std::optional<double> dome;
  std::optional<Length> puddle; ///< radius that it covers; none: all of the plate
};

struct Plate {
  PlateHeat heat;
  std::optional<Length> radius;  ///< from the spindle to the farthest point
  std::optional<Length> nearest; ///< from the spindle to the nearest edge, where not a disc
  std::optional<Length> screw;   ///< radius of what covers the centre (screw head, washer)
};

struct Environment {
  Air air;
  Pour pour;
  Plate plate;
};

/// A thickness over the plate. Absent where the model has not looked.
struct Across {
  std::optional<Length> centre; ///< or at the screw's edge
  std::optional<Length> mean;
  std::optional<Length> edge; ///< of the flat film, inside the rim's bead
};

struct TracePoint {
  Duration at;
  Speed speed;
  Length wet; ///< mean
  Length dry; ///< of the solids alone, mean
  double solids_volume_share = 1.0;
  Temperature film;
  std::optional<double> unevenness; ///< (thickest - thinnest)/mean of the dry film
  std::optional<Length> dry_centre; ///< where unevenness is known
};

struct ThinningResult {
  Across dry;                       ///< solids alone: what is left when all solvent is gone
  Across wet;                       ///< at the end of the curve
  std::string across_why;           ///< why centre and edge are absent; empty where they are given
  bool is_set = false;              ///< at the end of the curve
  std::optional<Duration> set_time; ///< from the curve's start
  std::optional<Duration> needed_dwell; ///< near the highest speed, until set; none in an hour
  Duration dwell;                       ///< near the highest speed (95 %), as run
  double flow_left = 0.0;  ///< share of the solids that 60 s more at top speed would take
  double ramp_ratio = 1.0; ///< dry film over that of the same curve started at its highest speed
  bool ramp_sets_film = false; ///< spread and ramp leave it over 5 % thicker than the speed would
  Speed top_speed;
  Temperature coldest;                  ///< of the film
  std::optional<Duration> covered_at;   ///< when a puddle's front reached the rim
  std::optional<Length> covered_radius; ///< how far a puddle got that never did
  std::optional<double> unevenness;     ///< (thickest - thinnest)/mean of the dry film at the end
  std::optional<Length> turbulent_from; ///< radius past which the air may be turbulent
  std::vector<TracePoint> trace;
  std::vector<std::string> warnings; ///< what contradicts itself or is not even, each a sentence
  std::vector<std::string> unseen;   ///< what no number here includes, each a sentence

  /// The trace between its points; its ends outside. What a stop at that time would leave.
  [[nodiscard]] TracePoint after(Duration time) const;
};

/// Faults (input): the label's, the air's, the curve's; a curve that never turns; a pour that is
/// not above 0; a dome, puddle or screw that is impossible; a plate smaller than its screw.
[[nodiscard]] Result<ThinningResult> estimate(const Resist& resist, const SpeedCurve& curve,
                                              const Environment& environment);

/// The mean dry film alone, of an even pour: microseconds, for searches and intervals (a power-law
/// liquid: milliseconds). Faults as `estimate`.
[[nodiscard]] Result<Length> dry_film(const Resist& resist, const SpeedCurve& curve,
                                      const Environment& environment);

namespace thinning {

/// The film's error that estimates are computed to, as a share of the film. The steps' own
/// tolerance; what adds up over a coat stays under 0.6 of it (tests measure it).
inline constexpr double kAccuracy = 1e-4;
/// The same where thousands are computed.
inline constexpr double kQuickAccuracy = 1e-3;
/// Of a plate whose size nobody gave [m].
inline constexpr double kUsualRadius_m = 0.05;

/// `dry_film` with everything looked up: m. Negative: no admissible film (a program fault).
/// `radius_m` matters for a power-law liquid only.
[[nodiscard]] double dry_film_m(const Label& label, std::span<const Piece> pieces, double pour_m,
                                double accuracy, double radius_m = kUsualRadius_m);

} // namespace thinning
} // namespace whirler::film
