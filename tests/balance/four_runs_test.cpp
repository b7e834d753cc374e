#include "catch.hpp"
#include "whirler/balance/four_runs.hpp"

#include <cmath>
#include <limits>
#include <random>

using namespace whirler;
using namespace whirler::balance;
using Complex = std::complex<double>;
using Catch::Matchers::ContainsSubstring;

namespace {
PlacedMass trial(double grams_, double at_deg = 0.0) {
  return {grams(grams_), degrees(at_deg), millimetres(30.0)};
}
} // namespace

TEST_CASE("published: four amplitudes without phase give the mass and its place") {
  // Design document of an open balancing project: 8, 11.05, 3.82, 15.09 with 4.5 g.
  const auto made = correct(FourSizes{8.0, 11.05, 3.82, 15.09}, trial(4.5), millimetres(30.0));
  REQUIRE(made.ok());
  CHECK(made->correction.mass.mass.g() == Approx(4.68).epsilon(1.5e-3));
  CHECK(made->correction.mass.at.deg() == Approx(90.3).margin(0.1));
  CHECK(made->consistency == Approx(0.986).epsilon(1e-3));
}

TEST_CASE("exact: any linear machine is balanced, and its readings are consistent") {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> size(0.3, 3.0);
  std::uniform_real_distribution<double> angle(0.0, 360.0);
  for (int i = 0; i < 200; ++i) {
    const PlacedUnbalance unbalance{gram_millimetres(30.0 * size(random)), degrees(angle(random))};
    const double gain = 1e5 * size(random); // the lag does not show in amplitudes
    const double start = angle(random);
    const double mass_g = size(random);
    FourSizes sizes{gain * unbalance.size.kg_m()};
    for (std::size_t k = 0; k < 3; ++k)
      sizes[k + 1] =
          gain * std::abs(to_kg_m(unbalance) +
                          to_kg_m(trial(mass_g, start + 120.0 * static_cast<double>(k))));
    const auto made = correct(sizes, trial(mass_g, start), millimetres(30.0));
    REQUIRE(made.ok());
    CHECK(made->consistency == Approx(1.0).epsilon(1e-6));
    CHECK(std::abs(to_kg_m(made->correction.mass) + to_kg_m(unbalance)) <
          1e-6 * unbalance.size.kg_m());
  }
}

TEST_CASE("amplitudes that no machine gives are refused") {
  for (const FourSizes& sizes :
       {FourSizes{3, 5, 1, 1}, FourSizes{1, 1, 1, 1}, FourSizes{1, 2, 2, 2}, FourSizes{5, 1, 1, 2},
        FourSizes{0, 1, 2, 1}, FourSizes{1, -1, 2, 1}, FourSizes{1e200, 1e200, 1e200, 1e200},
        FourSizes{1, std::numeric_limits<double>::quiet_NaN(), 2, 1}}) {
    CAPTURE(sizes[0], sizes[1], sizes[2], sizes[3]);
    const auto made = correct(sizes, trial(2.0), millimetres(30.0));
    REQUIRE_FALSE(made.ok());
    CHECK(made.fault().kind == FaultKind::input);
    CHECK_FALSE(made.fault().next.empty());
    CHECK(made.fault().what.find('?') == std::string::npos); // a number that is none
  }
}

TEST_CASE("a trial mass that did less than the meter's noise is refused") {
  FourSizes sizes{10.0};
  for (std::size_t k = 0; k < 3; ++k) // the trial adds 0.2
    sizes[k + 1] =
        std::abs(10.0 + std::polar(0.2, degrees(120.0 * static_cast<double>(k) - 50.0).rad()));
  REQUIRE(correct(sizes, trial(2.0), millimetres(30.0)).ok());
  CHECK_FALSE(correct(sizes, trial(2.0), millimetres(30.0), ReadingQuality{0.1}).ok());
}

TEST_CASE("exact: the stated spread is that of many noisy amplitudes") {
  const double sigma = 0.1;
  const FourSizes sizes{8.0, 11.05, 3.82, 15.09};
  const auto clean = correct(sizes, trial(4.5), millimetres(30.0), ReadingQuality{sigma});
  std::mt19937 random(9);
  std::normal_distribution<double> noise(0.0, sigma);
  double square = 0.0;
  constexpr int kTrials = 20000;
  for (int i = 0; i < kTrials; ++i) {
    FourSizes noisy = sizes;
    for (double& v : noisy)
      v += noise(random);
    const auto made = correct(noisy, trial(4.5), millimetres(30.0));
    square += std::norm(to_kg_m(made->correction.mass) - to_kg_m(clean->correction.mass)) / kTrials;
  }
  CHECK(clean->correction.spread.rms().kg_m() == Approx(std::sqrt(square)).epsilon(0.03));
}

TEST_CASE("four runs: the bound holds for readings good to 5 %, and a weak trial has none") {
  std::mt19937 random(23);
  std::normal_distribution<double> error(0.0, 0.05);
  for (const double mass_g : {0.1, 1.0, 3.0}) {
    int bounded = 0;
    int held = 0;
    int answered = 0;
    for (int i = 0; i < 1000; ++i) {
      const PlacedUnbalance unbalance{gram_millimetres(60.0), degrees(0.37 * i)};
      FourSizes sizes{unbalance.size.g_mm() * (1.0 + error(random))};
      for (std::size_t k = 0; k < 3; ++k)
        sizes[k + 1] =
            1e6 * (1.0 + error(random)) *
            std::abs(to_kg_m(unbalance) + to_kg_m(trial(mass_g, 120.0 * static_cast<double>(k))));
      const auto made = correct(sizes, trial(mass_g), millimetres(30.0));
      answered += made.ok() ? 1 : 0;
      if (!made.ok() || !made->correction.bound_95)
        continue;
      ++bounded;
      held += std::abs(to_kg_m(made->correction.mass) + to_kg_m(unbalance)) <=
                      made->correction.bound_95->kg_m()
                  ? 1
                  : 0;
    }
    CAPTURE(mass_g, answered, bounded, held);
    CHECK(held >= static_cast<int>(0.94 * bounded));
    if (mass_g >= 1.0) {
      CHECK(bounded > answered * 95 / 100);
    }
    if (mass_g < 0.5) {
      CHECK(bounded < 100);
    }
  }
}

TEST_CASE("four readings that are all one are called that, with no ratio of nothing to nothing") {
  const auto made = correct(FourSizes{1, 1, 1, 1}, trial(2.0), millimetres(30.0));
  REQUIRE_FALSE(made.ok());
  CHECK_THAT(made.fault().what, ContainsSubstring("the same"));
  CHECK_THAT(made.fault().what, !ContainsSubstring("times"));
}
