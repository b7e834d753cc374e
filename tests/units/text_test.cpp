#include "catch.hpp"
#include "whirler/units/text.hpp"

#include <clocale>
#include <limits>

using namespace whirler;

TEST_CASE("units: a quantity reads back in the unit it was made in") {
  CHECK(rpm(3000).rpm() == Approx(3000).epsilon(1e-15));
  CHECK(rpm(60).turns_per_s() == Approx(1).epsilon(1e-15));
  CHECK(g_per_cm3(1.2).kg_per_m3() == Approx(1200).epsilon(1e-15));
  CHECK(celsius(25).kelvin() == Approx(298.15).epsilon(1e-15));
  CHECK(mJ_per_cm2(30).J_per_m2() == Approx(300).epsilon(1e-15));
}

TEST_CASE("units: text with a unit becomes the quantity") {
  CHECK(parse<Length>("1.4um")->um() == Approx(1.4));
  CHECK(parse<Length>("1.4 µm")->um() == Approx(1.4));
  CHECK(parse<Speed>(" 3000 rpm ")->rpm() == Approx(3000));
  CHECK(parse<Speed>("2.5krpm")->rpm() == Approx(2500));
  CHECK(parse<Temperature>("-4C")->celsius() == Approx(-4));
  CHECK(parse<Duration>("+45s")->s() == Approx(45));
}

TEST_CASE("units: text without a unit, with a wrong one, or not a number is refused") {
  for (const char* text :
       {"1.4", "1.4kg", "", "um", "nan um", "inf s", "1,4um", "1.4 u m", "1e400um"}) {
    CAPTURE(text);
    const auto read = parse<Length>(text);
    REQUIRE_FALSE(read.ok());
    CHECK(read.fault().kind == FaultKind::command_line);
    CHECK_THAT(read.fault().next, Catch::Matchers::ContainsSubstring("um"));
  }
  CHECK_FALSE(parse_number("3x").ok());
}

TEST_CASE("units: numbers are written the same in every locale") {
  const char* had = std::setlocale(LC_ALL, "de_DE.UTF-8"); // may be missing: the claim holds anyway
  CHECK(number_text(2.31983) == "2.32");
  CHECK(number_text(3000.4, 4) == "3000");
  CHECK(number_text(0.0) == "0");
  CHECK(number_text(-0.0) == "0");
  CHECK(number_text(1e-9) == "1e-09");
  CHECK(number_text(std::numeric_limits<double>::quiet_NaN()) == "?");
  if (had != nullptr)
    std::setlocale(LC_ALL, "C");
}
