#include "catch.hpp"
#include "whirler/balance/tolerance.hpp"

#include <cmath>
#include <limits>

using namespace whirler;
using namespace whirler::balance;

TEST_CASE("exact: the grade's offset and unbalance, by the formula of ISO 21940-11") {
  CHECK(permissible_offset(millimetres_per_s(6.3), rpm(3000.0))->um() ==
        Approx(20.05).epsilon(3e-4));
  CHECK(permissible_unbalance(millimetres_per_s(6.3), rpm(3000.0), kilograms(0.5))->g_mm() ==
        Approx(10.027).epsilon(1e-4));
  CHECK(permissible_offset(millimetres_per_s(2.5), rpm(3600.0))->um() ==
        Approx(6.63).epsilon(5e-4));
  CHECK(permissible_unbalance(millimetres_per_s(2.5), rpm(3600.0), kilograms(100.0))->g_mm() ==
        Approx(663.0).epsilon(5e-4));
}

TEST_CASE("published: permissible unbalance as handbooks and the standard's annex print it") {
  // docs.steelcam.org, handbook p. 1089: 2 kg at 10 000 rpm G 6.3 -> 12 g mm (6.016 um)
  CHECK(permissible_unbalance(millimetres_per_s(6.3), rpm(10000.0), kilograms(2.0))->g_mm() ==
        Approx(12.03).epsilon(5e-4));
  CHECK(permissible_offset(millimetres_per_s(6.3), rpm(10000.0))->um() ==
        Approx(6.016).epsilon(1e-4));
  // the same handbook: 0.152 kg at 2800 rpm -> 3.3 g mm
  CHECK(permissible_unbalance(millimetres_per_s(6.3), rpm(2800.0), kilograms(0.152))->g_mm() ==
        Approx(3.266).epsilon(2e-4));
  // ISO 1940-1, annex (from memory): 3600 kg at 3000 rpm G 2.5 -> 28.6e3 g mm
  CHECK(permissible_unbalance(millimetres_per_s(2.5), rpm(3000.0), kilograms(3600.0))->g_mm() ==
        Approx(28648.0).epsilon(1e-4));
}

TEST_CASE("exact: unbalance to grade to speed and back is the same rotor") {
  const Unbalance u = gram_millimetres(18.75);
  const Mass rotor = kilograms(0.3);
  const auto grade = grade_at(u, rpm(3000.0), rotor);
  REQUIRE(grade.ok());
  CHECK(grade->mm_per_s() == Approx(19.6).epsilon(2e-3));
  CHECK((**highest_speed(u, *grade, rotor)).rpm() == Approx(3000.0).epsilon(1e-12));
  CHECK(permissible_unbalance(*grade, rpm(3000.0), rotor)->g_mm() == Approx(18.75).epsilon(1e-12));
}

TEST_CASE("limit: without unbalance the grade sets no limit to the speed") {
  const auto highest = highest_speed(gram_millimetres(0.0), millimetres_per_s(6.3), grams(300.0));
  REQUIRE(highest.ok());
  CHECK_FALSE(highest->has_value());
}

TEST_CASE("grades step by 2.5 and a velocity falls into the finest that it keeps") {
  const auto grades = standard_grades();
  for (std::size_t i = 1; i < grades.size(); ++i)
    CHECK(grades[i] / grades[i - 1] == Approx(2.5).epsilon(0.02));
  CHECK(standard_grade_for(millimetres_per_s(6.3))->mm_per_s() == Approx(6.3));
  CHECK(standard_grade_for(millimetres_per_s(6.4))->mm_per_s() == Approx(16.0));
  CHECK(standard_grade_for(millimetres_per_s(0.0))->mm_per_s() == Approx(0.4));
  CHECK_FALSE(standard_grade_for(millimetres_per_s(5000.0)).has_value());
}

TEST_CASE("tolerances of nothing, and beyond any rotor, are refused") {
  const double bad = GENERATE(0.0, -1.0, 1e10, 1e300, std::numeric_limits<double>::infinity(),
                              std::numeric_limits<double>::quiet_NaN());
  const auto g = millimetres_per_s(6.3);
  CHECK_FALSE(permissible_offset(millimetres_per_s(bad), rpm(3000.0)).ok());
  CHECK_FALSE(permissible_offset(g, rpm(bad)).ok());
  CHECK_FALSE(permissible_unbalance(g, rpm(3000.0), grams(bad)).ok());
  CHECK_FALSE(grade_at(gram_millimetres(1.0), rpm(bad), grams(300.0)).ok());
  CHECK_FALSE(highest_speed(gram_millimetres(1.0), millimetres_per_s(bad), grams(1.0)).ok());
  CHECK_FALSE(highest_speed(gram_millimetres(1.0), g, grams(bad)).ok());
}
