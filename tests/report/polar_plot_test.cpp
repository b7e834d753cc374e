#include "catch.hpp"
#include "whirler/report/polar_plot.hpp"
#include "xml_check.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

using namespace whirler;
using namespace whirler::report;
using Catch::Matchers::ContainsSubstring;

namespace {

PolarPlot plot_of(double size, double deg, bool clockwise) {
  PolarPlot plot;
  plot.title = "Unbalance";
  plot.unit = "g mm";
  plot.clockwise = clockwise;
  plot.vectors = {{"as it is", size, degrees(deg), ellipse_95(4.0, 1.5, 1.0), Look::heavy}};
  plot.limits = {{"G 6.3", 6.0}};
  return plot;
}

/// Where the first vector's tip is on paper.
Xy tip_of(const std::string& svg) {
  const auto at = svg.find("<line class=\"heavy\"", svg.find("<ellipse"));
  const auto number = [&](const std::string& name) {
    const auto from = svg.find(name + "=\"", at) + name.size() + 2;
    return std::stod(svg.substr(from));
  };
  return {number("x2") - number("x1"), number("y2") - number("y1")};
}

} // namespace

TEST_CASE(
    "90 deg is to the right of a rotor that turns clockwise, to the left of one that does not") {
  const Xy clockwise = tip_of(draw(plot_of(24.0, 90.0, true)).file());
  CHECK(clockwise.x > 50.0);
  CHECK(clockwise.y == Approx(0.0).margin(0.02));
  const Xy counter = tip_of(draw(plot_of(24.0, 90.0, false)).file());
  CHECK(counter.x == Approx(-clockwise.x).margin(0.02));
  const Xy index = tip_of(draw(plot_of(24.0, 0.0, true)).file());
  CHECK(index.y < -50.0); // upwards
}

TEST_CASE("limits of different kinds differ in dash, in the drawing as in its key, and bear their "
          "names") {
  PolarPlot plot = plot_of(3.0, 40.0, true);
  plot.limits = {{"watch limit", 5.0, Look::watch}, {"stop limit", 9.0, Look::limit}};
  const std::string svg = draw(plot).file();
  const auto count = [&](const std::string& what) {
    std::size_t n = 0;
    for (auto at = svg.find(what); at != std::string::npos; at = svg.find(what, at + 1))
      ++n;
    return n;
  };
  CHECK(count("<circle class=\"watch\"") == 1);
  CHECK(count("<circle class=\"limit\"") == 1);
  CHECK(count("<line class=\"watch\"") == 1);
  CHECK(count("<line class=\"limit\"") == 1);
  CHECK(count(">watch limit<") == 1); // on the circle; the key has the radius behind the name
  CHECK(count(">stop limit<") == 1);
  const auto dash = [&](const std::string& look) {
    const auto at = svg.find("stroke-dasharray", svg.find("." + look + "{"));
    return svg.substr(at, svg.find('}', at) - at);
  };
  CHECK(dash("watch") != dash("limit"));
}

TEST_CASE("a limit's name and the rings' sizes keep off the vector, wherever it points") {
  for (double deg = 0.0; deg < 360.0; deg += 15.0) {
    CAPTURE(deg);
    PolarPlot plot = plot_of(8.0, deg, true);
    plot.limits = {{"stop limit", 9.0, Look::limit}};
    const std::string svg = draw(plot).file();
    const Xy tip = tip_of(svg);
    const double half = plot.size / 2.0;
    const Xy centre{half, 30.0 + half};
    const auto keeps_off = [&](std::size_t text) {
      const auto number = [&](const char* name) {
        return std::stod(svg.substr(svg.find(name, text) + 3));
      };
      const Xy at{number("x=\"") - centre.x, number("y=\"") - 4.0 - centre.y};
      const double length = std::hypot(tip.x, tip.y);
      const double along = (at.x * tip.x + at.y * tip.y) / length;
      const double across = std::abs(at.x * tip.y - at.y * tip.x) / length;
      return along < 0.0 || across > 12.0;
    };
    const auto name = svg.rfind("<text", svg.find(">stop limit<"));
    CHECK(keeps_off(name));
    for (const char* ring : {">5<", ">2<", ">4<"})
      if (const auto at = svg.find(ring); at != std::string::npos)
        CHECK(keeps_off(svg.rfind("<text", at)));
  }
}

TEST_CASE("a circle far beyond all the rest is told in words and leaves the vector its length") {
  PolarPlot plot = plot_of(8.0, 40.0, true);
  plot.vectors[0].ellipse.reset();
  plot.limits = {{"watch limit", 20.0, Look::watch}, {"allowed", 3820.0, Look::limit}};
  const std::string svg = draw(plot).file();
  const auto at = svg.find("<line class=\"heavy\"", svg.find("index mark"));
  const auto number = [&](const std::string& name) {
    return std::stod(svg.substr(svg.find(name + "=\"", at) + name.size() + 2));
  };
  CHECK(std::hypot(number("x2") - number("x1"), number("y2") - number("y1")) > 50.0);
  CHECK_THAT(svg, ContainsSubstring("<circle class=\"watch\""));
  CHECK_THAT(svg, !ContainsSubstring("<circle class=\"limit\""));
  CHECK_THAT(svg, ContainsSubstring("allowed: 3820 g mm, far outside this drawing"));
}

TEST_CASE("a vector too short for an arrow is a dot, and a short arrow has a short head") {
  PolarPlot plot = plot_of(100.0, 40.0, true);
  plot.vectors.push_back({"add", 0.5, degrees(220.0), std::nullopt, Look::second});
  CHECK_THAT(draw(plot).file(), ContainsSubstring("<circle class=\"dot\""));
  plot.vectors.back().size = 50.0;
  CHECK_THAT(draw(plot).file(), !ContainsSubstring("<circle class=\"dot\""));
}

TEST_CASE("no ring lies so near the outer circle that its number would lie on both") {
  for (double size = 10.0; size < 100.0; size *= 1.03) {
    CAPTURE(size);
    PolarPlot plot = plot_of(size, 40.0, true);
    plot.vectors[0].ellipse.reset();
    plot.limits.clear();
    const std::string svg = draw(plot).file();
    int rings = 0;
    for (auto at = svg.find("<circle class=\"grid\""); at != std::string::npos;
         at = svg.find("<circle class=\"grid\"", at + 1), ++rings)
      CHECK(std::stod(svg.substr(svg.find(" r=\"", at) + 4)) < 158.0); // the outer one has 164
    CHECK(rings >= 2);
  }
}

TEST_CASE("holes are marks on the rim, and the key says what each takes") {
  PolarPlot plot = plot_of(8.0, 40.0, true);
  plot.marks_name = "in the holes";
  plot.marks = {{degrees(90.0), "0.4 g"}, {degrees(120.0), "0.5 g"}};
  const std::string svg = draw(plot).file();
  CHECK_THAT(svg, ContainsSubstring("in the holes: 0.4 g at 90 deg, 0.5 g at 120 deg"));
  CHECK_THAT(svg, ContainsSubstring("<circle class=\"hole\" cx=\"374\" cy=\"240\"")); // rim, right
}

TEST_CASE("which way the angles turn is written in the plot, and that it is not known where it is "
          "not") {
  PolarPlot plot = plot_of(8.0, 40.0, true);
  CHECK_THAT(draw(plot).file(), ContainsSubstring(">clockwise<"));
  plot.clockwise = false;
  CHECK_THAT(draw(plot).file(), ContainsSubstring(">counter-clockwise<"));
  plot.clockwise.reset();
  CHECK_THAT(draw(plot).file(), ContainsSubstring(">with the rotation<"));
  CHECK_THAT(draw(plot).file(), ContainsSubstring("drawn clockwise"));
}

TEST_CASE("a circle's name is clear of every circle's line") {
  const double other = GENERATE(3.0, 5.0, 8.5);
  CAPTURE(other);
  PolarPlot plot = plot_of(7.0, 30.0, true);
  plot.limits = {{"allowed, G 6.3 at 3000 rpm", 9.0}, {"watch limit", other, Look::watch}};
  const std::string svg = draw(plot).file();
  const Xy centre{plot.size / 2.0, 30.0 + plot.size / 2.0};
  const auto text = svg.rfind("<text", svg.find(">" + plot.limits[0].name + "<"));
  const auto number = [&](const char* name, std::size_t from) {
    return std::stod(svg.substr(svg.find(name, from) + std::string(name).size()));
  };
  const double half = width_of(plot.limits[0].name, Words::small) / 2.0;
  for (const char* look : {"limit", "watch"}) {
    const auto circle = svg.find("<circle class=\"" + std::string(look) + "\"");
    const double radius = number(" r=\"", circle);
    double least = 1e9;
    for (double x = -half; x <= half; x += 1.0)
      for (double y = -8.0; y <= 2.0; y += 1.0) // from the base line: capitals and tails
        least = std::min(least, std::abs(std::hypot(number("x=\"", text) + x - centre.x,
                                                    number("y=\"", text) + y - centre.y) -
                                         radius));
    CHECK(least > 1.0);
  }
}

TEST_CASE("exact: the ellipse has the axes and the turn of its covariance") {
  const double k = std::sqrt(5.991464547107979);
  const Ellipse along = ellipse_95(9.0, 0.0, 4.0);
  CHECK(along.longer == Approx(3.0 * k).epsilon(1e-12));
  CHECK(along.shorter == Approx(2.0 * k).epsilon(1e-12));
  CHECK(along.longer_at.deg() == Approx(0.0).margin(1e-12));
  const Ellipse across = ellipse_95(4.0, 0.0, 9.0);
  CHECK(std::abs(across.longer_at.deg()) == Approx(90.0));
  const Ellipse slanted = ellipse_95(6.5, 2.5, 6.5);
  CHECK(slanted.longer == Approx(3.0 * k).epsilon(1e-12));
  CHECK(slanted.longer_at.deg() == Approx(45.0));
}

TEST_CASE("a polar plot is well-formed whatever it shows, and says it in words too") {
  const double size = GENERATE(0.0, 24.0, 1e9, std::numeric_limits<double>::quiet_NaN());
  CAPTURE(size);
  CHECK(xml_fault(draw(plot_of(size, 40.0, true)).file()).empty());
  CHECK(xml_fault(draw(PolarPlot{}).file()).empty());
  const std::string svg = draw(plot_of(24.0, 40.0, true)).file();
  CHECK_THAT(svg, ContainsSubstring("24 g mm at 40 deg"));
  CHECK_THAT(svg, ContainsSubstring("index mark"));
  CHECK_THAT(svg, ContainsSubstring("G 6.3: 6 g mm"));
}
