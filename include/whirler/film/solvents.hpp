// The solvents that coating liquids are made of, as data: what drives drying (vapour pressure,
// diffusivity in air, latent heat), what the film flows with (density, viscosity), and what can
// burn (flash point, lower flammable limit).
//
// Why a table in the program and not a file: a wrong vapour pressure shifts every estimate without
// a sign of it, so each number stands here beside its source and has a test. A resist whose solvent
// is missing here can still be used by the rule from a measured board, which needs no solvent.
//
// Rejected: temperature polynomials of handbook length. Rooms are at 15 to 35 C; two handbook
// points and the physical form (linear density, Andrade viscosity, Antoine pressure) hold there to
// better than the model around them.
#pragma once

#include "whirler/film/resist.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace whirler::film {

inline constexpr double kGasConstant = 8.314462618; ///< J/(mol K), exact in the SI of 2019
inline constexpr Pressure kAtmosphere = pascals(101325.0);

/// log10(p/Pa) = a - b/(T/K + c). With c = 0 it is the Clausius form of two points.
struct Antoine {
  double a = 0.0; ///< dimensionless
  double b = 0.0; ///< K
  double c = 0.0; ///< K
  [[nodiscard]] Pressure at(Temperature temperature) const;
  /// The temperature at which this pressure is reached.
  [[nodiscard]] Temperature where(Pressure pressure) const;
  /// d ln p / dT [1/K].
  [[nodiscard]] double log_slope(Temperature temperature) const;
};

/// A property known at one temperature, with its slope or activation energy.
struct DensityLine {
  Density at_20;
  Density at_25;
};
struct ViscosityLine {
  Viscosity at_20;
  MolarEnergy activation; ///< eta = eta_20 exp[(E/R)(1/T - 1/293.15 K)], after Andrade
};

struct Solvent {
  std::string_view name;  ///< the word that files use
  std::string_view title; ///< the word that people read
  MolarMass molar_mass;
  DensityLine density_line;
  ViscosityLine viscosity_line;
  Antoine antoine;
  Diffusivity in_air_at_25; ///< at 1 atm; by Fuller's method, so it goes as T^1.75
  SpecificHeat specific_heat;
  bool burns = true;
  Temperature flash_point;           ///< closed cup; meaningless where it does not burn
  double lower_flammable_limit = 0.; ///< volume fraction of vapour in air, 0 where it cannot burn
  std::string_view source;           ///< of drying and flow properties
  std::string_view safety_source;    ///< of flash point and limit

  [[nodiscard]] Density density(Temperature t) const;
  [[nodiscard]] Viscosity viscosity(Temperature t) const;
  [[nodiscard]] Pressure vapour_pressure(Temperature t) const { return antoine.at(t); }
  /// In air at 1 atm.
  [[nodiscard]] Diffusivity diffusivity(Temperature t) const;
  /// From the slope of the Antoine line by Clausius and Clapeyron, ideal vapour.
  [[nodiscard]] SpecificEnergy latent_heat(Temperature t) const;
  /// At 1 atm.
  [[nodiscard]] Temperature boiling_point() const { return antoine.where(kAtmosphere); }
};

/// Every solvent that the program knows.
[[nodiscard]] std::span<const Solvent> solvents();

/// "acetone, anisole, ...": the names that a file may use.
[[nodiscard]] std::string solvent_names();

/// By the name that files use, or another that labels use ("n-butyl acetate", "PGME"); case,
/// spaces and hyphens do not matter. Fault (input): unknown; `next` lists the names.
[[nodiscard]] Result<const Solvent*> find_solvent(std::string_view name);

/// One solvent of a mixture with its share of the solvents' mass; the shares sum to one exactly.
struct SolventPart {
  const Solvent* solvent = nullptr;
  double mass_share = 1.0;
  double mole_share = 1.0; ///< Raoult's share: of the solvents' moles
};

/// The solvents of a resist, shares normalised. Empty for a liquid that does not dry.
/// Fault (input): an unknown name, a share that is not above 0, shares that miss 1 by over 1 %.
[[nodiscard]] Result<std::vector<SolventPart>> find_solvents(std::span<const SolventShare> shares);

/// Density of a mixture whose volumes add.
[[nodiscard]] Density mixture_density(std::span<const SolventPart> parts, Temperature t);

/// Viscosity of a mixture: logarithms weighted by mole share (Arrhenius' rule of 1887).
[[nodiscard]] Viscosity mixture_viscosity(std::span<const SolventPart> parts, Temperature t);

} // namespace whirler::film
