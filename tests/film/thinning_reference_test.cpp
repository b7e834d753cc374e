// Whole coats against independent integrators, and against numbers that two codes agree on.
#include "catch.hpp"
#include "reference_liquids.hpp"
#include "textbook_integrator.hpp"
#include "thinning_test_closures.hpp"
#include "whirler/film/column_path.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::film::thinning;
using namespace whirler::film::thinning::testing;

namespace {

constexpr double kPour_m = 500e-6;

struct Left {
  double dry_um = 0.0, wet_um = 0.0;
};

template <class Closures>
Left coat(const Closures& closures, const std::vector<Piece>& pieces, double accuracy = 1e-6,
          double pour_m = kPour_m) {
  Column<Closures> column(closures);
  auto y = column.start(pour_m);
  REQUIRE(finish(column, pieces, y, accuracy));
  return {column.dry_m(y) * 1e6, column.wet_m(y) * 1e6};
}

/// Least-squares slope of ln film on ln speed, 1000 to 6000 rpm.
template <class CurveOf>
double exponent(const Reference& closures, CurveOf&& curve_of) {
  double n = 0, x1 = 0, y1 = 0, xx = 0, xy = 0;
  for (const double speed : {1000., 2000., 3000., 4000., 5000., 6000.}) {
    const double x = std::log(speed);
    const double y = std::log(coat(closures, pieces_of(curve_of(speed)).value()).dry_um);
    n += 1, x1 += x, y1 += y, xx += x * x, xy += x * y;
  }
  return (n * xy - x1 * y1) / (n * xx - x1 * x1);
}

double percent(double now, double then) { return 100.0 * (now / then - 1.0); }

} // namespace

TEST_CASE("exact: a liquid that does not dry leaves 12.69262 um, to 1e-6") {
  CHECK(coat(wet_reference(), Coat{}.pieces(), 1e-4).dry_um == Approx(12.69262).epsilon(1e-6));
}

TEST_CASE("published: drying coats agree with two independent codes to 0.12 per cent") {
  // The reference leaves heat capacities, latent heat and the solvent's density open; those of
  // reference_liquids.hpp move the dry film by 5e-4.
  const Left thin = coat(thin_reference(), Coat{}.pieces());
  CHECK(thin.dry_um == Approx(2.31983).epsilon(5e-4));
  CHECK(thin.wet_um == Approx(2.31983).epsilon(5e-4));
  const Left thick = coat(thick_reference(), Coat{}.pieces());
  CHECK(thick.dry_um == Approx(15.47232).epsilon(5e-4));
  CHECK(thick.wet_um == Approx(16.04817).epsilon(1.2e-3)); // half of what is still wet
}

TEST_CASE("exact: CVODE on the textbook's own unknowns gives the same coat to eight digits") {
  for (const auto& closures : {thin_reference(), thick_reference()}) {
    const auto pieces = Coat{}.pieces();
    const auto integrate = [](const RightSide& f, double t0, double t1, std::vector<double>& y) {
      cvode(f, t0, t1, y, {1e-6, 1e-6, 300.0}, 1e-12);
    };
    const TextbookFilm other = textbook(closures, pieces, kPour_m, integrate);
    const Left ours = coat(closures, pieces, 1e-10);
    CHECK(ours.dry_um == Approx(other.dry_m * 1e6).epsilon(1e-8));
    CHECK(ours.wet_um == Approx(other.wet_m * 1e6).epsilon(1e-8));
  }
}

TEST_CASE("exact: GSL's eighth-order Runge-Kutta gives it too") {
  const auto closures = thick_reference();
  const auto pieces = pieces_until(Coat{}.pieces(), 20.0);
  const auto integrate = [](const RightSide& f, double t0, double t1, std::vector<double>& y) {
    gsl_rk8pd(f, t0, t1, y, 1e-13);
  };
  const TextbookFilm other = textbook(closures, pieces, kPour_m, integrate);
  const Left ours = coat(closures, pieces, 1e-10);
  CHECK(ours.dry_um == Approx(other.dry_m * 1e6).epsilon(1e-8));
  CHECK(ours.wet_um == Approx(other.wet_m * 1e6).epsilon(1e-8));
}

TEST_CASE("order: the film's error stays under 0.6 of the accuracy asked for") {
  for (const auto& closures : {thin_reference(), thick_reference()})
    for (const double speed : {1500., 2500., 3000., 4500., 6000.}) {
      const auto pieces = Coat{speed}.pieces();
      const Left best = coat(closures, pieces, 1e-11);
      for (const double accuracy : {1e-3, 1e-4, 1e-5}) {
        CAPTURE(speed, accuracy);
        const Left quick = coat(closures, pieces, accuracy);
        CHECK(std::abs(quick.dry_um / best.dry_um - 1.0) < 0.6 * accuracy);
        CHECK(std::abs(quick.wet_um / best.wet_um - 1.0) < 1.5 * accuracy);
      }
    }
}

TEST_CASE("published: the ramp sets the exponent as much as the bottle") {
  const auto closures = thin_reference();
  const auto ramped = [](double slope, double spread) {
    return [=](double n) {
      return spread > 0.0 ? Coat{n, slope, spread}.curve()
                          : SpeedCurve{{seconds(0), rpm(0)},
                                       {seconds(n / slope), rpm(n)},
                                       {seconds(n / slope + 45), rpm(n)}};
    };
  };
  const auto straight = [](double n) {
    return SpeedCurve{{seconds(0), rpm(n)}, {seconds(45), rpm(n)}};
  };
  // [math], with the closures of the reference runs.
  CHECK(exponent(closures, straight) == Approx(-0.506).margin(0.002));
  CHECK(exponent(closures, ramped(5000, 0)) == Approx(-0.499).margin(0.002));
  CHECK(exponent(closures, ramped(1000, 5)) == Approx(-0.422).margin(0.002));
  CHECK(exponent(closures, ramped(500, 10)) == Approx(-0.327).margin(0.002));
}

TEST_CASE("published: what moves the film, in per cent") {
  // [math]: thin; thick; not drying. Rounded to whole per cents there.
  const Left thin = coat(thin_reference(), Coat{}.pieces());
  const Left thick = coat(thick_reference(), Coat{}.pieces());
  const Left wet = coat(wet_reference(), Coat{}.pieces());
  const auto moved = [&](Coat changed, double pour_m = kPour_m) {
    const auto pieces = changed.pieces();
    return std::array{percent(coat(thin_reference(), pieces, 1e-6, pour_m).dry_um, thin.dry_um),
                      percent(coat(thick_reference(), pieces, 1e-6, pour_m).dry_um, thick.dry_um),
                      percent(coat(wet_reference(), pieces, 1e-6, pour_m).dry_um, wet.dry_um)};
  };
  const auto check = [](const std::array<double, 3>& found, std::array<double, 3> wanted) {
    for (std::size_t i = 0; i < 3; ++i) {
      CAPTURE(i);
      CHECK(found[i] == Approx(wanted[i]).margin(1.0));
    }
  };
  SECTION("a ramp of 200 rpm/s") { check(moved({3000, 200}), {19, 5, -8}); }
  SECTION("a ramp of 5000 rpm/s") { check(moved({3000, 5000}), {-3, -1, 2}); }
  SECTION("a spread of 30 s") { check(moved({3000, 1000, 30}), {53, 9, -1}); }
  SECTION("a dwell of 10 s") { check(moved({3000, 1000, 5, 10}), {1, 16, 97}); }
  SECTION("a pour of 100 um") {
    for (const double p : moved({}, 100e-6))
      CHECK(std::abs(p) < 2.0);
  }
  SECTION("a pour of 1000 um") {
    for (const double p : moved({}, 1000e-6))
      CHECK(std::abs(p) < 2.0);
  }
  SECTION("evaporation halved and doubled") {
    for (const auto& [factor, on_thin, on_thick] :
         {std::array{0.5, -23., -20.}, std::array{2.0, 33., 27.}}) {
      const auto with = [&, times = factor](Reference c) {
        c.solvent[0].gas *= times;
        return coat(c, Coat{}.pieces()).dry_um;
      };
      CHECK(percent(with(thin_reference()), thin.dry_um) == Approx(on_thin).margin(1.0));
      CHECK(percent(with(thick_reference()), thick.dry_um) == Approx(on_thick).margin(1.0));
    }
  }
  SECTION("air with a tenth of saturation") {
    Reference c = thin_reference();
    c.solvent[0].far_Pa = 50.7;
    CHECK(percent(coat(c, Coat{}.pieces()).dry_um, thin.dry_um) == Approx(-4.0).margin(1.0));
  }
  SECTION("a bottle that is 10 per cent thicker or thinner") {
    for (const double by : {1.1, 0.9}) {
      const double sign = by > 1.0 ? 1.0 : -1.0;
      const auto c = reference_closures(0.36, by * millipascal_seconds(25), kJ_per_mol(20));
      CHECK(percent(coat(c, Coat{}.pieces()).dry_um, thin.dry_um) ==
            Approx(sign * 3.7).margin(0.3));
      WetClosures w = wet_reference();
      w.base_mobility /= by;
      CHECK(percent(coat(w, Coat{}.pieces()).dry_um, wet.dry_um) == Approx(sign * 5.0).margin(0.3));
    }
  }
}

TEST_CASE("published: a thin resist that dries, 2.18 um at 3000 rpm and exponent 0.504") {
  // [math, one code]: eta 25 mPa s, phi0 0.312, rho 1040, chi 0.4, eta_s 1.1 mPa s, E 0.5 um/s at
  // 3000 rpm growing as the root of speed, k_M 0.4, h0 100 um, 30 s, 2000 to 6000 rpm. Isothermal,
  // constant density, no glass factor.
  DryingClosures<1, false> c;
  c.start_phi = 0.312;
  c.base_mobility = 1.0 / (3.0 * 1.1e-3);
  c.martin_k = 0.4;
  c.martin_b = martin_b(25.0 / 1.1, 0.4) / c.start_phi;
  c.density_solids = c.density_solvent = 1040.0;
  SolventLaw& s = c.solvent[0];
  s.gas = 0.5e-6;
  s.pumped2 = 1.0 / rpm(3000).rad_per_s();
  s.antoine_a = 0.0;
  c.share = {1.0};
  c.store.plate = 1e12;
  const auto film = [&](double n) {
    return coat(c, held(rpm(n), seconds(30)), 1e-7, 100e-6).dry_um;
  };
  CHECK(film(3000) == Approx(2.18).margin(0.01));
  CHECK(std::log(film(6000) / film(2000)) / std::log(3.0) == Approx(-0.504).margin(0.002));
}
