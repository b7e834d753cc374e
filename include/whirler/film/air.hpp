// The room's air, and how fast it takes solvent from a turning plate.
//
// Two ways carry vapour off: the disc's own pumping, k = a(Sc) D (omega/nu)^(1/2), and what reaches
// it in still air, D/10 mm. They add as squares, so that a plate at rest still dries and the
// estimate has no singular point at standstill (square roots of omega have one).
//
// What `Cover` does:
//   open    fresh air far from the plate;
//   vented  the same mean, but a draught of unknown strength: the interval is widened, since
//           doubling the evaporation thickens a film by a quarter to a third;
//   lidded  vapour stays in: the air far from the plate holds a tenth of saturation. A coat that
//           dries 0.03 to 0.06 mL of PGMEA in a bowl of 10 litres, which 0.28 mL would saturate,
//           reaches 10 to 20 % at its end. [common practice, no source]
// A `vapour_share` given by the caller replaces these.
//
// Rejected: a draught factor for `vented`. Nobody measures it, and a guess hidden in the middle of
// the estimate is worse than a wider interval.
#pragma once

#include "whirler/film/solvents.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <optional>
#include <span>

namespace whirler::film {

enum class Cover { open, lidded, vented };

struct Air {
  Temperature temperature = celsius(22.0);
  double humidity = 0.45; ///< relative, 0 to 1; matters for water only
  Cover cover = Cover::open;
  std::optional<double> vapour_share; ///< of saturation far from the plate, 0 to 1
};

[[nodiscard]] Outcome check_above_absolute_zero(Temperature room);

/// Fault (input): a temperature at or below absolute zero or outside -20 to 120 C, a humidity or
/// vapour share outside 0 to 1.
[[nodiscard]] Outcome check_air(const Air& air);

/// Dry air at 1 atm: ideal gas, Sutherland's viscosity and the conductivity of the U.S. Standard
/// Atmosphere 1976.
[[nodiscard]] Density air_density(Temperature t);
[[nodiscard]] Diffusivity air_kinematic_viscosity(Temperature t);
[[nodiscard]] Conductivity air_conductivity(Temperature t);
[[nodiscard]] double air_prandtl(Temperature t);

/// ln(1 + B)/(y_surface - y_far) with B = (y_surface - y_far)/(1 - y_surface): what the vapour's
/// own outward wind adds (Stefan). 1 for thin vapour, 1.19 for acetone at 25 C. Mole fractions.
[[nodiscard]] double stefan_factor(double y_surface, double y_far);

/// Gas-side mass transfer coefficient k of one solvent [m/s], pumping and still air together.
[[nodiscard]] Velocity transfer_coefficient(const Solvent& solvent, Speed speed, Temperature air);

/// The same for heat.
[[nodiscard]] HeatTransfer heat_coefficient(Speed speed, Temperature air);

/// Pressure of a solvent's vapour far from the plate.
[[nodiscard]] Pressure far_pressure(const Solvent& solvent, const Air& air);

/// Liquid that leaves a wet surface a second, as a speed of the surface; each solvent by its mole
/// share (Raoult). `film` is the surface's temperature. Negative when vapour condenses.
/// Fault (input): check_air's; a solvent that boils at the film's temperature.
[[nodiscard]] Result<Velocity> evaporation_speed(std::span<const SolventPart> parts, Speed speed,
                                                 const Air& air, Temperature film);
/// With the film as warm as the air: a plate is near isothermal.
[[nodiscard]] Result<Velocity> evaporation_speed(std::span<const SolventPart> parts, Speed speed,
                                                 const Air& air);

/// The temperature at which the heat that `faces` of the plate draw from the air feeds the
/// evaporation: the wet bulb for one face and no heat stored.
[[nodiscard]] Result<Temperature> settled_temperature(std::span<const SolventPart> parts,
                                                      Speed speed, const Air& air,
                                                      double faces = 1.0);

/// Liquid solvent whose vapour saturates a closed bowl.
[[nodiscard]] Volume saturating_volume(const Solvent& solvent, Volume bowl, Temperature t);

} // namespace whirler::film
