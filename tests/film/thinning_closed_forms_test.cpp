// The column against the closed forms of spin coating. [math]: each number recomputed by two
// independent codes before it was written here.
#include "catch.hpp"
#include "thinning_test_closures.hpp"
#include "whirler/film/column_path.hpp"

#include <cmath>
#include <numbers>

using namespace whirler;
using namespace whirler::film::thinning;
using namespace whirler::film::thinning::testing;

namespace {

double wet_after(const std::vector<Piece>& pieces, double mobility, double h0_m, double tolerance) {
  WetClosures liquid;
  liquid.base_mobility = mobility;
  Column<WetClosures> column(liquid);
  auto y = column.start(h0_m);
  REQUIRE(finish(column, pieces, y, tolerance));
  return column.wet_m(y);
}

/// Dilute film: eta 0.010 Pa s, rho 1000 kg/m3, 3000 rpm, E 0.1 um/s, phi0 0.1, h0 100 um.
struct Dilute {
  static constexpr double kE = 0.1e-6, kPhi = 0.1, kStart = 100e-6;
  double k =
      mobility_of(kg_per_m3(1000), pascal_seconds(0.010)) * std::pow(rpm(3000).rad_per_s(), 2);
  [[nodiscard]] double film_m() const {
    return kPhi * std::cbrt(kE / (2.0 * k + kE / std::pow(kStart, 3)));
  }
  [[nodiscard]] double dry_s() const {
    const double scale = std::cbrt(kE / (2.0 * k));
    const double x = kStart / scale;
    const double root3 = std::sqrt(3.0);
    return scale / kE *
           (std::log((x + 1.0) * (x + 1.0) / (x * x - x + 1.0)) / 6.0 +
            (std::atan((2.0 * x - 1.0) / root3) + std::numbers::pi / 6.0) / root3);
  }
  [[nodiscard]] static SteadyDrying closures() {
    SteadyDrying c;
    c.start_phi = kPhi;
    c.base_mobility = mobility_of(kg_per_m3(1000), pascal_seconds(0.010));
    c.e_m_per_s = kE;
    return c;
  }
};

} // namespace

TEST_CASE("exact: a liquid that does not dry thins as Emslie, Bonner and Peck found (1958)") {
  const double m = mobility_of(kg_per_m3(1000), pascal_seconds(0.1));
  for (const double tolerance : {1e-3, 1e-5}) {
    CAPTURE(tolerance);
    CHECK(wet_after(held(rpm(3000), seconds(1)), m, 100e-6, tolerance) ==
          Approx(26.5752e-6).epsilon(3e-6));
    CHECK(wet_after(held(rpm(3000), seconds(30)), m, 100e-6, tolerance) ==
          Approx(5.02656e-6).epsilon(3e-6));
    CHECK(wet_after(held(rpm(1000), seconds(10)), mobility_of(kg_per_m3(1000), pascal_seconds(1)),
                    1e-3, tolerance) == Approx(82.4180e-6).epsilon(3e-6));
  }
}

TEST_CASE("exact: over ramps the same liquid feels the integral of speed squared") {
  const SpeedCurve curve = {{seconds(0), rpm(0)},    {seconds(2), rpm(1000)},
                            {seconds(5), rpm(1000)}, {seconds(6), rpm(4000)},
                            {seconds(6), rpm(500)},  {seconds(9), rpm(0)}};
  const double w = rpm(1000).rad_per_s();
  // Trapezia squared: (a^2 + ab + b^2)/3 times the time of each piece.
  const double integral = w * w * (2.0 / 3.0 + 3.0 + (1.0 + 4.0 + 16.0) / 3.0 + 0.25 / 3.0 * 3.0);
  const double m = mobility_of(kg_per_m3(1100), pascal_seconds(0.4));
  const double expected = 1.0 / std::sqrt(1.0 / (300e-6 * 300e-6) + 4.0 * m * integral);
  CHECK(wet_after(pieces_of(curve).value(), m, 300e-6, 1e-4) == Approx(expected).epsilon(1e-12));
}

TEST_CASE("exact: flow with constant evaporation leaves the dilute closed form's film") {
  const Dilute dilute;
  REQUIRE(dilute.film_m() == Approx(247.7013e-9).epsilon(1e-6));
  REQUIRE(dilute.dry_s() == Approx(29.9446).epsilon(2e-6));
  Column<SteadyDrying> column(Dilute::closures());
  auto y = column.start(Dilute::kStart);
  const double just_before = dilute.dry_s() * (1.0 - 1e-4);
  REQUIRE(finish(column, held(rpm(3000), seconds(just_before)), y, 1e-9));
  CHECK(column.dry_m(y) == Approx(dilute.film_m()).epsilon(1e-8));
  // What is left then evaporates in the time that is left: t_dry to 1e-7 of itself.
  CHECK(column.wet_m(y) / Dilute::kE ==
        Approx(dilute.dry_s() * 1e-4).margin(dilute.dry_s() * 1e-7));
}

TEST_CASE("exact: the estimates of 1978 and 1989 are other forms of the same film") {
  // Meyerhofer, J. Appl. Phys. 49, 3993 (1978) and Bornside, Macosko and Scriven, J. Appl. Phys.
  // 66, 5185 (1989), both from memory: the film where flow and evaporation are equal, times what
  // is solid. They differ from the full equations in the share of the solids, on either side.
  const Dilute dilute;
  const double scale_m = std::cbrt(Dilute::kE / (2.0 * dilute.k));
  const double meyerhofer_m = Dilute::kPhi * scale_m / std::cbrt(1.0 - Dilute::kPhi);
  const double bornside_m = Dilute::kPhi * scale_m * std::cbrt(1.0 - Dilute::kPhi);
  CHECK(meyerhofer_m == Approx(256.6e-9).epsilon(2e-4));
  CHECK(bornside_m == Approx(239.2e-9).epsilon(2e-4));
  CHECK(bornside_m < dilute.film_m());
  CHECK(dilute.film_m() < meyerhofer_m);
}

TEST_CASE("order: halving the step of the column divides its error by sixteen") {
  const Dilute dilute;
  const double end = 0.6 * dilute.dry_s();
  const auto with_step = [&](double step_s) {
    Column<SteadyDrying> column(Dilute::closures());
    auto y = column.start(Dilute::kStart);
    Stepper<Column<SteadyDrying>> stepper(column, y, 1e30);
    stepper.set_next_step(step_s);
    stepper.set_longest_step(step_s);
    // A ramp, so that the method's treatment of time itself is measured too.
    const std::vector<Piece> ramp = {
        {0.0, end, rpm(1000).rad_per_s(), rpm_per_s(100).rad_per_s2()}};
    REQUIRE(stepper.run(ramp, y, [](double, const auto&, const auto&) { return Next::go_on; }));
    return column.wet_m(y);
  };
  const double best = with_step(end / 4096);
  const double coarse = std::abs(with_step(end / 24) / best - 1.0);
  const double fine = std::abs(with_step(end / 48) / best - 1.0);
  CAPTURE(coarse, fine);
  CHECK(std::log2(coarse / fine) == Approx(4.0).margin(0.3));
}

TEST_CASE("limit: regime exponents of film on speed") {
  // Constant viscosity, h0 over 20 transition heights, no ramp: h ~ (E/omega^2)^(1/3).
  const auto film = [](double n_rpm, double power) {
    SteadyDrying c = Dilute::closures();
    c.power_of_omega = power;
    c.omega_ref = rpm(3000).rad_per_s();
    Column<SteadyDrying> column(c);
    auto y = column.start(400e-6);
    // To where the film is as thin as its solids: what evaporation does later moves no solids.
    Stepper<Column<SteadyDrying>> stepper(column, y, 1e-7);
    REQUIRE(
        stepper.run(held(rpm(n_rpm), seconds(1000)), y, [](double, const auto& at, const auto&) {
          return at[1] < 0.0 ? Next::stop : Next::go_on;
        }));
    return column.dry_m(y);
  };
  const auto exponent = [&](double power) {
    return std::log(film(6000, power) / film(1500, power)) / std::log(4.0);
  };
  CHECK(exponent(0.0) == Approx(-2.0 / 3.0).margin(0.005));
  CHECK(exponent(0.5) == Approx(-0.5).margin(0.005));
  CHECK(exponent(0.8) == Approx(-0.4).margin(0.005));
  const double m = mobility_of(kg_per_m3(1000), pascal_seconds(0.1));
  const double slow = wet_after(held(rpm(1500), seconds(30)), m, 400e-6, 1e-6);
  const double fast = wet_after(held(rpm(6000), seconds(30)), m, 400e-6, 1e-6);
  CHECK(std::log(fast / slow) / std::log(4.0) == Approx(-1.0).margin(0.005));
}

TEST_CASE("thinning: curves that are no curves are refused with the point named") {
  const auto fault_of = [](const SpeedCurve& curve) {
    const auto made = pieces_of(curve);
    REQUIRE_FALSE(made.ok());
    CHECK(made.fault().kind == FaultKind::input);
    return to_text(made.fault());
  };
  CHECK_THAT(fault_of({{seconds(0), rpm(100)}}), Catch::Matchers::ContainsSubstring("two points"));
  CHECK_THAT(fault_of({{seconds(1), rpm(0)}, {seconds(0), rpm(9)}}),
             Catch::Matchers::ContainsSubstring("point 2"));
  CHECK_THAT(fault_of({{seconds(0), rpm(0)}, {seconds(0), rpm(9)}}),
             Catch::Matchers::ContainsSubstring("no time"));
  CHECK_THAT(fault_of({{seconds(0), rpm(0)}, {seconds(std::nan("")), rpm(9)}}),
             Catch::Matchers::ContainsSubstring("not a number"));
}

TEST_CASE("thinning: a spindle that turns back slows to rest on the way") {
  const auto pieces = pieces_of({{seconds(0), rpm(1000)}, {seconds(2), rpm(-1000)}}).value();
  REQUIRE(pieces.size() == 2);
  CHECK(pieces[0].omega_end() == Approx(0.0).margin(1e-12));
  CHECK(pieces[1].omega_end() == Approx(rpm(1000).rad_per_s()));
}
