// The workshop rule: a dried film goes as one over the square root of speed,
//   h = h_ref (n_ref/n)^(1/2) [nu E/(nu_ref E_ref)]^(1/3),
// and a liquid that does not dry thins as long as it turns, h = [3 nu/(4 omega^2 t)]^(1/2) (Emslie,
// Bonner and Peck 1958). Without a measured board the label gives
//   h = phi0 [3 nu E (1 - phi0)/(2 omega^2)]^(1/3), phi0 = S rho/rho_solids,
// E of the bare solvent at that speed (after Bornside, Macosko and Scriven 1989, from memory). The
// half power is the sum of h ~ (E/omega^2)^(1/3) and E ~ omega^(1/2), laminar air.
//
// Temperature acts twice. The vapour pressure grows about 6 % a kelvin and the viscosity falls 2 to
// 4 %, so a warm room leaves a dried film slightly thicker, about 1 % a kelvin; viscosity alone
// would have said the opposite.
//
// What the rule does not see: the ramp, the spread step, the dwell of a drying film. It is the
// first estimate, not the last.
//
// Rejected: fitting a curve through a label's own speed table. Such tables are for one plate, one
// air, one ramp; one board of the user's own says more.
#pragma once

#include "whirler/film/air.hpp"
#include "whirler/film/estimate.hpp"
#include "whirler/film/resist.hpp"
#include "whirler/units/result.hpp"

#include <optional>

namespace whirler::film {

/// A thickness that somebody measured, the speed that gave it, and the room's temperature then.
struct Known {
  Length thickness;
  Speed speed;
  std::optional<Temperature> temperature; ///< none: taken as today's
};

/// Today's air, and the time at speed, which matters only for a liquid that does not dry.
struct Conditions {
  Air air;
  std::optional<Duration> dwell;
};

// Standard deviations of the logarithm of a film's thickness.

/// From a label alone: +/-45 % (95 %). Two good laboratories differ by 14 to 27 % on one resist
/// with everything measured; evaporation halved or doubled alone is -23/+33 % [math]. A liquid that
/// does not dry is spared the evaporation, but no published scatter says by how much that narrows
/// it (a viscosity, room, ramp and gauge as well known as a careful bench knows them give 20 %):
/// the same figure stands until a board was measured.
inline constexpr double kLabelDeviation = 0.19;
/// One board against the next in one workshop: viscosity of the open bottle 5 % (1.9 % of film),
/// 1 K (1.1 %), pouring (1 %), the gauge (2 %); together 3.1 % [derived from the model's
/// sensitivities, gauge: common practice, no source].
inline constexpr double kBoardDeviation = 0.03;
/// Of the exponent: five published spin curves (NTNU NanoLab, University of Pennsylvania, two of
/// EPFL, Walsh and Franses 2003) fit 0.479 to 0.527.
inline constexpr double kExponentDeviation = 0.025;
/// Draught under `vented`, vapour under `lidded`: neither is measured.
inline constexpr double kCoverDeviation = 0.06;

/// Of a label's estimate under this cover.
[[nodiscard]] double label_deviation(bool dries, Cover cover);

/// 1/2 for a film that dries, 1 for one that does not (at a fixed time).
[[nodiscard]] double rule_exponent(bool dries);

/// How much a film is thicker today than it was at `then`, everything else equal: [nu E]^(1/3)
/// dried, nu^(1/2) otherwise. Faults as `evaporation_speed`, `check_liquid`.
[[nodiscard]] Result<double> temperature_ratio(const Resist& resist, const Air& today,
                                               Temperature then);

/// What the label alone says.
/// Faults (input): `check_liquid`'s, `check_air`'s, boiling; a speed not above 0; a liquid that
/// does not dry without a dwell; air so full of vapour that the film cannot dry.
[[nodiscard]] Result<Length> label_thickness(const Resist& resist, const Conditions& conditions,
                                             Speed speed);
/// The same with the interval of an estimate that nobody has calibrated.
[[nodiscard]] Result<Estimate> label_estimate(const Resist& resist, const Conditions& conditions,
                                              Speed speed);

/// From one known board of a film that dries, no label: the half power, and 1 % a kelvin where the
/// temperatures differ (as uncertain as it is large: the solvent is unknown).
/// Faults (input): a speed or thickness not above 0; `check_air`'s.
[[nodiscard]] Result<Estimate> known_estimate(const Known& known, const Air& today, Speed speed);

/// Published curves flatten past 4000 rpm (University of Pennsylvania's thin novolak: exponent 0.35
/// between 4000 and 6000 rpm): the factor by which the film may be thicker than a half power says.
/// 1 up to 4000 rpm and for a film that does not dry.
[[nodiscard]] double flattening(Speed speed, bool dries);

/// Time to dry at this speed from a thick layer, flow and evaporation both constant:
/// 2 pi/(3 sqrt(3)) h/E with h = (E/2K)^(1/3), the limit of Meyerhofer's thinning. Faults as
/// `label_thickness`; also for a liquid that does not dry.
[[nodiscard]] Result<Duration> drying_time(const Resist& resist, const Conditions& conditions,
                                           Speed speed);

} // namespace whirler::film
