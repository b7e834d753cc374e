#include "catch.hpp"
#include "whirler/balance/places.hpp"

#include <cmath>
#include <limits>
#include <random>

using namespace whirler;
using namespace whirler::balance;
using Complex = std::complex<double>;
using Catch::Matchers::ContainsSubstring;

namespace {

const Length kRim = millimetres(25.0);

PlacedUnbalance wanted(double g_mm, double at_deg) {
  return {gram_millimetres(g_mm), degrees(at_deg)};
}

Complex sum_kg_m(const Shares& shares) {
  Complex sum = 0.0;
  for (const PlacedMass& mass : shares.masses)
    sum += to_kg_m(mass);
  return sum;
}

double total_g(const Shares& shares) {
  double total = 0.0;
  for (const PlacedMass& mass : shares.masses)
    total += mass.mass.g();
  return total;
}

} // namespace

TEST_CASE("published: 83.5 g at 308.87 deg on sixteen holes is 23.3 g and 61.49 g") {
  // ozgurbobinaj.com.tr, worked example: holes at 292.5 and 315 deg
  const auto shares = share_out(wanted(83.5 * 25.0, 308.87), even_places(16, degrees(0.0), kRim));
  REQUIRE(shares.ok());
  REQUIRE(shares->masses.size() == 2);
  CHECK(shares->masses[0].at.deg() == Approx(292.5));
  CHECK(shares->masses[0].mass.g() == Approx(23.3).epsilon(2e-3));
  CHECK(shares->masses[1].at.deg() == Approx(315.0));
  CHECK(shares->masses[1].mass.g() == Approx(61.49).epsilon(2e-3));
}

TEST_CASE("exact: shares add up to the correction, wherever the holes are") {
  std::mt19937 random(17);
  std::uniform_real_distribution<double> angle(0.0, 360.0);
  std::uniform_real_distribution<double> radius(15.0, 40.0);
  for (int i = 0; i < 300; ++i) {
    std::vector<Place> places = even_places(3, degrees(angle(random)), kRim); // round the rim
    for (int k = 0; k < i % 9; ++k)
      places.push_back({degrees(angle(random)), millimetres(radius(random))});
    const PlacedUnbalance target = wanted(40.0, angle(random));
    const auto shares = share_out(target, places);
    REQUIRE(shares.ok());
    CHECK(shares->masses.size() <= 2);
    CHECK(std::abs(sum_kg_m(*shares) - to_kg_m(target)) < 1e-9 * target.size.kg_m());
    CHECK(shares->left.size.g_mm() == 0.0);
  }
}

TEST_CASE("exact: a hole at the wanted angle takes all of it") {
  const auto shares = share_out(wanted(50.0, 90.0), even_places(12, degrees(0.0), kRim));
  REQUIRE(shares.ok());
  REQUIRE(shares->masses.size() == 1);
  CHECK(shares->masses[0].mass.g() == Approx(2.0).epsilon(1e-9));
  const std::vector<Place> one{{degrees(90.0), kRim}};
  CHECK(share_out(wanted(50.0, 90.0), one)->masses.size() == 1);
}

TEST_CASE("a single hole within half a degree serves alone, and what it misses is told") {
  const std::vector<Place> one{{degrees(329.2), kRim}};
  const auto near = share_out(wanted(50.0, 329.6), one);
  REQUIRE(near.ok());
  REQUIRE(near->masses.size() == 1);
  CHECK(near->left.size.g_mm() == Approx(50.0 * std::tan(degrees(0.4).rad())).epsilon(1e-6));
  CHECK_FALSE(share_out(wanted(50.0, 329.8), one).ok());
  const auto small = share_out(wanted(50.0, 329.6), one, {grams(1.0), {}});
  REQUIRE_FALSE(small.ok());
  CHECK_THAT(small.fault().what, ContainsSubstring("the places take 25 of 50 g mm"));
  const auto steps = share_out(wanted(50.0, 329.6), one, {{}, grams(0.3)});
  REQUIRE(steps.ok());
  CHECK(steps->masses[0].mass.g() == Approx(2.1));
}

TEST_CASE("exact: full holes are helped by their neighbours, with no more mass than needed") {
  const auto places = even_places(12, degrees(0.0), kRim);
  const PlaceLimits limits{grams(1.0), std::nullopt};
  const auto shares = share_out(wanted(60.0, 10.0), places, limits);
  REQUIRE(shares.ok());
  CHECK(std::abs(sum_kg_m(*shares) - to_kg_m(wanted(60.0, 10.0))) < 1e-12);
  for (const PlacedMass& mass : shares->masses)
    CHECK(mass.mass.g() <= 1.0 + 1e-9);
  // a search by chance over all shares finds none lighter
  std::mt19937 random(23);
  std::uniform_real_distribution<double> share(0.0, 1.0);
  double lightest = 1e9;
  for (int i = 0; i < 200000; ++i) {
    double masses[12] = {};
    Complex rest = to_kg_m(wanted(60.0, 10.0));
    double total = 0.0;
    for (const std::size_t k : {11U, 2U, 10U}) {
      masses[k] = share(random);
      total += masses[k];
      rest -= masses[k] * 1e-3 * std::polar(0.025, places[k].at.rad());
    }
    // the two nearest holes take the rest
    const Complex a = std::polar(25.0, places[0].at.rad());
    const Complex b = std::polar(25.0, places[1].at.rad());
    const double det = a.real() * b.imag() - a.imag() * b.real();
    const double ma = (rest.real() * b.imag() - rest.imag() * b.real()) * 1e6 / det;
    const double mb = (a.real() * rest.imag() - a.imag() * rest.real()) * 1e6 / det;
    if (ma >= 0.0 && ma <= 1.0 && mb >= 0.0 && mb <= 1.0)
      lightest = std::min(lightest, total + ma + mb);
  }
  REQUIRE(lightest < 1e9);
  CHECK(total_g(*shares) <= lightest + 1e-6);
}

TEST_CASE("masses in steps leave less than a step, and say what is left") {
  const auto places = even_places(8, degrees(0.0), kRim);
  const PlacedUnbalance target = wanted(47.0, 77.0);
  const auto shares = share_out(target, places, {std::nullopt, grams(0.1)});
  REQUIRE(shares.ok());
  for (const PlacedMass& mass : shares->masses)
    CHECK(std::abs(std::remainder(mass.mass.g(), 0.1)) < 1e-9);
  CHECK(shares->left.size.g_mm() < 0.1 * 25.0);
  CHECK(std::abs(sum_kg_m(*shares) + to_kg_m(shares->left) - to_kg_m(target)) < 1e-12);
}

TEST_CASE(
    "of all pairs of holes and whole steps of hardly more mass, none leaves less than what is "
    "told, and more mass halves that") {
  std::mt19937 dice(11);
  std::uniform_real_distribution<double> size(30.0, 150.0);
  std::uniform_real_distribution<double> angle(0.0, 360.0);
  for (int n = 0; n < 40; ++n) {
    const int holes = 4 + n % 9;
    const double step_g = 0.25 + 0.25 * (n % 6);
    const auto places = even_places(holes, degrees(angle(dice)), kRim);
    const PlacedUnbalance target = wanted(size(dice), angle(dice));
    const auto exact = share_out(target, places);
    const auto stepped = share_out(target, places, {std::nullopt, grams(step_g)});
    REQUIRE(exact.ok());
    REQUIRE(stepped.ok());
    const double most_g = total_g(*exact) + step_g + 1e-9;
    double least_g_mm = 1e9;
    for (const Place& one : places)
      for (const Place& other : places)
        for (double a = 0.0; a <= most_g; a += step_g)
          for (double b = 0.0; a + b <= most_g; b += step_g) {
            const Complex left = to_kg_m(target) -
                                 to_kg_m(PlacedMass{grams(a), one.at, one.radius}) -
                                 to_kg_m(PlacedMass{grams(b), other.at, other.radius});
            least_g_mm = std::min(least_g_mm, std::abs(left) * 1e6);
          }
    INFO(holes << " holes, steps of " << step_g << " g");
    CHECK(stepped->left.size.g_mm() <= least_g_mm + 1e-6);
    if (total_g(*stepped) > most_g)
      CHECK(stepped->left.size.g_mm() <= 0.5 * least_g_mm + 1e-6);
  }
}

TEST_CASE("coarse steps in few holes: up to three times the mass where it halves what is left") {
  const Length rim = millimetres(58.0);
  const auto places = even_places(5, degrees(0.0), rim);
  std::mt19937 dice(3);
  std::uniform_real_distribution<double> angle(0.0, 360.0);
  int heavier = 0;
  for (int n = 0; n < 100; ++n) {
    const PlacedUnbalance target = wanted(80.0, angle(dice));
    const auto shares = share_out(target, places, {std::nullopt, grams(0.5)});
    REQUIRE(shares.ok());
    const double exact_g = total_g(*share_out(target, places));
    heavier += total_g(*shares) > exact_g + 0.5 ? 1 : 0;
    double least_g_mm = 1e9;
    for (const Place& one : places)
      for (const Place& other : places)
        for (double a = 0.0; a <= 3.0 * exact_g; a += 0.5)
          for (double b = 0.0; a + b <= 3.0 * exact_g; b += 0.5) {
            const Complex left = to_kg_m(target) - to_kg_m(PlacedMass{grams(a), one.at, rim}) -
                                 to_kg_m(PlacedMass{grams(b), other.at, rim});
            least_g_mm = std::min(least_g_mm, std::abs(left) * 1e6);
          }
    CAPTURE(target.at.deg(), total_g(*shares), exact_g);
    CHECK(total_g(*shares) <= std::max(3.0 * exact_g, exact_g + 0.5) + 1e-9);
    CHECK(shares->left.size.g_mm() <= std::max(2.0 * least_g_mm, 0.05 * 80.0) + 1e-6);
  }
  CHECK(heavier > 0);
}

TEST_CASE("full holes stay full, and the rest comes in steps") {
  const auto shares =
      share_out(wanted(60.0, 40.0), even_places(8, degrees(0.0), kRim), {grams(1.1), grams(0.5)});
  REQUIRE(shares.ok());
  for (const PlacedMass& mass : shares->masses) {
    CHECK(mass.mass.g() <= 1.0 + 1e-9);
    CHECK(std::abs(std::remainder(mass.mass.g(), 0.5)) < 1e-9);
  }
  CHECK(shares->left.size.g_mm() < 0.5 * 25.0);
}

TEST_CASE("places that cannot reach the correction are refused, with what they can") {
  const auto too_much =
      share_out(wanted(200.0, 10.0), even_places(12, degrees(0.0), kRim), {grams(1.0), {}});
  REQUIRE_FALSE(too_much.ok());
  // twelve holes of 25 g mm: the seven within 90 deg of the direction reach about 93 g mm
  CHECK_THAT(too_much.fault().what, ContainsSubstring("of 200 g mm"));
  const std::vector<Place> one_side{{degrees(0.0), kRim}, {degrees(90.0), kRim}};
  const auto wrong_way = share_out(wanted(20.0, 200.0), one_side);
  REQUIRE_FALSE(wrong_way.ok());
  CHECK_THAT(wrong_way.fault().what, ContainsSubstring("either side of 200 deg"));
}

TEST_CASE("places and limits that are none are refused") {
  const auto places = even_places(4, degrees(0.0), kRim);
  CHECK_FALSE(share_out(wanted(1.0, 0.0), {}).ok());
  CHECK_FALSE(share_out(wanted(1.0, 0.0), even_places(129, degrees(0.0), kRim)).ok());
  CHECK_FALSE(share_out(wanted(1.0, 0.0), even_places(4, degrees(0.0), millimetres(0.0))).ok());
  CHECK_FALSE(share_out(wanted(1.0, 0.0), even_places(4, degrees(0.0), metres(1e297))).ok());
  CHECK_FALSE(share_out(wanted(1.0, 0.0), places, {grams(0.0), {}}).ok());
  CHECK_FALSE(share_out(wanted(1.0, 0.0), places, {{}, grams(-1.0)}).ok());
  const auto none_fits = share_out(wanted(1.0, 0.0), places, {grams(0.4), grams(0.5)});
  REQUIRE_FALSE(none_fits.ok());
  CHECK_THAT(none_fits.fault().what, ContainsSubstring("steps of 0.5 g"));
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_FALSE(share_out(wanted(nan, 0.0), places).ok());
  CHECK(share_out(wanted(0.0, 0.0), places)->masses.empty());
}
