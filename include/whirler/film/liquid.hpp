// What the label of a bottle says about the liquid at today's temperature.
#pragma once

#include "whirler/film/resist.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

namespace whirler::film {

/// Whether the label describes a liquid at all.
/// Fault (input): viscosity or a density that is not above 0, solids outside 0 to 1, solids of 1
/// with a solvent or under 1 without one, a label's temperature not above absolute zero, a
/// solvent that is not in the table, a solids volume of 1 or more.
[[nodiscard]] Outcome check_liquid(const Resist& resist);

/// The label's, else a guess from the viscosity: 20 kJ/mol for a thin resist (25 mPa s) and 7.5
/// more a decade, within 10 to 60; epoxy and novolak resists lie there. [common practice, no
/// source]
[[nodiscard]] MolarEnergy activation_energy(const Resist& resist);

/// The bottle's viscosity at `t`, Arrhenius from the label's.
[[nodiscard]] Viscosity viscosity_at(const Resist& resist, Temperature t);

/// Share of the bottle's volume that stays as dry film: S rho / rho_solids; 1 for a liquid that
/// does not dry.
[[nodiscard]] double solids_volume_share(const Resist& resist);

} // namespace whirler::film
