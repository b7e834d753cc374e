// A coating liquid as its label, and its user's own measured boards, describe it.
#pragma once

#include "whirler/units/quantities.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::film {

/// One solvent of a mixture; `mass_share` is its share of the solvents' mass, 0 to 1, summing to 1.
struct SolventShare {
  std::string name; ///< a name of the built-in solvent table
  double mass_share = 1.0;
};

/// A board that was coated at a speed and measured.
struct Witness {
  Speed speed;
  Length thickness;
};

/// Shear stress = kappa * rate^n. `kappa_Pa_sn` in Pa s^n, `n` dimensionless.
struct PowerLaw {
  double n = 1.0;
  double kappa_Pa_sn = 0.0;
};

struct Resist {
  std::string name;
  Viscosity viscosity;
  Temperature viscosity_at = celsius(25.0);
  Density density;
  double solids_mass_fraction = 1.0; ///< 0 to 1; exactly 1 together with no solvent: does not dry
  Density solids_density;
  std::vector<SolventShare> solvents; ///< empty: a liquid that does not dry
  std::optional<MolarEnergy> activation_energy;
  std::optional<double> chi;      ///< Flory-Huggins interaction of solids and solvent
  std::optional<double> martin_k; ///< k_M of the Martin viscosity form
  std::optional<PowerLaw> power_law;
  std::vector<Witness> witnesses;

  [[nodiscard]] bool dries() const { return !solvents.empty(); }
};

} // namespace whirler::film
