// What the solvents' vapour can do, in words for the person at the bench: flash point, lower
// flammable limit, and how little liquid brings the closed bowl to that limit.
//
// The volume is the figure that surprises: 0.76 mL of acetone in ten litres. It is computed as
// ideal gas at 1 atm, all of it evaporated and mixed; a cloud near the plate is richer, so the
// volume is no safe amount and no text here calls it one.
//
// Rejected: a verdict "safe". A program that knows neither the room's air nor the wiring can only
// caution and point to the safety data sheet.
#pragma once

#include "whirler/film/resist.hpp"
#include "whirler/film/solvents.hpp"
#include "whirler/units/result.hpp"

#include <string>
#include <vector>

namespace whirler::film {

/// What the cautions depend on besides the liquid.
struct Surroundings {
  Temperature temperature = celsius(22.0);
  Volume bowl = litres(10.0); ///< the spinner's enclosure; 10 L where nobody measured it
  bool brushed_motor = false;
};

/// One solvent's vapour in the bowl.
struct VapourLimit {
  const Solvent* solvent = nullptr;
  Volume to_limit;              ///< liquid whose vapour brings the bowl to the limit
  double saturated_share = 0.0; ///< of the air, by volume, over the liquid at this temperature
  bool above_flash_point = false;
};

/// For each solvent that burns. Faults: `find_solvents`', a bowl not above 0, a temperature not
/// above absolute zero.
[[nodiscard]] Result<std::vector<VapourLimit>> vapour_limits(const Resist& resist,
                                                             const Surroundings& around);

/// The cautions to print with every plan, most urgent first. A liquid whose solvents cannot burn
/// has one too: what cleans it off usually does. Faults as `vapour_limits`.
[[nodiscard]] Result<std::vector<std::string>> vapour_cautions(const Resist& resist,
                                                               const Surroundings& around);

/// The cautions where the liquid's solvent is not known.
[[nodiscard]] std::vector<std::string> unknown_vapour_cautions(const Surroundings& around);

} // namespace whirler::film
