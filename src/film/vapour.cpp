#include "whirler/film/vapour.hpp"

#include "whirler/film/air.hpp"
#include "whirler/units/text.hpp"

namespace whirler::film {
namespace {

constexpr const char* kBrushed =
    "Brushed motor: it sparks. Keep vapour away from it, or use a motor without brushes.";
constexpr const char* kNothingBurns =
    "Nothing named here gives off vapour that burns. What thins it, or cleans bowl and plate, may: "
    "keep that closed and away while the motor turns.";
constexpr const char* kDefer =
    "Extract the air, no flames or sparks; the safety data sheet and local rules decide.";

VapourLimit limit_of(const Solvent& solvent, const Surroundings& around) {
  const Temperature t = around.temperature;
  const double molar_m3 = kGasConstant * t.kelvin() / kAtmosphere.Pa();
  const double moles = solvent.lower_flammable_limit * around.bowl.m3() / molar_m3;
  VapourLimit limit;
  limit.solvent = &solvent;
  limit.to_limit =
      cubic_metres(moles * solvent.molar_mass.kg_per_mol() / solvent.density(t).kg_per_m3());
  limit.saturated_share = solvent.vapour_pressure(t) / kAtmosphere;
  limit.above_flash_point = t >= solvent.flash_point;
  return limit;
}

std::string limit_text(const VapourLimit& limit) {
  const Solvent& s = *limit.solvent;
  return std::string(s.title) + ": flash point " + number_text(s.flash_point.celsius()) +
         " C, lower flammable limit " + number_text(100.0 * s.lower_flammable_limit) + " % in air.";
}

std::string volume_text(const VapourLimit& limit, const Surroundings& around) {
  return number_text(limit.to_limit.mL(), 2) + " mL of it, evaporated, fills " +
         number_text(around.bowl.L()) + " L to that limit.";
}

std::string warmth_text(const VapourLimit& limit, const Surroundings& around) {
  const std::string room = number_text(around.temperature.celsius()) + " C";
  if (limit.above_flash_point)
    return "At " + room + " its vapour can catch fire.";
  return "At " + room + " its vapour stays at " + number_text(100.0 * limit.saturated_share, 2) +
         " %; mist, a hotplate or a lamp changes that.";
}

} // namespace

Result<std::vector<VapourLimit>> vapour_limits(const Resist& resist, const Surroundings& around) {
  if (!(around.bowl.m3() > 0.0))
    return input_fault("a bowl of " + number_text(around.bowl.L()) + " L", "",
                       "give its volume, above 0");
  if (auto warm = check_above_absolute_zero(around.temperature); !warm)
    return warm.fault();
  const auto parts = find_solvents(resist.solvents);
  if (!parts)
    return parts.fault();
  std::vector<VapourLimit> limits;
  for (const SolventPart& part : *parts)
    if (part.solvent->burns)
      limits.push_back(limit_of(*part.solvent, around));
  return limits;
}

Result<std::vector<std::string>> vapour_cautions(const Resist& resist, const Surroundings& around) {
  const auto limits = vapour_limits(resist, around);
  if (!limits)
    return limits.fault();
  std::vector<std::string> cautions;
  if (around.brushed_motor)
    cautions.emplace_back(kBrushed);
  if (limits->empty())
    cautions.emplace_back(kNothingBurns);
  for (const VapourLimit& limit : *limits) {
    cautions.push_back(limit_text(limit));
    cautions.push_back(volume_text(limit, around) + " " + warmth_text(limit, around));
  }
  cautions.emplace_back(kDefer);
  return cautions;
}

std::vector<std::string> unknown_vapour_cautions(const Surroundings& around) {
  std::vector<std::string> cautions = {
      "Solvent not named: take it as flammable until its safety data sheet says otherwise."};
  if (around.brushed_motor)
    cautions.emplace_back(kBrushed);
  cautions.emplace_back(kDefer);
  return cautions;
}

} // namespace whirler::film
