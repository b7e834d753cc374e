#include "catch.hpp"
#include "whirler/report/plate_drawing.hpp"
#include "xml_check.hpp"

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
