#include "catch.hpp"
#include "whirler/film/inverse.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::film;
using Catch::Matchers::ContainsSubstring;

namespace {

Resist bottle(double mPa_s, double solids, double kJ) {
  Resist r;
  r.viscosity = millipascal_seconds(mPa_s);
  r.density = kg_per_m3(1.0 / (solids / 1200 + (1 - solids) / 963));
  r.solids_mass_fraction = solids;
  r.solids_density = kg_per_m3(1200);
  r.solvents = {{"pgmea", 1.0}};
  r.activation_energy = kJ_per_mol(kJ);
  return r;
}

Resist oil() {
  Resist r;
  r.viscosity = millipascal_seconds(900);
  r.density = g_per_cm3(1.1);
  r.solids_density = g_per_cm3(1.1);
  return r;
}

} // namespace

TEST_CASE("inverse: the speed found leaves the film asked for, by the full estimate") {
  CoatPlan plan;
  plan.spread_speed = rpm(500);
  const struct {
    Resist resist;
    double target_um;
    std::optional<Duration> dwell;
  } cases[] = {{bottle(25, 0.36, 20), 2.0, std::nullopt},
               {bottle(25, 0.36, 20), 3.1, seconds(30)},
               {bottle(1250, 0.60, 35), 14.0, seconds(40)},
               {bottle(1250, 0.60, 35), 22.0, std::nullopt},
               {oil(), 12.0, seconds(25)}};
  for (const auto& c : cases) {
    CAPTURE(c.target_um);
    plan.dwell = c.dwell;
    const auto found = speed_for(micrometres(c.target_um), c.resist, plan, {}, rpm(200), rpm(8000));
    if (!found)
      FAIL(to_text(found.fault()));
    const auto again =
        estimate(c.resist, curve_of(plan, found->speed, found->dwell), Environment{});
    REQUIRE(again.ok());
    CHECK(again->dry.mean->um() == Approx(c.target_um).epsilon(c.dwell ? 1e-4 : 5e-3));
    if (!c.dwell)
      CHECK(again->is_set);
    if (c.dwell)
      CHECK(found->dwell == *c.dwell);
  }
}

TEST_CASE("inverse: of a power-law liquid the film is that of this plate, and so is its dwell") {
  Resist shear = bottle(300, 0.4, 25);
  shear.power_law = PowerLaw{0.7, 2.0};
  for (const double mm : {30.0, 90.0}) {
    CAPTURE(mm);
    Environment plate;
    plate.plate.radius = millimetres(mm);
    const auto films = FilmOverSpeed::make(shear, {}, plate);
    REQUIRE(films.ok());
    const auto planned = films->at(rpm(2000));
    REQUIRE(planned.ok());
    const auto whole = estimate(shear, curve_of({}, rpm(2000), planned->dwell), plate);
    REQUIRE(whole.ok());
    CHECK(whole->is_set);
    CHECK(planned->thickness.um() == Approx(whole->dry.mean->um()).epsilon(1e-3));
  }
}

TEST_CASE("inverse: a target out of reach is refused with what is possible") {
  CoatPlan plan;
  const auto thin =
      speed_for(micrometres(0.2), bottle(25, 0.36, 20), plan, {}, rpm(500), rpm(5000));
  REQUIRE_FALSE(thin.ok());
  CHECK(thin.fault().kind == FaultKind::input);
  CHECK_THAT(thin.fault().what, ContainsSubstring("5000 rpm leaves"));
  const auto thick =
      speed_for(micrometres(300), bottle(25, 0.36, 20), plan, {}, rpm(500), rpm(5000));
  REQUIRE_FALSE(thick.ok());
  CHECK_THAT(thick.fault().what, ContainsSubstring("500 rpm leaves"));
  CHECK_FALSE(speed_for(micrometres(-1), oil(), plan, {}, rpm(500), rpm(5000)).ok());
}

TEST_CASE("inverse: a liquid that does not dry needs a dwell") {
  const auto asked = speed_for(micrometres(20), oil(), CoatPlan{}, {}, rpm(500), rpm(5000));
  REQUIRE_FALSE(asked.ok());
  CHECK_THAT(asked.fault().next, ContainsSubstring("dwell"));
}

TEST_CASE("inverse: a plan without a way up is refused") {
  CoatPlan plan;
  plan.ramp = rpm_per_s(0);
  CHECK_FALSE(FilmOverSpeed::make(bottle(25, 0.36, 20), plan, {}).ok());
}

TEST_CASE("inverse: the curve of a plan starts and ends at rest, through its spread") {
  CoatPlan plan;
  plan.spread_speed = rpm(500);
  const SpeedCurve curve = curve_of(plan, rpm(3000), seconds(45));
  CHECK(curve.front().speed.rpm() == 0.0);
  CHECK(curve.back().speed.rpm() == 0.0);
  CHECK(curve.back().at.s() == Approx(0.5 + 5 + 2.5 + 45 + 3));
  // A top that is slower than the spread leaves it out.
  CHECK(curve_of(plan, rpm(300), seconds(45)).back().at.s() == Approx(0.3 + 45 + 0.3));
}
