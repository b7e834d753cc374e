#include "catch.hpp"
#include "whirler/report/plate_drawing.hpp"
#include "xml_check.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::report;
using Catch::Matchers::ContainsSubstring;

namespace {

PlateDrawing plate_of(blank::Outline outline, double hole_x_mm, double hole_y_mm) {
  PlateDrawing made;
  made.blank.name = "Board <7> µ";
  made.blank.outline = std::move(outline);
  made.blank.thickness = millimetres(1.6);
  made.blank.hole = {millimetres(4.2), {millimetres(hole_x_mm), millimetres(hole_y_mm)}};
  const auto properties = blank::properties(made.blank);
  REQUIRE(properties.ok());
  made.properties = *properties;
  return made;
}

double number_at(const std::string& svg, const std::string& name, std::size_t from) {
  return std::stod(svg.substr(svg.find(name + "=\"", from) + name.size() + 2));
}

} // namespace

TEST_CASE("the plate's drawing is well-formed for each kind of outline") {
  PlateDrawing plate = plate_of(blank::Rectangle{millimetres(100), millimetres(80)}, 0.6, -0.3);
  CHECK(xml_fault(draw(plate).file()).empty());
  plate.speed = rpm(9000.0);
  plate.counter = CounterMass{grams(0.8), millimetres(25.0)};
  CHECK(xml_fault(draw(plate).file()).empty());
  CHECK_THAT(draw(plate).file(), ContainsSubstring("0.8 g at r 25 mm"));
  CHECK(xml_fault(draw(plate_of(blank::Disc{millimetres(90)}, 0.0, 0.0)).file()).empty());
  blank::Polygon triangle;
  triangle.corners = {{millimetres(0), millimetres(0)},
                      {millimetres(60), millimetres(0)},
                      {millimetres(0), millimetres(60)}};
  CHECK(xml_fault(draw(plate_of(triangle, 20.0, 20.0)).file()).empty());
}

TEST_CASE("the arrow points to the heavy side, away from the hole's offset") {
  const std::string svg =
      draw(plate_of(blank::Rectangle{millimetres(100), millimetres(80)}, -1.0, 0.0)).file();
  const auto arrow = svg.find("<line class=\"heavy\"");
  REQUIRE(arrow != std::string::npos);
  CHECK(number_at(svg, "x2", arrow) > number_at(svg, "x1", arrow) + 20.0);
  CHECK(number_at(svg, "y2", arrow) == Approx(number_at(svg, "y1", arrow)).margin(0.02));
}

TEST_CASE("no words lie on the plate, whatever its outline and wherever its heavy side is") {
  blank::Polygon bracket; // an L: its hole's arrow leaves the plate
  for (const auto& [x, y] : std::vector<std::pair<double, double>>{
           {0, 0}, {90, 0}, {90, 30}, {35, 30}, {35, 70}, {0, 70}})
    bracket.corners.push_back({millimetres(x), millimetres(y)});
  const std::vector<blank::Outline> outlines{blank::Rectangle{millimetres(160), millimetres(14)},
                                             blank::Disc{millimetres(90)}, bracket};
  for (const blank::Outline& outline : outlines)
    for (int deg = 0; deg < 360; deg += 30) {
      const bool angled = std::holds_alternative<blank::Polygon>(outline);
      const double turn = deg * 3.14159265 / 180.0;
      PlateDrawing plate = plate_of(outline, (angled ? 20.0 : 0.0) + 1.5 * std::cos(turn),
                                    (angled ? 15.0 : 0.0) + 1.5 * std::sin(turn));
      plate.counter = CounterMass{grams(1.25), millimetres(18.0)};
      const std::string svg = draw(plate).file();
      CHECK_THAT(svg, ContainsSubstring("heavy side"));
      for (auto at = svg.find("<text"); at != std::string::npos; at = svg.find("<text", at + 1)) {
        const double y = number_at(svg, "y", at);
        CAPTURE(deg, svg.substr(at, 120));
        CHECK((number_at(svg, "x", at) > 430.0 || y < 42.0 || y > 450.0)); // beside, above, below
      }
    }
}

TEST_CASE("a ring's size in the enlarged hole stands on the side that the arrow leaves free") {
  for (const double y_mm : {-1.5, 1.5}) {
    const std::string svg =
        draw(plate_of(blank::Rectangle{millimetres(100), millimetres(80)}, 0.1, y_mm)).file();
    const auto arrow = svg.rfind("<line class=\"heavy\" x1=\"545");
    REQUIRE(arrow != std::string::npos);
    const bool up = number_at(svg, "y2", arrow) < number_at(svg, "y1", arrow);
    const auto ring = svg.rfind("<text", svg.find(">1 mm<"));
    CHECK((number_at(svg, "y", ring) > 175.0) == up);
  }
}

TEST_CASE("a centred plate has no heavy side to point to") {
  const std::string svg =
      draw(plate_of(blank::Rectangle{millimetres(100), millimetres(80)}, 0.0, 0.0)).file();
  CHECK(svg.find("class=\"heavy\"") == std::string::npos);
}

TEST_CASE("the turbulent circle is drawn only where it crosses the plate, and always said") {
  PlateDrawing plate = plate_of(blank::Rectangle{millimetres(100), millimetres(80)}, 0.0, 0.0);
  plate.speed = rpm(3000.0); // starts at 97 mm
  CHECK_THAT(draw(plate).file(), ContainsSubstring("beyond the plate"));
  CHECK(draw(plate).file().find("class=\"limit\"") == std::string::npos);
  plate.speed = rpm(9000.0);
  CHECK(draw(plate).file().find("<circle class=\"limit\"") != std::string::npos);
}

TEST_CASE("the heavy side's arrow ends on the plate if it can be seen there, and has no scale") {
  // A narrow strip, its hole off towards its short side's end: the arrow points across it.
  for (const double y_mm : {-2.0, 2.0}) {
    const PlateDrawing plate =
        plate_of(blank::Rectangle{millimetres(160), millimetres(14)}, 0.0, y_mm);
    const std::string svg = draw(plate).file();
    const auto arrow = svg.find("<line class=\"heavy\"");
    REQUIRE(arrow != std::string::npos);
    const double px_mm = 400.0 / 2.0 / (plate.properties.corner_radius.mm() * 1.04);
    const double length = std::abs(number_at(svg, "y2", arrow) - number_at(svg, "y1", arrow));
    CHECK(length > 33.0); // thrice its head
    CHECK((length < 35.0 ||
           length / px_mm < 7.0 + std::abs(y_mm))); // from the hole to the far long edge
    CHECK_THAT(svg, ContainsSubstring("at no scale"));
  }
}

TEST_CASE("the grey circle of a counter-mass is told in the drawing's words") {
  PlateDrawing plate = plate_of(blank::Rectangle{millimetres(100), millimetres(80)}, 0.6, -0.3);
  CHECK_THAT(draw(plate).file(), !ContainsSubstring("grey"));
  plate.counter = CounterMass{grams(0.8), millimetres(25.0)};
  CHECK_THAT(draw(plate).file(), ContainsSubstring("grey: that radius"));
}
