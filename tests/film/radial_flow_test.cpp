// Power-law liquids, a screw on the hub, turbulent air.
#include "radial_testing.hpp"
#include "whirler/film/thinning.hpp"

#include <gsl/gsl_integration.h>

#include <cmath>

using namespace whirler;
using namespace whirler::film;
using namespace whirler::film::thinning;
using namespace whirler::film::thinning::testing;

TEST_CASE("limit: behind a screw on the hub the film is the fan of its edge") {
  // All characteristics there start at the screw's edge r_s, so 4 K t h^2 = 1 - (r_s/r)^(4/3)
  // [math: from r^2 z^3 constant].
  const double screw_m = 0.005, t = 20.0;
  const double k =
      mobility_of(kg_per_m3(1000), pascal_seconds(0.1)) * std::pow(rpm(3000).rad_per_s(), 2);
  const auto error = [&](std::size_t cells) {
    const RadialGrid grid = radial_grid(cells, kRadius_m, screw_m);
    RadialStart begun{domed(grid, kPour_m, 1.0)};
    const RadialStory story =
        radial_coat(liquid(0.1), grid, held(rpm(3000), seconds(t)), begun, 1e-8);
    double worst = 0.0;
    for (std::size_t i = cells / 2; i < cells; ++i) {
      const double r = kRadius_m * std::sqrt(grid.middle(i));
      const double exact = std::sqrt((1.0 - std::pow(screw_m / r, 4.0 / 3.0)) / (4.0 * k * t));
      worst = std::max(worst, std::abs(story.wet_m[i] / exact - 1.0));
    }
    return worst;
  };
  // The film grows as a root from the screw's edge, so the order is a little under one.
  const double coarse = error(100), fine = error(400), finer = error(1600);
  CAPTURE(coarse, fine, finer);
  CHECK(coarse < 0.02);
  CHECK(fine < 0.5 * coarse);
  CHECK(finer < 0.4 * fine);
  CHECK(finer < 2e-3);
}

TEST_CASE("limit: unevenness fades as the fifth power of the thinning") {
  const RadialGrid grid = radial_grid(64, kRadius_m);
  const RadialStart begun{domed(grid, 100e-6, 1.02)};
  const auto after = [&](double t) {
    return radial_coat(liquid(0.1), grid, held(rpm(3000), seconds(t)), begun, 1e-9);
  };
  const RadialStory early = after(0.1), late = after(1.0);
  const double thinned = early.wet_m[0] / late.wet_m[0];
  const double faded = spread_of(early.wet_m) / spread_of(late.wet_m);
  CHECK(std::log(faded) / std::log(thinned) == Approx(5.0).margin(0.1));
}

TEST_CASE("exact: the power-law flux is the integral over the depth of its own profile") {
  for (const double n : {0.5, 0.8, 1.0, 1.4})
    for (const double x : {0.3, 1.0, 7.0, 300.0}) {
      CAPTURE(n, x);
      // q/(h^2 rate_c) = integral_0^1 (1 - z) rate(x (1 - z))/rate_c dz
      struct Case {
        double n, x;
      } at{n, x};
      gsl_function f{[](double z, void* data) {
                       const Case& c = *static_cast<Case*>(data);
                       const double stress = c.x * (1.0 - z);
                       const double rate = stress < 1.0 ? stress : std::pow(stress, 1.0 / c.n);
                       return (1.0 - z) * rate;
                     },
                     &at};
      gsl_integration_workspace* space = gsl_integration_workspace_alloc(1000);
      double exact = 0.0, doubt = 0.0;
      gsl_integration_qag(&f, 0, 1, 0, 1e-10, 1000, GSL_INTEG_GAUSS61, space, &exact, &doubt);
      gsl_integration_workspace_free(space);
      CHECK(PowerFlow{n, 1.0, kRadius_m}.shape(x).q == Approx(exact).epsilon(1e-8));
    }
}

TEST_CASE("exact: past the shear where thinning stops, the flux is that of a Newtonian core") {
  // Summed in 20000 slices with the profile's own rate: x, then x^(1/n), then x/m.
  for (const double n : {0.2, 0.5, 0.8})
    for (const double x : {0.5, 3.0, 40.0, 3e4}) {
      CAPTURE(n, x);
      const PowerFlow flow{n, 1.0, kRadius_m, 0.02};
      const auto rate = [&](double stress) {
        return stress < 1.0 ? stress : std::min(std::pow(stress, 1.0 / n), stress / 0.02);
      };
      constexpr int kSlices = 20000;
      double sum = 0.0;
      for (int i = 0; i < kSlices; ++i) {
        const double z = (i + 0.5) / kSlices;
        sum += z * rate(x * z) / kSlices;
      }
      CHECK(flow.shape(x).q == Approx(sum).epsilon(1e-4));
      const double step = 1e-5;
      const double slope =
          std::log(flow.shape(x * (1 + step)).q / flow.shape(x / (1 + step)).q) / (2 * step);
      CHECK(flow.shape(x).power == Approx(slope).epsilon(1e-3));
    }
}

TEST_CASE("limit: a liquid so shear-thinning that its law alone would be thinner than air still "
          "leaves a film") {
  for (const double n : {0.1, 0.2, 0.3, 0.6})
    for (const double kappa : {1e-3, 0.05, 1.0, 30.0}) {
      CAPTURE(n, kappa);
      Resist resist;
      resist.viscosity = millipascal_seconds(60);
      resist.density = kg_per_m3(1000);
      resist.solids_density = kg_per_m3(1200);
      resist.power_law = PowerLaw{n, kappa};
      for (const bool dries : {false, true}) {
        resist.solids_mass_fraction = dries ? 0.4 : 1.0;
        resist.solvents =
            dries ? std::vector<SolventShare>{{"pgmea", 1.0}} : std::vector<SolventShare>{};
        const auto film = dry_film(resist, {{seconds(0), rpm(3000)}, {seconds(30), rpm(3000)}}, {});
        REQUIRE(film.ok());
        CHECK(film->um() > 0.05);
        CHECK(film->um() < 200.0);
      }
    }
}

TEST_CASE("limit: a power law of exponent one is Newton's liquid") {
  const RadialGrid grid = radial_grid(16, kRadius_m);
  const double eta = 0.5;
  const PowerFlow flow{1.0, 3.0 * kRadius_m / PowerFlow::kRateFloor, kRadius_m};
  const auto pieces = held(rpm(1500), seconds(5));
  const RadialStart begun{domed(grid, kPour_m, 1.6)};
  const RadialStory power = radial_coat(liquid(eta), grid, pieces, begun, 1e-8, flow);
  const RadialStory newton = radial_coat(liquid(eta), grid, pieces, begun, 1e-8);
  for (std::size_t i = 0; i < 16; ++i)
    CHECK(power.wet_m[i] == Approx(newton.wet_m[i]).epsilon(1e-6));
}

TEST_CASE("limit: a shear-thinning liquid keeps its middle, a thickening one its rim") {
  const RadialGrid grid = radial_grid(64, kRadius_m);
  const auto film = [&](double n) {
    const PowerFlow flow{n, 3.0 * kRadius_m / PowerFlow::kRateFloor, kRadius_m};
    return radial_coat(liquid(1.0), grid, held(rpm(2000), seconds(30)), {domed(grid, kPour_m, 1.0)},
                       1e-5, flow);
  };
  const RadialStory thinning = film(0.7), thickening = film(1.2);
  CHECK(thinning.wet_m.front() > 1.3 * thinning.wet_m.back());
  CHECK(thickening.wet_m.front() < thickening.wet_m.back());
}

TEST_CASE("published: turbulent air takes over where a spinning disc's heat transfer does") {
  // Popiel and Boguslawski 1975, from memory: 1e-19 Re^4, then 0.0188 Re^0.8, laminar 0.326 Re^0.5.
  CHECK(turbulence(1e5).factor == 1.0);
  CHECK(turbulence(1.95e5).factor == Approx(1.0));
  for (const double re : {2.1e5, 2.4e5})
    CHECK(turbulence(re).factor == Approx(1e-19 * std::pow(re, 3.5) / 0.326).epsilon(0.02));
  for (const double re : {2.6e5, 1e6})
    CHECK(turbulence(re).factor == Approx(0.0188 * std::pow(re, 0.3) / 0.326).epsilon(0.02));
}

TEST_CASE("limit: turbulent air leaves a thicker rim, and none of it within the laminar circle") {
  const double radius = 0.12; // at 6000 rpm the air turns turbulent at 70 mm
  const RadialGrid grid = radial_grid(64, radius);
  const RadialStart begun{domed(grid, kPour_m, 1.0)};
  const auto pieces = Coat{6000}.pieces();
  const RadialStory story =
      radial_coat(thin_reference(), grid, pieces, begun, 1e-5, NewtonFlow{}, 1.56e-5);
  const double edge = std::sqrt(1.95e5 * 1.56e-5 / rpm(6000).rad_per_s()) / radius;
  CHECK(edge * radius == Approx(0.0696).margin(0.0005));
  for (std::size_t i = 0; i < 64; ++i)
    if (std::sqrt(grid.faces[i]) < edge)
      CHECK(story.dry_m[i] == Approx(story.dry_m[0]).epsilon(1e-3));
  CHECK(story.dry_m.back() > 1.1 * story.dry_m.front());
}
