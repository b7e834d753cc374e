#include "whirler/film/closures_label.hpp"

#include "whirler/film/disc_transfer.hpp"
#include "whirler/film/liquid.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::film::thinning {
namespace {

constexpr double kChi = 0.4;          // where the label has none
constexpr double kMartin = 0.4;       // where the label has none
constexpr double kThinnest = 1.25;    // bottle over solvent; see the header
constexpr double kSolidsHeat = 1.5e3; // J/(kg K)
constexpr double kDensityDoubt = 0.05;
constexpr double kWindFrom = 0.01; // mole share of vapour from which Stefan's logarithm is taken

double square(double x) { return x * x; }

double mixture_kg_m3(const Label& label, Temperature t) {
  double density = 0.0;
  for (std::size_t i = 0; i < label.count; ++i)
    density += label.solvents[i].volume_share * label.solvents[i].solvent->density(t).kg_per_m3();
  return density;
}

void look_up(Label& label, const std::vector<SolventPart>& parts) {
  const Temperature room = label.air.temperature;
  label.count = parts.size();
  double volume = 0.0;
  for (const SolventPart& part : parts)
    volume += part.mass_share / part.solvent->density(room).kg_per_m3();
  for (std::size_t i = 0; i < parts.size(); ++i) {
    const Solvent& s = *parts[i].solvent;
    const double d = s.diffusivity(room).m2_per_s();
    label.solvents[i] = {&s, parts[i].mass_share / s.density(room).kg_per_m3() / volume,
                         parts[i].mole_share,
                         transfer_coefficient(s, rad_per_s(0.0), room).m_per_s() / d,
                         disc_transfer(air_kinematic_viscosity(room).m2_per_s() / d)};
  }
  label.heat_still_m =
      heat_coefficient(rad_per_s(0.0), room).W_per_m2_K() / air_conductivity(room).W_per_m_K();
  label.heat_number = disc_transfer(air_prandtl(room));
}

Outcome read_power_law(const Resist& resist, Label& label) {
  if (!resist.power_law)
    return Done{};
  const PowerLaw& law = *resist.power_law;
  if (!(law.n > 0.0 && law.n <= 3.0) || !(law.kappa_Pa_sn > 0.0) || !std::isfinite(law.kappa_Pa_sn))
    return input_fault("the power law has n " + number_text(law.n) + " and kappa " +
                           number_text(law.kappa_Pa_sn) + " Pa s^n",
                       "", "give an n from above 0 to 3 and a kappa above 0");
  if (std::abs(law.n - 1.0) < 1e-6)
    label.viscosity_Pa_s = law.kappa_Pa_sn;
  else
    label.power = law;
  return Done{};
}

Outcome check_plate(const PlateHeat& plate) {
  if (!(plate.capacity.J_per_m2_K() > 0.0) || !plate.capacity.is_finite())
    return input_fault("the plate stores no heat", "",
                       "give its heat capacity, about 3 kJ/(m2 K) for a 1.6 mm board");
  if (!(plate.faces > 0.0 && plate.faces <= 2.0))
    return input_fault("the air cools " + number_text(plate.faces) + " faces of the plate", "",
                       "give 2, or 1 where the back is covered");
  return Done{};
}

} // namespace

Result<Label> read_label(const Resist& resist, const Air& air, const PlateHeat& plate) {
  if (auto checked = check_liquid(resist); !checked)
    return checked.fault();
  if (auto checked = check_air(air); !checked)
    return checked.fault();
  if (auto checked = check_plate(plate); !checked)
    return checked.fault();
  Label label;
  label.viscosity_Pa_s = resist.viscosity.Pa_s();
  label.viscosity_K = resist.viscosity_at.kelvin();
  label.solids_mass = resist.solids_mass_fraction;
  if (auto flow = read_power_law(resist, label); !flow)
    return flow.fault();
  label.solids_kg_m3 = resist.solids_density.kg_per_m3();
  label.density_kg_m3 = resist.density.kg_per_m3();
  label.chi = resist.chi.value_or(kChi);
  label.martin_k = resist.martin_k.value_or(kMartin);
  label.arrhenius_K = activation_energy(resist).J_per_mol() / kGasConstant;
  label.air = air;
  label.plate = plate;
  if (!resist.dries())
    return label;
  auto parts = find_solvents(resist.solvents);
  if (!parts)
    return parts.fault();
  if (parts->size() > kMostSolvents)
    return input_fault("the liquid has " + std::to_string(parts->size()) + " solvents", "",
                       "put those that dry alike together: up to four are followed");
  if (auto boiling = evaporation_speed(*parts, rpm(1000), air); !boiling)
    return boiling.fault();
  look_up(label, *parts);
  return label;
}

std::vector<std::string> label_warnings(const Resist& resist, const Label& label) {
  std::vector<std::string> warnings;
  if (label.count == 0)
    return warnings;
  const double mixed =
      1.0 / (label.solids_mass / label.solids_kg_m3 +
             (1.0 - label.solids_mass) / mixture_kg_m3(label, resist.viscosity_at));
  if (std::abs(label.density_kg_m3 / mixed - 1.0) > kDensityDoubt)
    warnings.push_back("the label's density, " + number_text(label.density_kg_m3 / 1e3) +
                       " g/cm3, is not what its solids and solvent make, " +
                       number_text(mixed / 1e3) + " g/cm3: the solids are believed");
  const auto parts = find_solvents(resist.solvents);
  if (parts) {
    const double solvent = mixture_viscosity(*parts, resist.viscosity_at).Pa_s();
    if (label.viscosity_Pa_s < kThinnest * solvent)
      warnings.push_back("the label's viscosity, " + number_text(label.viscosity_Pa_s * 1e3) +
                         " mPa s, is hardly more than its solvent's, " +
                         number_text(solvent * 1e3) + " mPa s: check it");
  }
  return warnings;
}

double martin_b(double ratio, double k) {
  // B exp(k B) = ratio - 1, by Newton on its logarithm: concave, so it converges from any side.
  const double target = ratio - 1.0;
  if (!(target > 0.0))
    return 0.0;
  double b = k > 0.0 ? std::log1p(k * target) / k : target;
  for (int i = 0; i < 30; ++i) {
    const double step = (std::log(b / target) + k * b) / (1.0 / b + k);
    b = std::max(b - step, 0.1 * b);
    if (std::abs(step) < 1e-14 * b)
      break;
  }
  return b;
}

namespace {

SolventLaw law_of(const Label& label, std::size_t i) {
  const LabelSolvent& part = label.solvents[i];
  const Solvent& s = *part.solvent;
  const Temperature room = label.air.temperature;
  const double d = s.diffusivity(room).m2_per_s();
  SolventLaw law;
  law.gas =
      s.molar_mass.kg_per_mol() / (s.density(room).kg_per_m3() * kGasConstant * room.kelvin());
  law.still2 = square(part.still_m * d);
  law.pumped2 = square(part.number * d) / air_kinematic_viscosity(room).m2_per_s();
  law.antoine_a = s.antoine.a * std::numbers::ln10;
  law.antoine_b = s.antoine.b * std::numbers::ln10;
  law.antoine_c = s.antoine.c;
  const bool water = s.name == "water";
  law.far_Pa = (water ? 1.0 : part.volume_share) * far_pressure(s, label.air).Pa();
  return law;
}

double solvent_viscosity_Pa_s(const Label& label) {
  double logarithm = 0.0; // as mixture_viscosity does
  for (std::size_t i = 0; i < label.count; ++i)
    logarithm += label.solvents[i].mole_share *
                 std::log(label.solvents[i].solvent->viscosity(kelvin(label.viscosity_K)).Pa_s());
  return std::min(std::exp(logarithm), label.viscosity_Pa_s / kThinnest);
}

template <std::size_t N>
HeatStore<N> store_of(const Label& label) {
  HeatStore<N> store;
  store.plate = label.plate.capacity.J_per_m2_K();
  store.solids = label.solids_kg_m3 * kSolidsHeat;
  store.air_K = label.air.temperature.kelvin();
  for (std::size_t i = 0; i < N; ++i) {
    const Solvent& s = *label.solvents[i].solvent;
    const double density = s.density(label.air.temperature).kg_per_m3();
    store.solvent[i] = density * s.specific_heat.J_per_kg_K();
    store.latent[i] = density * s.latent_heat(label.air.temperature).J_per_kg();
  }
  return store;
}

} // namespace

double thinnest_Pa_s(const Label& label) {
  constexpr double kThinOil = 1e-3; // [common practice, no source]
  return label.count > 0 ? solvent_viscosity_Pa_s(label) : kThinOil;
}

template <std::size_t N>
DryingClosures<N> drying_closures(const Label& label) {
  const Temperature room = label.air.temperature;
  DryingClosures<N> c;
  c.density_solids = label.solids_kg_m3;
  c.density_solvent = mixture_kg_m3(label, room);
  const double solids = label.solids_mass / label.solids_kg_m3;
  c.start_phi = solids / (solids + (1.0 - label.solids_mass) / c.density_solvent);
  const double solvent_Pa_s = solvent_viscosity_Pa_s(label);
  c.base_mobility = 1.0 / (3.0 * solvent_Pa_s);
  c.martin_k = label.martin_k;
  c.martin_b = martin_b(label.viscosity_Pa_s / solvent_Pa_s, label.martin_k) / c.start_phi;
  c.chi = label.chi;
  c.arrhenius_K = label.arrhenius_K;
  c.label_K = label.viscosity_K;
  const double lambda = label.plate.faces * air_conductivity(room).W_per_m_K();
  c.heat_still2 = square(label.heat_still_m * lambda);
  c.heat_pumped2 = square(label.heat_number * lambda) / air_kinematic_viscosity(room).m2_per_s();
  double share_at_surface = 0.0;
  for (std::size_t i = 0; i < N; ++i) {
    c.solvent[i] = law_of(label, i);
    c.share[i] = label.solvents[i].volume_share;
    c.far_mole_share += c.solvent[i].far_Pa / kAtmosphere.Pa();
    share_at_surface += label.solvents[i].volume_share *
                        (label.solvents[i].solvent->vapour_pressure(room) / kAtmosphere);
  }
  c.stefan = share_at_surface > kWindFrom;
  c.store = store_of<N>(label);
  return c;
}

template DryingClosures<1> drying_closures<1>(const Label&);
template DryingClosures<2> drying_closures<2>(const Label&);
template DryingClosures<3> drying_closures<3>(const Label&);
template DryingClosures<4> drying_closures<4>(const Label&);

WetClosures wet_closures(const Label& label) {
  WetClosures c;
  const double room_K = label.air.temperature.kelvin();
  const double thinned = std::exp(-label.arrhenius_K * (1.0 / room_K - 1.0 / label.viscosity_K));
  c.base_mobility = label.density_kg_m3 / (3.0 * label.viscosity_Pa_s) * thinned;
  c.store.air_K = room_K;
  return c;
}

} // namespace whirler::film::thinning
