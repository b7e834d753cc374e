#include "catch.hpp"
#include "plates.hpp"
#include "whirler/blank/properties.hpp"

#define BOOST_ALLOW_DEPRECATED_HEADERS // Boost 1.74's own geometry includes one
#include <boost/geometry.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

using namespace whirler;
using namespace whirler::blank;

namespace {

/// The same rectangle as a polygon, turned by `turn` and moved.
Polygon turned_rectangle(double width, double height, Angle turn, double dx, double dy) {
  const double c = std::cos(turn.rad());
  const double s = std::sin(turn.rad());
  std::vector<std::pair<double, double>> corners;
  for (const auto& [x, y] : {std::pair{-1.0, -1.0}, {1.0, -1.0}, {1.0, 1.0}, {-1.0, 1.0}}) {
    const double a = x * width / 2.0;
    const double b = y * height / 2.0;
    corners.emplace_back(c * a - s * b + dx, s * a + c * b + dy);
  }
  return polygon_mm(corners);
}

Polygon regular(int sides, double radius_mm) {
  std::vector<std::pair<double, double>> corners;
  for (int k = 0; k < sides; ++k) {
    const double angle = kRadPerTurn * k / sides;
    corners.emplace_back(radius_mm * std::cos(angle), radius_mm * std::sin(angle));
  }
  return polygon_mm(corners);
}

} // namespace

TEST_CASE("exact: unbalance is the mass before drilling times the hole's offset") {
  // 50 x 75 x 1 mm of density 2500 kg/m3 weigh 9.375 g; 2 mm off makes 18.75 g mm, by hand.
  Blank blank = bare_plate(50.0, 75.0, 1.0, kg_per_m3(2500.0));
  for (const double diameter : {0.001, 3.0, 12.0}) {
    CAPTURE(diameter);
    blank.hole = {millimetres(diameter), at_mm(0.0, -2.0)};
    const auto plate = properties(blank);
    REQUIRE(plate.ok());
    CHECK(plate->undrilled_mass.g() == Approx(9.375).epsilon(1e-12));
    CHECK(plate->unbalance.g_mm() == Approx(18.75).epsilon(1e-12));
    CHECK(plate->mass.g() * plate->offset.size().mm() == Approx(18.75).epsilon(1e-12));
    CHECK(plate->offset.direction().deg() == Approx(90.0).epsilon(1e-12)); // heavy side: away
  }
  CHECK(unbalance_force(gram_millimetres(18.75), rpm(3000.0)).N() == Approx(1.8506).epsilon(1e-4));
}

TEST_CASE("exact: a glass-epoxy plate weighs its volume and its foils their ounce") {
  Blank blank = bare_plate(100.0, 80.0, 1.6, g_per_cm3(1.85));
  CHECK(properties(blank)->undrilled_mass.g() == Approx(23.68).epsilon(1e-12));
  blank.copper = {micrometres(34.15), micrometres(34.15)};
  CHECK(properties(blank)->undrilled_mass.g() - 23.68 == Approx(4.88).epsilon(1e-3));
}

TEST_CASE("exact: inertia of rectangle and disc about their centres") {
  Blank blank = bare_plate(100.0, 80.0, 1.6, g_per_cm3(1.85));
  blank.hole.diameter = millimetres(1e-4); // as good as none
  const double m = 23.68e-3;
  CHECK(properties(blank)->inertia.kg_m2() == Approx(m * (0.01 + 0.0064) / 12.0).epsilon(1e-9));
  blank.outline = Disc{millimetres(100.0)};
  const auto disc = properties(blank);
  CHECK(disc->inertia.kg_m2() == Approx(disc->mass.kg() * 0.05 * 0.05 / 2.0).epsilon(1e-9));
  CHECK(disc->area.mm2() == Approx(std::numbers::pi * 2500.0).epsilon(1e-9));
  CHECK(disc->unbalance.g_mm() == Approx(0.0).margin(1e-12));
}

TEST_CASE("conserves: inertia about a shifted axis adds the undrilled mass times offset squared") {
  Blank centred = bare_plate(100.0, 80.0, 1.6, g_per_cm3(1.85));
  Blank off = centred;
  off.hole.at = at_mm(7.0, -4.0);
  const auto a = properties(centred);
  const auto b = properties(off);
  const double shift_m2 = 65e-6;
  CHECK(b->inertia.kg_m2() - a->inertia.kg_m2() ==
        Approx(a->undrilled_mass.kg() * shift_m2).epsilon(1e-9));
  CHECK(a->mass.g() == Approx(b->mass.g()).epsilon(1e-12));
}

TEST_CASE("conserves: figures do not depend on where a polygon lies or how it is turned") {
  Blank plain = bare_plate(60.0, 40.0, 0.8, g_per_cm3(1.9));
  plain.hole.at = at_mm(3.0, 1.0);
  plain.holes = {{millimetres(6.0), at_mm(-20.0, 10.0)}};
  const auto expected = properties(plain);
  REQUIRE(expected.ok());
  const double turn = GENERATE(0.0, 33.0, 90.0, 201.0);
  const double c = std::cos(degrees(turn).rad());
  const double s = std::sin(degrees(turn).rad());
  const auto moved = [&](double x, double y) {
    return at_mm(c * x - s * y + 500.0, s * x + c * y - 120.0);
  };
  Blank blank = plain;
  blank.outline = turned_rectangle(60.0, 40.0, degrees(turn), 500.0, -120.0);
  blank.hole.at = moved(3.0, 1.0);
  blank.holes[0].at = moved(-20.0, 10.0);
  const auto plate = properties(blank);
  REQUIRE(plate.ok());
  CHECK(plate->mass.g() == Approx(expected->mass.g()).epsilon(1e-9));
  CHECK(plate->unbalance.g_mm() == Approx(expected->unbalance.g_mm()).epsilon(1e-9));
  CHECK(plate->inertia.g_mm2() == Approx(expected->inertia.g_mm2()).epsilon(1e-9));
  CHECK(plate->corner_radius.mm() == Approx(expected->corner_radius.mm()).epsilon(1e-9));
  const double turned = plate->offset.direction().deg() - expected->offset.direction().deg() - turn;
  CHECK(std::remainder(turned, 360.0) == Approx(0.0).margin(1e-6));
}

TEST_CASE("exact: an L is the sum of its two rectangles, in either direction of its corners") {
  Blank blank = bare_plate(1.0, 1.0, 1.0, g_per_cm3(1.0));
  std::vector<std::pair<double, double>> corners{{0, 0},   {60, 0},  {60, 20},
                                                 {20, 20}, {20, 50}, {0, 50}};
  if (GENERATE(false, true))
    std::reverse(corners.begin(), corners.end());
  blank.outline = polygon_mm(corners);
  blank.hole = {millimetres(2.0), at_mm(10.0, 10.0)};
  const auto plate = properties(blank);
  REQUIRE(plate.ok());
  // 60 x 20 about (30, 10) and 20 x 30 about (10, 35), 1 mg/mm2; the hole's own part is about
  // itself
  CHECK(plate->undrilled_mass.mg() == Approx(1200.0 + 600.0).epsilon(1e-12));
  const double mx = 1200.0 * (30.0 - 10.0) + 600.0 * 0.0;
  const double my = 0.0 + 600.0 * (35.0 - 10.0);
  CHECK(plate->unbalance.g_mm() == Approx(std::hypot(mx, my) / 1000.0).epsilon(1e-12));
  CHECK(plate->offset.direction().rad() == Approx(std::atan2(my, mx)).epsilon(1e-12));
  const double polar = 1200.0 * (4000.0 / 12.0 + 400.0) + 600.0 * (1300.0 / 12.0 + 625.0) -
                       std::numbers::pi * 0.5; // the hole: pi r^2 times r^2/2, r 1 mm
  CHECK(plate->inertia.g_mm2() == Approx(polar / 1000.0).epsilon(1e-9));
}

TEST_CASE("published: area and balance point of ragged polygons agree with Boost.Geometry") {
  namespace bg = boost::geometry;
  using BgPoint = bg::model::d2::point_xy<double>;
  std::mt19937 random(7);
  std::uniform_real_distribution<double> reach(20.0, 60.0);
  for (int trial = 0; trial < 50; ++trial) {
    std::vector<std::pair<double, double>> corners; // a star about (10, -5): never crosses itself
    bg::model::polygon<BgPoint> peer;
    for (int k = 0; k < 5 + trial; ++k) {
      const double angle = kRadPerTurn * k / (5 + trial);
      const double far = reach(random);
      corners.emplace_back(10.0 + far * std::cos(angle), -5.0 + far * std::sin(angle));
      bg::append(peer.outer(), BgPoint(corners.back().first, corners.back().second));
    }
    bg::correct(peer);
    Blank blank = bare_plate(1.0, 1.0, 1.0, g_per_cm3(1.0));
    blank.outline = polygon_mm(corners);
    blank.hole = {millimetres(4.0), at_mm(10.0, -5.0)};
    const auto plate = properties(blank);
    REQUIRE(plate.ok());
    BgPoint balance(0.0, 0.0);
    bg::centroid(peer, balance);
    CHECK(plate->undrilled_mass.mg() == Approx(bg::area(peer)).epsilon(1e-9));
    CHECK(10.0 - plate->hole_off.x.mm() == Approx(balance.x()).epsilon(1e-9));
    CHECK(-5.0 - plate->hole_off.y.mm() == Approx(balance.y()).epsilon(1e-9));
  }
}

TEST_CASE(
    "limit: a polygon of many corners becomes the disc, twice the corners a quarter the gap") {
  Blank blank = bare_plate(1.0, 1.0, 1.6, g_per_cm3(1.85));
  blank.outline = Disc{millimetres(100.0)};
  const double disc = properties(blank)->inertia.g_mm2();
  double last = 0.0;
  for (const int sides : {64, 128, 256}) {
    blank.outline = regular(sides, 50.0);
    const double gap = disc - properties(blank)->inertia.g_mm2();
    if (last != 0.0)
      CHECK(last / gap == Approx(4.0).epsilon(0.01));
    last = gap;
  }
}

TEST_CASE("exact: other holes pull the balance point away from themselves") {
  Blank blank = bare_plate(100.0, 80.0, 1.0, g_per_cm3(2.0));
  blank.holes = {{millimetres(10.0), at_mm(30.0, 0.0)}};
  const auto plate = properties(blank);
  REQUIRE(plate.ok());
  CHECK(plate->unbalance.g_mm() == Approx(std::numbers::pi * 25.0 * 2e-3 * 30.0).epsilon(1e-9));
  CHECK(std::abs(plate->offset.direction().deg()) == Approx(180.0).epsilon(1e-9));
  CHECK(plate->hole_off.x.mm() > 0.0); // the hole lies right of the balance point
}

TEST_CASE("exact: the nearest edge is measured from the axis") {
  Blank blank = bare_plate(100.0, 80.0, 1.6, g_per_cm3(1.85));
  blank.hole.at = at_mm(7.0, -4.0);
  CHECK(properties(blank)->nearest_edge.mm() == Approx(36.0).epsilon(1e-12));
  blank.outline = Disc{millimetres(100.0)};
  CHECK(properties(blank)->nearest_edge.mm() == Approx(50.0 - std::hypot(7.0, 4.0)));
  blank.outline = polygon_mm({{-30, -30}, {40, -30}, {-30, 40}}); // its long side: x + y = 10
  CHECK(properties(blank)->nearest_edge.mm() == Approx(7.0 / std::sqrt(2.0)).epsilon(1e-12));
}

TEST_CASE("exact: corner speed and energy of a 100 x 80 mm plate at 6000 rpm") {
  const auto plate = properties(bare_plate(100.0, 80.0, 1.6, g_per_cm3(1.85)));
  CHECK(plate->corner_radius.mm() == Approx(64.031).epsilon(1e-5)); // half of hypot(100, 80)
  CHECK(corner_speed(*plate, rpm(6000.0)).m_per_s() == Approx(40.23).epsilon(1e-3));
  const double w = rpm(6000.0).rad_per_s();
  CHECK(energy(*plate, rpm(6000.0)).J() == Approx(0.5 * plate->inertia.kg_m2() * w * w));
}

TEST_CASE("published: a 1.6 mm plate with foils takes up about 3.0 kJ/(m2 K)") {
  // Usual specific heats of glass-epoxy; common practice, no source.
  Blank blank = bare_plate(100.0, 80.0, 1.6, g_per_cm3(1.85));
  blank.copper = {micrometres(35.0), micrometres(35.0)};
  CHECK(heat_capacity(blank).kJ_per_m2_K() == Approx(3.0).epsilon(0.05));
}
