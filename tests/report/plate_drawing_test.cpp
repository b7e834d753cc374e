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

TEST_CASE("the words at the arrow keep off the plate's edge, whichever way the heavy side is") {
  for (int deg = 0; deg < 360; deg += 15) {
    CAPTURE(deg);
    const double x_mm = 1.5 * std::cos(deg * 3.14159265 / 180.0);
    const double y_mm = 1.5 * std::sin(deg * 3.14159265 / 180.0);
    const std::string svg =
        draw(plate_of(blank::Rectangle{millimetres(100), millimetres(80)}, x_mm, y_mm)).file();
    const auto words = svg.rfind("<text", svg.find(">heavy side<"));
    const double at = number_at(svg, "x", words);
    const double base = number_at(svg, "y", words);
    const bool ends = svg.find("text-anchor=\"end\"", words) < svg.find(">heavy side<");
    const double left = ends ? at - 72.0 : at; // ten letters of 12 px, 7.2 wide at most
    const auto plate = svg.find("points=\"", svg.find("<polygon class=\"plate\"")) + 8;
    const double plate_left = std::stod(svg.substr(plate));
    const double plate_bottom = std::stod(svg.substr(svg.find(',', plate) + 1));
    const double px_mm = 200.0 / 1.04 /
                         plate_of(blank::Rectangle{millimetres(100), millimetres(80)}, x_mm, y_mm)
                             .properties.corner_radius.mm();
    CHECK(left > plate_left + 4.0);
    CHECK(left + 72.0 < plate_left + 100.0 * px_mm - 4.0);
    CHECK(base < plate_bottom - 4.0);
    CHECK(base - 12.0 > plate_bottom - 80.0 * px_mm + 4.0);
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
