#include "whirler/film/liquid.hpp"

#include "whirler/film/solvents.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <string>

namespace whirler::film {
namespace {

Outcome check_above_zero(double value, const char* what, const char* unit) {
  if (value > 0.0 && std::isfinite(value))
    return Done{};
  return input_fault(std::string(what) + " is " + number_text(value) + " " + unit, "",
                     "give the value from the bottle's label, above 0");
}

Outcome check_solids(const Resist& resist) {
  const double solids = resist.solids_mass_fraction;
  if (!(solids > 0.0 && solids <= 1.0))
    return input_fault("the solids are " + number_text(solids) + " of the mass", "",
                       "give a fraction above 0, up to 1");
  if (resist.dries() && solids == 1.0)
    return input_fault(
        "the solids are all of the mass, and yet there is a solvent", "",
        "lower the solids, or set the solvent to null for a liquid that does not dry");
  if (!resist.dries() && solids < 1.0)
    return input_fault(
        "the solids are " + number_text(solids) + " of the mass, and yet there is no solvent", "",
        "name the solvent, or set the solids to 1 for a liquid that does not dry");
  return Done{};
}

} // namespace

Outcome check_liquid(const Resist& resist) {
  if (auto ok = check_above_zero(resist.viscosity.mPa_s(), "the viscosity", "mPa s"); !ok)
    return ok;
  if (auto ok = check_above_zero(resist.density.g_per_cm3(), "the density", "g/cm3"); !ok)
    return ok;
  if (auto ok = check_above_zero(resist.viscosity_at.kelvin(), "the label's temperature", "K"); !ok)
    return ok;
  if (auto ok = check_solids(resist); !ok || !resist.dries())
    return ok;
  if (auto ok = check_above_zero(resist.solids_density.g_per_cm3(), "the solids' density", "g/cm3");
      !ok)
    return ok;
  if (auto known = find_solvents(resist.solvents); !known)
    return known.fault();
  const double share = solids_volume_share(resist);
  if (share < 1.0)
    return Done{};
  return input_fault("the solids would fill " + number_text(100.0 * share) + " % of the liquid", "",
                     "check the solids, the density and the solids' density");
}

MolarEnergy activation_energy(const Resist& resist) {
  const double decades = std::log10(resist.viscosity.mPa_s() / 25.0);
  return resist.activation_energy.value_or(
      kJ_per_mol(std::clamp(20.0 + 7.5 * decades, 10.0, 60.0)));
}

Viscosity viscosity_at(const Resist& resist, Temperature t) {
  const double step = 1.0 / t.kelvin() - 1.0 / resist.viscosity_at.kelvin();
  return std::exp(activation_energy(resist).J_per_mol() / kGasConstant * step) * resist.viscosity;
}

double solids_volume_share(const Resist& resist) {
  if (!resist.dries())
    return 1.0;
  return resist.solids_mass_fraction * (resist.density / resist.solids_density);
}

} // namespace whirler::film
