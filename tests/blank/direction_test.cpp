#include "catch.hpp"
#include "plates.hpp"
#include "whirler/blank/direction.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::blank;

TEST_CASE("a direction is named by the edge or corner of the rectangle that it points to") {
  const Outline wide = Rectangle{millimetres(100.0), millimetres(80.0)};
  const double corner = radians(std::atan2(80.0, 100.0)).deg();
  CHECK(side_words(wide, degrees(0.0)) == "right edge");
  CHECK(side_words(wide, degrees(90.0)) == "far edge");
  CHECK(side_words(wide, degrees(180.0)) == "left edge");
  CHECK(side_words(wide, degrees(-90.0)) == "near edge");
  CHECK(side_words(wide, degrees(corner)) == "far right corner");
  CHECK(side_words(wide, degrees(180.0 - corner)) == "far left corner");
  CHECK(side_words(wide, degrees(180.0 + corner)) == "near left corner");
  CHECK(side_words(wide, degrees(-corner)) == "near right corner");
  const Outline strip = Rectangle{millimetres(200.0), millimetres(10.0)};
  CHECK(side_words(strip, degrees(45.0)) == "far edge"); // its corners lie at 2.9 deg
  CHECK(side_words(strip, degrees(2.9)) == "far right corner");
  CHECK(side_words(Disc{millimetres(90.0)}, degrees(45.0)) == "far right side");
}

TEST_CASE(
    "a direction is named only where its edge or corner truly lies, and told in parts always") {
  const Outline probe = Rectangle{millimetres(120.0), millimetres(30.0)};
  const double corner = radians(std::atan2(30.0, 120.0)).deg(); // 14 deg
  CHECK(true_side_words(probe, degrees(35.0)).empty());         // 55 deg from the far edge
  CHECK(true_side_words(probe, degrees(225.0)).empty());
  CHECK(true_side_words(probe, degrees(corner)) == "far right corner");
  CHECK(true_side_words(probe, degrees(corner + 14.9)) == "far right corner");
  CHECK(true_side_words(probe, degrees(corner + 15.1)).empty());
  CHECK(true_side_words(probe, degrees(-1.0)) == "right edge");
  CHECK(true_side_words(probe, degrees(540.0 + corner)) == "near left corner");
  CHECK(true_side_words(probe, degrees(100.0)) == "far edge");
  CHECK(true_side_words(Disc{millimetres(90.0)}, degrees(-130.0)) == "near left side");
  for (double deg = 0.0; deg < 360.0; deg += 1.0) { // of a square the names agree with the old ones
    const Outline square = Rectangle{millimetres(80.0), millimetres(80.0)};
    const std::string name = true_side_words(square, degrees(deg));
    CAPTURE(deg, name);
    CHECK((name.empty() || name == side_words(square, degrees(deg))));
  }
  CHECK(way_words(millimetres(1.0), degrees(35.0)) ==
        "0.819 mm to the right and 0.574 mm away from you");
  CHECK(way_words(millimetres(2.0), degrees(210.0)) == "1.73 mm to the left and 1 mm towards you");
  CHECK(way_words(millimetres(2.0), degrees(90.0)) == "2 mm away from you");
  CHECK(way_words(millimetres(2.0), degrees(180.3)) == "2 mm to the left");
}

TEST_CASE("exact: rotor angles and plate angles are one another's way back") {
  for (const bool clockwise : {false, true})
    for (const bool turned_over : {false, true}) {
      const Mounting mounting{clockwise, degrees(70.0), turned_over};
      for (const double deg : {0.0, 33.0, 179.0, 301.0}) {
        const Angle there = on_plate(degrees(deg), mounting);
        CHECK(on_rotor(there, mounting).deg() == Approx(deg).margin(1e-9));
        CHECK(there.deg() >= 0.0);
        CHECK(there.deg() < 360.0);
      }
    }
}

TEST_CASE("90 deg with a clockwise rotation is at the plate's near edge, its x at the index mark") {
  // seen from above: index mark and x to the right; a quarter turn clockwise points to the reader
  CHECK(on_plate(degrees(90.0), {true, degrees(0.0), false}).deg() == Approx(270.0));
  CHECK(on_plate(degrees(90.0), {false, degrees(0.0), false}).deg() == Approx(90.0));
  // turned over, the drawing is the mirror image
  CHECK(on_plate(degrees(90.0), {true, degrees(0.0), true}).deg() == Approx(90.0));
  CHECK(on_plate(degrees(90.0), {true, degrees(90.0), false}).deg() == Approx(0.0).margin(1e-9));
}
