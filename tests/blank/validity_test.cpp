#include "catch.hpp"
#include "plates.hpp"

#include <limits>

using namespace whirler;
using namespace whirler::blank;
using Catch::Matchers::ContainsSubstring;

namespace {

Blank good() { return bare_plate(100.0, 80.0, 1.6, g_per_cm3(1.85)); }

void refused(const Blank& blank, const std::string& says) {
  const auto plate = properties(blank);
  REQUIRE_FALSE(plate.ok());
  CHECK(plate.fault().kind == FaultKind::input);
  CHECK_THAT(plate.fault().what, ContainsSubstring(says));
  CHECK_FALSE(plate.fault().next.empty());
}

} // namespace

TEST_CASE("a blank without a possible size is refused") {
  const double bad = GENERATE(0.0, -1.0, 1e9, std::numeric_limits<double>::infinity(),
                              std::numeric_limits<double>::quiet_NaN());
  CAPTURE(bad);
  Blank blank = good();
  SECTION("thickness") {
    blank.thickness = millimetres(bad);
    refused(blank, "thickness");
  }
  SECTION("width") {
    blank.outline = Rectangle{millimetres(bad), millimetres(80.0)};
    refused(blank, "width");
  }
  SECTION("disc") {
    blank.outline = Disc{millimetres(bad)};
    refused(blank, "diameter");
  }
  SECTION("hole") {
    blank.hole.diameter = millimetres(bad);
    refused(blank, "hole on the spindle");
  }
  SECTION("density") {
    blank.laminate_density = g_per_cm3(bad);
    refused(blank, "density");
  }
}

TEST_CASE("bare faces are allowed, foils below zero are not") {
  Blank blank = good();
  blank.copper = {micrometres(0.0), micrometres(35.0)};
  CHECK(properties(blank).ok());
  blank.copper[0] = micrometres(-1.0);
  refused(blank, "foil");
}

TEST_CASE("a hole outside the outline, or through its edge, is refused") {
  Blank blank = good();
  blank.hole.at = at_mm(60.0, 0.0);
  refused(blank, "outside");
  blank.hole.at = at_mm(49.0, 0.0);
  refused(blank, "edge");
  blank.hole.at = at_mm(47.89, 0.0);
  CHECK(properties(blank).ok());
  blank.outline = Disc{millimetres(90.0)};
  refused(blank, "outside");
  blank.hole.at = at_mm(30.5, 30.5); // 43.1 mm out of 45, radius 2.1
  refused(blank, "edge");
}

TEST_CASE("a hole in the notch of an L is outside it") {
  Blank blank = good();
  blank.outline = polygon_mm({{0, 0}, {60, 0}, {60, 20}, {20, 20}, {20, 50}, {0, 50}});
  blank.hole.at = at_mm(40.0, 35.0);
  refused(blank, "outside");
  blank.hole.at = at_mm(19.0, 30.0);
  refused(blank, "edge");
}

TEST_CASE("holes that meet are refused, and the fault names them") {
  Blank blank = good();
  blank.holes = {{millimetres(3.0), at_mm(20.0, 0.0)}, {millimetres(3.0), at_mm(22.9, 0.0)}};
  refused(blank, "hole 1 meets hole 2");
  blank.holes = {{millimetres(3.0), at_mm(3.0, 0.0)}};
  refused(blank, "the hole on the spindle meets hole 1");
}

TEST_CASE("an outline that is no simple polygon is refused") {
  Blank blank = good();
  blank.outline = polygon_mm({{0, 0}, {10, 10}, {10, 0}, {0, 10}});
  refused(blank, "simple polygon");
  blank.outline = polygon_mm({{0, 0}, {10, 0}, {20, 0}});
  refused(blank, "simple polygon");
  blank.outline = polygon_mm({{0, 0}, {10, 0}});
  refused(blank, "three corners");
  blank.outline = polygon_mm({{0, 0}, {std::numeric_limits<double>::quiet_NaN(), 0}, {5, 5}});
  refused(blank, "out of range");
}

TEST_CASE("a polygon whose first corner is repeated at the end is the same plate") {
  Blank blank = good();
  blank.outline = polygon_mm({{-50, -40}, {50, -40}, {50, 40}, {-50, 40}, {-50, -40}});
  CHECK(properties(blank)->mass.g() == Approx(properties(good())->mass.g()).epsilon(1e-12));
}
