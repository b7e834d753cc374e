#include "catch.hpp"
#include "whirler/balance/cures.hpp"

#include <limits>

using namespace whirler;
using namespace whirler::balance;

namespace {
OffBalance off() {
  OffBalance made;
  made.unbalance = {gram_millimetres(24.0), degrees(40.0)};
  made.plate = grams(23.9);
  made.undrilled = grams(24.0);
  return made;
}
} // namespace

TEST_CASE("exact: each cure takes the whole unbalance away") {
  OffBalance given = off();
  given.rim = millimetres(30.0);
  given.rotor = grams(300.0);
  given.grade = millimetres_per_s(6.3);
  const auto made = cures(given);
  REQUIRE(made.ok());
  CHECK(made->shift.by.mm() * 23.9 == Approx(24.0).epsilon(1e-12));
  CHECK(made->shift.towards.deg() == Approx(220.0));
  CHECK(made->redrill.by.mm() == Approx(1.0).epsilon(1e-12));
  CHECK(made->redrill.towards.deg() == Approx(40.0)); // the hole goes to the heavy side
  CHECK(made->counter->mass.g() == Approx(0.8).epsilon(1e-12));
  CHECK(made->counter->at.deg() == Approx(220.0));
  // e = 24/323.9 mm; 6.3 mm/s over that
  CHECK(made->slower->rad_per_s() == Approx(6.3 * 323.9 / 24.0).epsilon(1e-12));
}

TEST_CASE("a plate is shifted by less than its hole's radius, or not at all") {
  OffBalance given = off(); // 1.004 mm
  CHECK(cures(given)->hole_lets_shift);
  given.hole = millimetres(2.1);
  CHECK(cures(given)->hole_lets_shift);
  given.hole = millimetres(2.0);
  CHECK_FALSE(cures(given)->hole_lets_shift);
  CHECK(cures(given)->redrill.by.mm() == Approx(1.0));
}

TEST_CASE("a cure that needs what is not known is left out") {
  const auto made = cures(off());
  REQUIRE(made.ok());
  CHECK_FALSE(made->counter.has_value());
  CHECK_FALSE(made->slower.has_value());
}

TEST_CASE("cures for nothing are refused") {
  OffBalance given = off();
  given.plate = grams(0.0);
  CHECK_FALSE(cures(given).ok());
  given = off();
  given.rim = millimetres(-1.0);
  CHECK_FALSE(cures(given).ok());
  given = off();
  given.unbalance.size = gram_millimetres(std::numeric_limits<double>::quiet_NaN());
  CHECK_FALSE(cures(given).ok());
}
