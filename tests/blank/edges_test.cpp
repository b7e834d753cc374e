#include "catch.hpp"
#include "plates.hpp"
#include "whirler/blank/edges.hpp"

using namespace whirler;
using namespace whirler::blank;
using Catch::Matchers::ContainsSubstring;

namespace {

const Rectangle kOutline{millimetres(100.0), millimetres(80.0)};

EdgeDistances edges_mm(double left, double right, double bottom, double top) {
  return {millimetres(left), millimetres(right), millimetres(bottom), millimetres(top)};
}

} // namespace

TEST_CASE("exact: four edge distances give the hole's place") {
  // diameter 4 at (0.6, -0.3): left edge of the hole 48.6 from the left, bottom 37.7 from below
  const auto found = hole_position(kOutline, millimetres(4.0), edges_mm(48.6, 47.4, 37.7, 38.3));
  REQUIRE(found.ok());
  CHECK(found->at.x.mm() == Approx(0.6).epsilon(1e-12));
  CHECK(found->at.y.mm() == Approx(-0.3).epsilon(1e-12));
  CHECK(found->uncertainty.mm() == Approx(0.0).margin(1e-9));
}

TEST_CASE("readings that are all long by the same amount give the same place, less surely") {
  const auto found = hole_position(kOutline, millimetres(4.0), edges_mm(48.7, 47.5, 37.8, 38.4));
  REQUIRE(found.ok());
  CHECK(found->at.x.mm() == Approx(0.6).epsilon(1e-12));
  CHECK(found->closure_x.mm() == Approx(0.2).epsilon(1e-9));
  CHECK(found->uncertainty.mm() == Approx(0.1).epsilon(1e-9));
}

TEST_CASE("readings that do not close are refused, and the fault names the direction") {
  const auto across = hole_position(kOutline, millimetres(4.0), edges_mm(48.6, 46.8, 37.7, 38.3));
  REQUIRE_FALSE(across.ok());
  CHECK_THAT(across.fault().what, ContainsSubstring("left, right"));
  CHECK_THAT(across.fault().what, ContainsSubstring("99.4 mm"));
  const auto along = hole_position(kOutline, millimetres(4.0), edges_mm(48.6, 47.4, 38.7, 38.3));
  REQUIRE_FALSE(along.ok());
  CHECK_THAT(along.fault().what, ContainsSubstring("bottom, top"));
  CHECK_FALSE(hole_position(kOutline, millimetres(4.0), edges_mm(-1.0, 97.0, 38, 38)).ok());
}

TEST_CASE("readings to the hole's middle are told for what they look like") {
  const auto both = hole_position(kOutline, millimetres(4.0), edges_mm(50.6, 49.4, 37.7, 38.3));
  REQUIRE_FALSE(both.ok());
  CHECK_THAT(both.fault().next, ContainsSubstring("these look measured to the hole's middle"));
  const auto one = hole_position(kOutline, millimetres(4.0), edges_mm(48.6, 47.4, 39.7, 38.3));
  REQUIRE_FALSE(one.ok());
  CHECK_THAT(one.fault().next, ContainsSubstring("one of them looks measured"));
  const auto neither = hole_position(kOutline, millimetres(4.0), edges_mm(48.6, 54.4, 37.7, 38.3));
  REQUIRE_FALSE(neither.ok());
  CHECK_THAT(neither.fault().next, ContainsSubstring("measure again"));
}

TEST_CASE("edge distances stand in for the hole's place, on a rectangle only") {
  Blank blank = bare_plate(100.0, 80.0, 1.6, g_per_cm3(1.85));
  blank.hole.diameter = millimetres(4.0);
  blank.edges = edges_mm(48.6, 47.4, 37.7, 38.3);
  CHECK(properties(blank)->hole_off.x.mm() == Approx(0.6).epsilon(1e-9));
  blank.outline = Disc{millimetres(100.0)};
  CHECK_FALSE(properties(blank).ok());
}
