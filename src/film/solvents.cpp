#include "whirler/film/solvents.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

namespace whirler::film {
namespace {

constexpr double kKelvin20 = 293.15;
constexpr double kKelvin25 = 298.15;

/// What labels and data sheets call the solvents of the table, bare (see below).
struct OtherName {
  std::string_view bare;
  std::string_view name;
};
constexpr std::array<OtherName, 15> kOtherNames = {{
    {"propanone", "acetone"},
    {"methoxybenzene", "anisole"},
    {"monochlorobenzene", "chlorobenzene"},
    {"ethylalcohol", "ethanol"},
    {"ethyl2hydroxypropanoate", "ethyl_lactate"},
    {"1methoxy2propanol", "methoxypropanol"},
    {"methoxy2propanol", "methoxypropanol"},
    {"pgme", "methoxypropanol"},
    {"propyleneglycolmethylether", "methoxypropanol"},
    {"propyleneglycolmonomethylether", "methoxypropanol"},
    {"1methoxy2propylacetate", "pgmea"},
    {"2methoxy1methylethylacetate", "pgmea"},
    {"propyleneglycolmethyletheracetate", "pgmea"},
    {"propyleneglycolmonomethyletheracetate", "pgmea"},
    {"methylbenzene", "toluene"},
}};

/// Letters and digits alone, in lower case, without the leading n of "n-butyl".
std::string bare(std::string_view name) {
  std::string text;
  for (const char c : name.substr(name.starts_with("n-") ? 2 : 0))
    if (std::isalnum(static_cast<unsigned char>(c)) != 0)
      text += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

/// The word that files use, for another of the solvent's names; else the name itself.
std::string_view usual_name(std::string_view name, std::string_view stripped) {
  const auto* other = std::find_if(kOtherNames.begin(), kOtherNames.end(),
                                   [&](const OtherName& o) { return o.bare == stripped; });
  return other == kOtherNames.end() ? name : other->name;
}

} // namespace

Pressure Antoine::at(Temperature temperature) const {
  return pascals(std::pow(10.0, a - b / (temperature.kelvin() + c)));
}

Temperature Antoine::where(Pressure pressure) const {
  return kelvin(b / (a - std::log10(pressure.Pa())) - c);
}

double Antoine::log_slope(Temperature temperature) const {
  const double shifted = temperature.kelvin() + c;
  return std::log(10.0) * b / (shifted * shifted);
}

Density Solvent::density(Temperature t) const {
  const double share = (t.kelvin() - kKelvin20) / (kKelvin25 - kKelvin20);
  return density_line.at_20 + share * (density_line.at_25 - density_line.at_20);
}

Viscosity Solvent::viscosity(Temperature t) const {
  const double step = 1.0 / t.kelvin() - 1.0 / kKelvin20;
  return std::exp(viscosity_line.activation.J_per_mol() / kGasConstant * step) *
         viscosity_line.at_20;
}

Diffusivity Solvent::diffusivity(Temperature t) const {
  return std::pow(t.kelvin() / kKelvin25, 1.75) * in_air_at_25;
}

SpecificEnergy Solvent::latent_heat(Temperature t) const {
  const double molar_J = kGasConstant * t.kelvin() * t.kelvin() * antoine.log_slope(t);
  return J_per_kg(molar_J / molar_mass.kg_per_mol());
}

std::string solvent_names() {
  std::string names;
  for (const Solvent& solvent : solvents())
    names += (names.empty() ? "" : ", ") + std::string(solvent.name);
  return names;
}

Result<const Solvent*> find_solvent(std::string_view name) {
  const std::string stripped = bare(name);
  const std::string_view usual = usual_name(name, stripped);
  for (const Solvent& solvent : solvents())
    if (solvent.name == usual || bare(solvent.name) == stripped)
      return &solvent;
  return input_fault("no solvent is called '" + std::string(name) + "' here", "",
                     "use one of " + solvent_names() +
                         ", or measure one board and give it as a witness");
}

Result<std::vector<SolventPart>> find_solvents(std::span<const SolventShare> shares) {
  constexpr double kSumSlack = 0.01;
  std::vector<SolventPart> parts;
  double mass = 0.0;
  double moles = 0.0;
  for (const SolventShare& share : shares) {
    const auto solvent = find_solvent(share.name);
    if (!solvent)
      return solvent.fault();
    if (!(share.mass_share > 0.0) || !std::isfinite(share.mass_share))
      return input_fault("the mass share of " + share.name + " is " + number_text(share.mass_share),
                         "", "give each solvent a share above 0");
    const double of_moles = share.mass_share / (*solvent)->molar_mass.kg_per_mol();
    parts.push_back({*solvent, share.mass_share, of_moles});
    mass += share.mass_share;
    moles += of_moles;
  }
  if (!parts.empty() && std::abs(mass - 1.0) > kSumSlack)
    return input_fault("the solvents' mass shares sum to " + number_text(mass, 4), "",
                       "make them sum to 1");
  for (SolventPart& part : parts) {
    part.mass_share /= mass;
    part.mole_share /= moles;
  }
  return parts;
}

Density mixture_density(std::span<const SolventPart> parts, Temperature t) {
  double volume = 0.0; // m3 a kilogram
  for (const SolventPart& part : parts)
    volume += part.mass_share / part.solvent->density(t).kg_per_m3();
  return kg_per_m3(1.0 / volume);
}

Viscosity mixture_viscosity(std::span<const SolventPart> parts, Temperature t) {
  double log_Pa_s = 0.0;
  for (const SolventPart& part : parts)
    log_Pa_s += part.mole_share * std::log(part.solvent->viscosity(t).Pa_s());
  return pascal_seconds(std::exp(log_Pa_s));
}

} // namespace whirler::film
