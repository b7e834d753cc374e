// What an estimate says over the radius, and what it refuses to claim.
#include "catch.hpp"
#include "reference_liquids.hpp"
#include "whirler/film/thinning.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::film;
using Catch::Matchers::ContainsSubstring;
using thinning::testing::Coat;

namespace {

Resist thick_resist() {
  Resist r;
  r.viscosity = pascal_seconds(1.25);
  r.density = g_per_cm3(1.092);
  r.solids_mass_fraction = 0.60;
  r.solids_density = g_per_cm3(1.2);
  r.solvents = {{"pgmea", 1.0}};
  r.activation_energy = kJ_per_mol(35);
  return r;
}

ThinningResult film_of(const Resist& resist, const SpeedCurve& curve, const Environment& e) {
  auto result = estimate(resist, curve, e);
  if (!result)
    FAIL(to_text(result.fault()));
  return std::move(result).value();
}

const SpeedCurve kShort = {{seconds(0), rpm(0)}, {seconds(0.5), rpm(500)}, {seconds(1), rpm(500)}};

bool any_of(const std::vector<std::string>& texts, const std::string& part) {
  for (const std::string& text : texts)
    if (text.find(part) != std::string::npos)
      return true;
  return false;
}

} // namespace

TEST_CASE("film: an evenness that was not modelled is not stated") {
  const ThinningResult even = film_of(thick_resist(), Coat{}.curve(), {});
  CHECK(even.dry.mean);
  CHECK_FALSE(even.dry.centre);
  CHECK_FALSE(even.dry.edge);
  CHECK_FALSE(even.unevenness);
  CHECK_FALSE(even.across_why.empty());
  CHECK(any_of(even.unseen, "bead"));
}

TEST_CASE("film: an early stop leaves more in the middle of a domed pour") {
  Environment domed;
  domed.pour.dome = 2.0;
  const ThinningResult early = film_of(thick_resist(), kShort, domed);
  REQUIRE(early.dry.centre);
  REQUIRE(early.dry.edge);
  CHECK(*early.dry.centre > *early.dry.mean);
  CHECK(*early.dry.mean > *early.dry.edge);
  CHECK(*early.unevenness > 0.05);
  // The trace of a long coat says the same at that time, and that it fades.
  const ThinningResult whole = film_of(thick_resist(), Coat{}.curve(), domed);
  CHECK(*whole.after(seconds(1)).unevenness == Approx(*early.unevenness).epsilon(0.1));
  CHECK(*whole.unevenness < 1e-3);
  CHECK_FALSE(whole.dry.centre);
  CHECK_THAT(whole.across_why, ContainsSubstring("not modelled"));
  CHECK(whole.dry.mean->um() ==
        Approx(film_of(thick_resist(), Coat{}.curve(), {}).dry.mean->um()).epsilon(0.01));
}

TEST_CASE("film: a puddle covers the plate at a time, or says how far it came") {
  Environment puddle;
  puddle.plate.radius = millimetres(60);
  puddle.pour.thickness = millimetres(2);
  puddle.pour.puddle = millimetres(25);
  const ThinningResult enough = film_of(thick_resist(), Coat{}.curve(), puddle);
  REQUIRE(enough.covered_at);
  CHECK(enough.covered_at->s() > 0.1);
  CHECK_FALSE(enough.covered_radius);
  puddle.pour.puddle = millimetres(1);
  const ThinningResult little = film_of(thick_resist(), Coat{}.curve(), puddle);
  CHECK_FALSE(little.covered_at);
  REQUIRE(little.covered_radius);
  CHECK(*little.covered_radius < millimetres(60));
  CHECK(any_of(little.warnings, "bare corners"));
}

TEST_CASE("film: a screw keeps the centre, and the film beside it is thinner") {
  Environment screwed;
  screwed.plate.radius = millimetres(50);
  screwed.plate.screw = millimetres(5);
  const ThinningResult r = film_of(thick_resist(), Coat{}.curve(), screwed);
  REQUIRE(r.dry.centre);
  CHECK(*r.dry.centre < *r.dry.edge);
  CHECK_FALSE(any_of(r.unseen, "centre"));
  Environment whole = screwed;
  whole.plate.screw = std::nullopt;
  CHECK(any_of(film_of(thick_resist(), Coat{}.curve(), whole).unseen, "screw"));
  screwed.plate.radius = std::nullopt;
  CHECK_FALSE(estimate(thick_resist(), Coat{}.curve(), screwed).ok());
  screwed.plate.radius = millimetres(4);
  CHECK_FALSE(estimate(thick_resist(), Coat{}.curve(), screwed).ok());
}

TEST_CASE("film: the turbulent rim is warned of with its radius, and followed") {
  Environment large;
  large.air.temperature = celsius(20);
  large.plate.radius = millimetres(120);
  const ThinningResult r = film_of(thick_resist(), Coat{6000}.curve(), large);
  REQUIRE(r.turbulent_from);
  // Re 1.9e5 at 6000 rpm in air of 1.51e-5 m2/s [handbook value of 20 C, 1 atm].
  CHECK(r.turbulent_from->mm() ==
        Approx(1e3 * std::sqrt(1.9e5 * 1.51e-5 / rpm(6000).rad_per_s())).epsilon(0.01));
  CHECK(any_of(r.warnings, "turbulent"));
  REQUIRE(r.dry.edge);
  CHECK(*r.dry.edge > *r.dry.centre);
  large.plate.radius = millimetres(50);
  CHECK_FALSE(film_of(thick_resist(), Coat{6000}.curve(), large).turbulent_from);
}

TEST_CASE("film: a rectangle's corners are named, a disc's are not") {
  Environment board;
  board.plate.radius = millimetres(64);
  board.plate.nearest = millimetres(40);
  CHECK(any_of(film_of(thick_resist(), Coat{}.curve(), board).unseen, "corners"));
  board.plate.nearest = millimetres(64);
  CHECK_FALSE(any_of(film_of(thick_resist(), Coat{}.curve(), board).unseen, "corners"));
}

TEST_CASE("film: a power-law liquid is followed over the radius and judged set") {
  Resist r = thick_resist();
  r.power_law = PowerLaw{0.8, 2.0};
  Environment e;
  e.plate.radius = millimetres(50);
  const ThinningResult film = film_of(r, Coat{}.curve(), e);
  REQUIRE(film.dry.centre);
  CHECK(*film.dry.centre > *film.dry.edge);
  CHECK(film.is_set);
  CHECK(film.set_time->s() > 8.0);
  CHECK(film.set_time->s() < 53.0);
  CHECK(dry_film(r, Coat{}.curve(), e)->um() == Approx(film.dry.mean->um()).epsilon(1e-3));
  const ThinningResult early = film_of(r, Coat{3000, 1000, 5, 5}.curve(), e);
  CHECK_FALSE(early.is_set);
  CHECK(early.needed_dwell->s() == Approx(film.needed_dwell->s()).epsilon(0.05));
  CHECK(any_of(film.warnings, "shear rate"));
  // An exponent of one is a viscosity.
  Resist plain = thick_resist();
  r.power_law = PowerLaw{1.0, 1.25};
  CHECK(film_of(r, Coat{}.curve(), e).dry.mean->um() ==
        Approx(film_of(plain, Coat{}.curve(), e).dry.mean->um()));
  r.power_law = PowerLaw{0.5, 0.0};
  CHECK_FALSE(estimate(r, Coat{}.curve(), e).ok());
}

TEST_CASE("film: a pour that cannot be is refused") {
  for (const double dome : {0.0, -1.0, 0.3, 50.0}) {
    Environment e;
    e.pour.dome = dome;
    CHECK_FALSE(estimate(thick_resist(), Coat{}.curve(), e).ok());
  }
  Environment e;
  e.pour.puddle = millimetres(10);
  CHECK_FALSE(estimate(thick_resist(), Coat{}.curve(), e).ok()); // no plate to cover
  e.plate.radius = millimetres(50);
  e.pour.puddle = millimetres(-1);
  CHECK_FALSE(estimate(thick_resist(), Coat{}.curve(), e).ok());
}

TEST_CASE("film: where it is uneven, an early stop leaves what a run that ends there leaves") {
  const SpeedCurve whole = Coat{}.curve();
  const double stop_s = 0.5 * whole.back().at.s();
  SpeedCurve cut;
  for (const auto& point : whole)
    if (point.at.s() < stop_s)
      cut.push_back(point);
  const auto& after = whole[cut.size()];
  const double x = (stop_s - cut.back().at.s()) / (after.at - cut.back().at).s();
  cut.push_back({seconds(stop_s), cut.back().speed + x * (after.speed - cut.back().speed)});
  Environment screwed;
  screwed.plate.radius = millimetres(45);
  screwed.plate.screw = millimetres(9);
  Environment turbulent;
  turbulent.plate.radius = millimetres(160);
  for (const Environment& environment : {screwed, turbulent}) {
    const ThinningResult stopped = film_of(thick_resist(), cut, environment);
    const TracePoint on_the_way =
        film_of(thick_resist(), whole, environment).after(seconds(stop_s));
    REQUIRE(*stopped.unevenness > 0.05);
    CHECK(on_the_way.dry.um() == Approx(stopped.dry.mean->um()).epsilon(0.005));
    CHECK(on_the_way.dry_centre->um() == Approx(stopped.dry.centre->um()).epsilon(0.02));
    CHECK(on_the_way.wet.um() == Approx(stopped.wet.mean->um()).epsilon(0.02));
    CHECK(stopped.trace.back().dry.um() == Approx(stopped.dry.mean->um()).epsilon(1e-6));
    CHECK(stopped.across_why.empty());
  }
}
