#include "whirler/film/rule.hpp"

#include "whirler/film/liquid.hpp"
#include "whirler/units/text.hpp"

#include <cmath>
#include <numbers>

namespace whirler::film {
namespace {

constexpr double kPerKelvin = 0.01; // of a dried film whose solvent nobody named
constexpr Speed kFlatFrom = rpm(4000.0);
constexpr double kFlatExponent = 0.15; // 0.50 less the 0.35 seen past it

Outcome check_speed(Speed speed) {
  if (speed.rpm() > 0.0 && speed.is_finite())
    return Done{};
  return input_fault("a speed of " + number_text(speed.rpm()) + " rpm makes no film", "",
                     "give a speed above 0");
}

Outcome check_inputs(const Resist& resist, const Conditions& conditions, Speed speed) {
  if (auto liquid = check_liquid(resist); !liquid)
    return liquid;
  if (auto air = check_air(conditions.air); !air)
    return air;
  return check_speed(speed);
}

Result<Velocity> label_evaporation(const Resist& resist, const Air& air, Speed speed) {
  const auto parts = find_solvents(resist.solvents);
  if (!parts)
    return parts.fault();
  const auto leaving = evaporation_speed(*parts, speed, air);
  if (!leaving || leaving->m_per_s() > 0.0)
    return leaving;
  return input_fault("the air is so full of vapour that the film cannot dry", "",
                     "lower the humidity or air the bowl");
}

double kinematic_m2_per_s(const Resist& resist, Temperature t) {
  return viscosity_at(resist, t).Pa_s() / resist.density.kg_per_m3();
}

Result<Length> wet_thickness(const Resist& resist, const Conditions& conditions, Speed speed) {
  if (!conditions.dwell)
    return input_fault("this liquid does not dry: it thins as long as it turns", "",
                       "give the time at speed, as --dwell 45s");
  if (!(conditions.dwell->s() > 0.0))
    return input_fault("a dwell of " + number_text(conditions.dwell->s()) + " s", "",
                       "give a time above 0");
  const double nu = kinematic_m2_per_s(resist, conditions.air.temperature);
  const double w = speed.rad_per_s();
  return metres(std::sqrt(3.0 * nu / (4.0 * w * w * conditions.dwell->s())));
}

} // namespace

double label_deviation(bool dries, Cover cover) {
  const bool feels_cover = dries && cover != Cover::open;
  return std::hypot(kLabelDeviation, feels_cover ? kCoverDeviation : 0.0);
}

double rule_exponent(bool dries) { return dries ? 0.5 : 1.0; }

Result<double> temperature_ratio(const Resist& resist, const Air& today, Temperature then) {
  constexpr Speed kAnySpeed = rpm(3000.0); // the ratio hardly depends on it
  Air before = today;
  before.temperature = then;
  if (auto air = check_air(before); !air)
    return air.fault();
  if (auto checked = check_inputs(resist, {today, {}}, kAnySpeed); !checked)
    return checked.fault();
  const double nu =
      kinematic_m2_per_s(resist, today.temperature) / kinematic_m2_per_s(resist, then);
  if (!resist.dries())
    return std::sqrt(nu);
  const auto now = label_evaporation(resist, today, kAnySpeed);
  if (!now)
    return now.fault();
  const auto earlier = label_evaporation(resist, before, kAnySpeed);
  if (!earlier)
    return earlier.fault();
  return std::cbrt(nu * (*now / *earlier));
}

Result<Length> label_thickness(const Resist& resist, const Conditions& conditions, Speed speed) {
  if (auto checked = check_inputs(resist, conditions, speed); !checked)
    return checked.fault();
  if (!resist.dries())
    return wet_thickness(resist, conditions, speed);
  const auto leaving = label_evaporation(resist, conditions.air, speed);
  if (!leaving)
    return leaving.fault();
  const double phi = solids_volume_share(resist);
  const double w = speed.rad_per_s();
  const double nu = kinematic_m2_per_s(resist, conditions.air.temperature);
  return metres(phi * std::cbrt(1.5 * nu * leaving->m_per_s() * (1.0 - phi) / (w * w)));
}

Result<Estimate> label_estimate(const Resist& resist, const Conditions& conditions, Speed speed) {
  const auto middle = label_thickness(resist, conditions, speed);
  if (!middle)
    return middle.fault();
  const double deviation = label_deviation(resist.dries(), conditions.air.cover);
  return estimate(*middle, deviation, flattening(speed, resist.dries()));
}

Result<Estimate> known_estimate(const Known& known, const Air& today, Speed speed) {
  for (const Speed given : {known.speed, speed})
    if (auto checked = check_speed(given); !checked)
      return checked.fault();
  if (!(known.thickness.um() > 0.0) || !known.thickness.is_finite())
    return input_fault("the known film is " + number_text(known.thickness.um()) + " um", "",
                       "give a thickness above 0, as 1.62um@3000rpm");
  Air before = today;
  before.temperature = known.temperature.value_or(today.temperature);
  for (const Air& air : {today, before})
    if (auto checked = check_air(air); !checked)
      return checked.fault();
  const double warmer_K = today.temperature.kelvin() - before.temperature.kelvin();
  const double warmth = kPerKelvin * warmer_K;
  const double reach = std::log(speed / known.speed);
  const double middle = std::exp(-rule_exponent(true) * reach + warmth);
  // The known board and the next one each carry a board's scatter.
  const double deviation = std::hypot(std::hypot(kBoardDeviation, kBoardDeviation),
                                      std::hypot(kExponentDeviation * reach, warmth));
  const double lean = flattening(speed, true) / flattening(known.speed, true);
  return estimate(middle * known.thickness, deviation, lean);
}

double flattening(Speed speed, bool dries) {
  if (!dries || speed <= kFlatFrom)
    return 1.0;
  return std::pow(speed / kFlatFrom, kFlatExponent);
}

Result<Duration> drying_time(const Resist& resist, const Conditions& conditions, Speed speed) {
  if (auto checked = check_inputs(resist, conditions, speed); !checked)
    return checked.fault();
  if (!resist.dries())
    return input_fault("this liquid does not dry", "", "choose its dwell by the film wanted");
  const auto leaving = label_evaporation(resist, conditions.air, speed);
  if (!leaving)
    return leaving.fault();
  const double w = speed.rad_per_s();
  const double flow = w * w / (3.0 * kinematic_m2_per_s(resist, conditions.air.temperature)); // K
  const double layer_m = std::cbrt(leaving->m_per_s() / (2.0 * flow));
  constexpr double kFromThick = 2.0 * std::numbers::pi / (3.0 * std::numbers::sqrt3);
  return seconds(kFromThick * layer_m / leaving->m_per_s());
}

} // namespace whirler::film
