#include "whirler/film/coverage.hpp"

#include "whirler/film/liquid.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::film {
namespace {

constexpr double kMargin = 2.0;                      // [common practice, no source]
constexpr double kFilmMargin = 5.0;                  // 2 % of the film; see the header
constexpr Volume kCustomary = millilitres(1.0);      // for each
constexpr Length kCustomaryStep = millimetres(25.0); // of diameter [common practice, no source]

/// Surface tension [N/m] and contact angle [rad] of a front on clean copper.
struct Wetting {
  double tension;
  double angle;
};

Wetting wetting_of(const Resist& resist) {
  constexpr double kDegree = std::numbers::pi / 180.0;
  double water = 0.0;
  if (const auto parts = find_solvents(resist.solvents))
    for (const SolventPart& part : *parts)
      water += part.solvent->name == "water" ? part.mass_share : 0.0;
  return water > 0.5 ? Wetting{0.072, 40.0 * kDegree} : Wetting{0.030, 20.0 * kDegree};
}

Length wetting_depth(const Resist& resist, Length reach, Speed spread) {
  const auto [tension, angle] = wetting_of(resist);
  const double w = spread.rad_per_s();
  const double push = resist.density.kg_per_m3() * w * w * reach.m(); // Pa/m
  return metres(std::sqrt(2.0 * tension * (1.0 - std::cos(angle)) * std::tan(angle) / push));
}

/// K = rho omega^2/(3 eta) [1/(m2 s)].
double flow(const Resist& resist, Temperature t, Speed spread) {
  const double w = spread.rad_per_s();
  return resist.density.kg_per_m3() * w * w / (3.0 * viscosity_at(resist, t).Pa_s());
}

Result<Length> drying_depth(const Resist& resist, const Air& air, Speed spread) {
  if (!resist.dries())
    return metres(0.0);
  const auto parts = find_solvents(resist.solvents);
  if (!parts)
    return parts.fault();
  const auto leaving = evaporation_speed(*parts, spread, air);
  if (!leaving)
    return leaving.fault();
  const double e = std::max(0.0, leaving->m_per_s());
  return metres(std::cbrt(e / (2.0 * flow(resist, air.temperature, spread))));
}

} // namespace

Result<Coverage> coverage(const Resist& resist, const Air& air, Length reach, Speed spread,
                          Length film) {
  if (auto liquid = check_liquid(resist); !liquid)
    return liquid.fault();
  if (auto room = check_air(air); !room)
    return room.fault();
  if (!(reach.m() > 0.0) || !(spread.rad_per_s() > 0.0))
    return input_fault("a plate that reaches " + number_text(reach.mm()) + " mm, spread at " +
                           number_text(spread.rpm()) + " rpm",
                       "", "give both above 0");
  const auto drying = drying_depth(resist, air, spread);
  if (!drying)
    return drying.fault();
  Coverage result;
  result.drying_depth = *drying;
  result.wetting_depth = wetting_depth(resist, reach, spread);
  result.film_depth = film / solids_volume_share(resist);
  const Length depth = std::max({result.drying_depth, result.wetting_depth, result.film_depth});
  const double circle_m2 = std::numbers::pi * reach.m() * reach.m();
  result.least = cubic_metres(circle_m2 * depth.m());
  const Length advised_depth = std::max(kMargin * depth, kFilmMargin * result.film_depth);
  result.advised = cubic_metres(circle_m2 * advised_depth.m());
  result.customary = (2.0 * reach / kCustomaryStep) * kCustomary;
  // From deep, 1/h^2 = 4 K t until the advised volume reaches the corner.
  const double left_m = advised_depth.m();
  result.time = seconds(1.0 / (4.0 * flow(resist, air.temperature, spread) * left_m * left_m));
  return result;
}

Covers covers(const Coverage& coverage, Volume poured) {
  if (poured < coverage.least)
    return Covers::bare_corners;
  return poured < coverage.advised ? Covers::thin_margin : Covers::enough;
}

} // namespace whirler::film
