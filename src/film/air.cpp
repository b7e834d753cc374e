#include "whirler/film/air.hpp"

#include "whirler/film/disc_transfer.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film {
namespace {

constexpr double kAirMolarMass = 28.9647e-3; // kg/mol
constexpr double kAirHeat = 1006.0;          // J/(kg K)
constexpr double kLiddedShare = 0.10;        // of saturation; see the header
// Thickness of the still layer over a plate at rest. [common practice, no source]: it gives water
// in a room about 0.1 mm an hour.
constexpr double kStillLayer_m = 0.010;

constexpr double kColdest_C = -20.0;
constexpr double kWarmest_C = 120.0;

double pumping(Speed speed, Temperature air) { // (omega/nu)^(1/2) [1/m]
  return std::sqrt(std::abs(speed.rad_per_s()) / air_kinematic_viscosity(air).m2_per_s());
}

/// a(Sc) D (omega/nu)^(1/2) and D/layer, added as squares; D stands for a conductivity as well.
double both_ways(double number, double conducted, Speed speed, Temperature air) {
  return std::hypot(conducted / kStillLayer_m,
                    disc_transfer(number) * conducted * pumping(speed, air));
}

Outcome check_share(double share, const char* what) {
  if (share >= 0.0 && share <= 1.0)
    return Done{};
  return input_fault(std::string(what) + " is " + number_text(100.0 * share) + " %", "",
                     "give a value from 0 % to 100 %");
}

double part_speed(const SolventPart& part, Speed speed, const Air& air, Temperature film) {
  const Solvent& s = *part.solvent;
  const double surface_Pa = part.mole_share * s.vapour_pressure(film).Pa();
  // A solvent's vapour in the bowl came out of the mixture; the water in the room did not.
  const double far_share = s.name == "water" ? 1.0 : part.mole_share;
  const double far_Pa = far_share * far_pressure(s, air).Pa();
  const double k = transfer_coefficient(s, speed, air.temperature).m_per_s();
  const double stefan = stefan_factor(surface_Pa / kAtmosphere.Pa(), far_Pa / kAtmosphere.Pa());
  return k * stefan * s.molar_mass.kg_per_mol() * (surface_Pa - far_Pa) /
         (s.density(film).kg_per_m3() * kGasConstant * film.kelvin());
}

double pressure_Pa(std::span<const SolventPart> parts, Temperature film) {
  double total_Pa = 0.0;
  for (const SolventPart& part : parts)
    total_Pa += part.mole_share * part.solvent->vapour_pressure(film).Pa();
  return total_Pa;
}

/// Where the pressure reaches that of the air, below a temperature at which it has.
Temperature boiling_point(std::span<const SolventPart> parts, Temperature above) {
  double calm_K = 200.0;
  double boiling_K = above.kelvin();
  for (int i = 0; i < 40; ++i) {
    const double middle_K = 0.5 * (calm_K + boiling_K);
    const bool boils = pressure_Pa(parts, kelvin(middle_K)) >= kAtmosphere.Pa();
    (boils ? boiling_K : calm_K) = middle_K;
  }
  return kelvin(boiling_K);
}

Outcome check_boiling(std::span<const SolventPart> parts, Temperature film) {
  if (pressure_Pa(parts, film) < kAtmosphere.Pa())
    return Done{};
  std::string names;
  for (const SolventPart& part : parts)
    names += (names.empty() ? "" : " and ") + std::string(part.solvent->title);
  return input_fault("at " + number_text(film.celsius()) + " C the liquid boils (" + names + ")",
                     "",
                     "give the temperature of the room and of the bottle, below " +
                         number_text(boiling_point(parts, film).celsius()) + " C");
}

} // namespace

Outcome check_above_absolute_zero(Temperature room) {
  if (room.kelvin() > 0.0)
    return Done{};
  return input_fault("a temperature of " + number_text(room.celsius()) +
                         " C is not above absolute zero",
                     "", "give the temperature of the room, as 22C");
}

Outcome check_air(const Air& air) {
  const Temperature t = air.temperature;
  if (auto warm = check_above_absolute_zero(t); !warm)
    return warm;
  if (!(t.celsius() >= kColdest_C && t.celsius() <= kWarmest_C))
    return input_fault("a room of " + number_text(t.celsius()) + " C is outside the solvent data",
                       "",
                       "give a temperature from " + number_text(kColdest_C) + "C to " +
                           number_text(kWarmest_C) + "C");
  if (auto humidity = check_share(air.humidity, "the humidity"); !humidity)
    return humidity;
  return check_share(air.vapour_share.value_or(0.0), "the share of vapour in the air");
}

Density air_density(Temperature t) {
  return kg_per_m3(kAtmosphere.Pa() * kAirMolarMass / (kGasConstant * t.kelvin()));
}

Diffusivity air_kinematic_viscosity(Temperature t) {
  const double k = t.kelvin();
  const double dynamic_Pa_s = 1.458e-6 * k * std::sqrt(k) / (k + 110.4);
  return m2_per_s(dynamic_Pa_s / air_density(t).kg_per_m3());
}

Conductivity air_conductivity(Temperature t) {
  const double k = t.kelvin();
  return W_per_m_K(2.64638e-3 * k * std::sqrt(k) / (k + 245.4 * std::pow(10.0, -12.0 / k)));
}

double air_prandtl(Temperature t) {
  const double dynamic_Pa_s = air_kinematic_viscosity(t).m2_per_s() * air_density(t).kg_per_m3();
  return kAirHeat * dynamic_Pa_s / air_conductivity(t).W_per_m_K();
}

double stefan_factor(double y_surface, double y_far) {
  const double difference = y_surface - y_far;
  const double b = difference / (1.0 - y_surface);
  return std::abs(b) < 1e-9 ? 1.0 / (1.0 - y_surface) : std::log1p(b) / difference;
}

Velocity transfer_coefficient(const Solvent& solvent, Speed speed, Temperature air) {
  const double d = solvent.diffusivity(air).m2_per_s();
  return metres_per_s(both_ways(air_kinematic_viscosity(air).m2_per_s() / d, d, speed, air));
}

HeatTransfer heat_coefficient(Speed speed, Temperature air) {
  return W_per_m2_K(both_ways(air_prandtl(air), air_conductivity(air).W_per_m_K(), speed, air));
}

Pressure far_pressure(const Solvent& solvent, const Air& air) {
  const double by_cover = air.cover == Cover::lidded ? kLiddedShare : 0.0;
  double share = air.vapour_share.value_or(by_cover);
  if (solvent.name == "water")
    share = std::max(share, air.humidity);
  return share * solvent.vapour_pressure(air.temperature);
}

Result<Velocity> evaporation_speed(std::span<const SolventPart> parts, Speed speed, const Air& air,
                                   Temperature film) {
  if (auto checked = check_air(air); !checked)
    return checked.fault();
  if (auto liquid = check_boiling(parts, film); !liquid)
    return liquid.fault();
  double total_m_per_s = 0.0;
  for (const SolventPart& part : parts)
    total_m_per_s += part_speed(part, speed, air, film);
  return metres_per_s(total_m_per_s);
}

Result<Velocity> evaporation_speed(std::span<const SolventPart> parts, Speed speed,
                                   const Air& air) {
  return evaporation_speed(parts, speed, air, air.temperature);
}

Result<Temperature> settled_temperature(std::span<const SolventPart> parts, Speed speed,
                                        const Air& air, double faces) {
  constexpr double kDeepest_K = 60.0; // no liquid of the table cools itself further
  constexpr int kHalvings = 50;
  if (auto whole = evaporation_speed(parts, speed, air); !whole)
    return whole.fault();
  const double h = faces * heat_coefficient(speed, air.temperature).W_per_m2_K();
  const auto feeds = [&](double film_K) { // heat drawn is at least the heat that evaporation takes
    double taken = 0.0;
    for (const SolventPart& part : parts)
      taken += part_speed(part, speed, air, kelvin(film_K)) *
               part.solvent->density(kelvin(film_K)).kg_per_m3() *
               part.solvent->latent_heat(kelvin(film_K)).J_per_kg();
    return h * (air.temperature.kelvin() - film_K) >= taken;
  };
  double cold = air.temperature.kelvin() - kDeepest_K;
  double warm = air.temperature.kelvin();
  for (int i = 0; i < kHalvings; ++i) {
    const double middle = 0.5 * (cold + warm);
    (feeds(middle) ? cold : warm) = middle;
  }
  return kelvin(0.5 * (cold + warm));
}

Volume saturating_volume(const Solvent& solvent, Volume bowl, Temperature t) {
  const double moles = solvent.vapour_pressure(t).Pa() * bowl.m3() / (kGasConstant * t.kelvin());
  return cubic_metres(moles * solvent.molar_mass.kg_per_mol() / solvent.density(t).kg_per_m3());
}

} // namespace whirler::film
