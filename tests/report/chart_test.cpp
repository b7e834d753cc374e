#include "catch.hpp"
#include "whirler/report/chart.hpp"
#include "xml_check.hpp"

#include <cmath>
#include <limits>

using namespace whirler::report;
using Catch::Matchers::ContainsSubstring;

namespace {

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t found = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1))
    ++found;
  return found;
}

Chart with_line(std::vector<Xy> points) {
  Chart chart;
  chart.title = "Speed over time";
  chart.x_name = "time, s";
  chart.y_name = "speed, rpm";
  chart.lines = {{"as run", std::move(points), Look::ink}};
  return chart;
}

/// The y coordinates of the chart's main line.
std::vector<double> line_heights(const std::string& svg) {
  std::vector<double> heights;
  for (auto at = svg.find("<polyline class=\"ink\" points=\""); at != std::string::npos;
       at = svg.find("<polyline class=\"ink\" points=\"", at + 1)) {
    const auto from = svg.find("points=\"", at) + 8;
    const std::string list = svg.substr(from, svg.find('"', from) - from);
    for (auto comma = list.find(','); comma != std::string::npos; comma = list.find(',', comma + 1))
      heights.push_back(std::stod(list.substr(comma + 1)));
  }
  return heights;
}

} // namespace

TEST_CASE("ticks are round numbers within the range, about as many as asked") {
  CHECK(round_ticks(0.0, 10.0, 5) == std::vector<double>{0, 2, 4, 6, 8, 10});
  CHECK(round_ticks(3.0, 3.0, 5) == std::vector<double>{3});
  CHECK(round_ticks(5.0, 1.0, 5).empty());
  CHECK(round_ticks(0.0, std::numeric_limits<double>::infinity(), 5).empty());
  for (const double size : {1e-9, 0.037, 1.0, 6283.0, 1e12}) {
    CAPTURE(size);
    const auto ticks = round_ticks(-0.3 * size, size, 6);
    REQUIRE(ticks.size() >= 2);
    CHECK(ticks.size() <= 8);
    CHECK(ticks.front() >= -0.3 * size * (1.0 + 1e-9));
    CHECK(ticks.back() <= size * (1.0 + 1e-9));
    const double step = ticks[1] - ticks[0];
    const double lead = step / std::pow(10.0, std::floor(std::log10(step) + 1e-9));
    CHECK((std::abs(lead - 1) < 1e-6 || std::abs(lead - 2) < 1e-6 || std::abs(lead - 5) < 1e-6));
  }
}

TEST_CASE("decades are ticked at powers of ten, with 2 and 5 times them where there is room") {
  CHECK(decade_ticks(1.0, 20.0) == std::vector<double>{1, 2, 5, 10, 20});
  CHECK(decade_ticks(0.1, 1000.0).size() == 5);
  CHECK(decade_ticks(0.0, 10.0).empty());
  CHECK(decade_ticks(3.0, 1.0).empty());
}

TEST_CASE("exact: equal ratios of the data are equal steps on an axis of decades") {
  Chart chart = with_line({{0, 500}, {1, 50}, {2, 5}, {3, 0}, {4, 0.5}, {5, 0.5}});
  chart.log_y = true;
  const std::string svg = draw(chart).file();
  const auto heights = line_heights(svg);
  REQUIRE(heights.size() == 5); // the zero is a gap
  CHECK(heights[1] - heights[0] == Approx(heights[2] - heights[1]).margin(0.02));
  CHECK(heights[3] - heights[2] == Approx(heights[1] - heights[0]).margin(0.02));
  CHECK(xml_fault(svg).empty());
}

TEST_CASE("a chart is well-formed and names its axes, lines and levels") {
  Chart chart = with_line({{0, 0}, {5, 3000}, {50, 3000}});
  chart.levels = {{"limit of the machine", 6000.0}};
  chart.bands = {{"95 % sure", {{0, 0}, {50, 2900}}, {{0, 10}, {50, 3100}}}};
  chart.points = {{"measured", {{20, 2990}}, {50.0}, Look::ring}};
  const std::string svg = draw(chart).file();
  CHECK(xml_fault(svg).empty());
  for (const char* words : {"time, s", "speed, rpm", "as run", "limit of the machine", "95 % sure",
                            "measured", ">6000<", ">50<"})
    CHECK_THAT(svg, ContainsSubstring(words));
}

TEST_CASE("a chart of nothing, of one point, of one level, and of no numbers is still a chart") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double inf = std::numeric_limits<double>::infinity();
  for (const auto& points : {std::vector<Xy>{},
                             {{1, 1}},
                             {{1, 7}, {2, 7}},
                             {{nan, 1}, {1, inf}},
                             {{0, -1e308}, {1, 1e308}},
                             {{0, 0}, {0, 0}}})
    CHECK(xml_fault(draw(with_line(points)).file()).empty());
}

TEST_CASE("a point that is no number is a gap, not a line to nowhere") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const std::string whole = draw(with_line({{0, 1}, {1, 2}, {2, 3}, {3, 4}})).file();
  const std::string broken = draw(with_line({{0, 1}, {1, 2}, {1.5, nan}, {2, 3}, {3, 4}})).file();
  CHECK(count(whole, "<polyline class=\"ink\"") == 1);
  CHECK(count(broken, "<polyline class=\"ink\"") == 2);
}

TEST_CASE("a long record is thinned to the paper, and its one peak is kept") {
  std::vector<Xy> record;
  for (int i = 0; i < 200000; ++i)
    record.push_back({i * 1e-3, i == 123456 ? 5000.0 : 3000.0});
  const std::string svg = draw(with_line(record)).file();
  const auto heights = line_heights(svg);
  CHECK(heights.size() < 4000);
  const double level = heights.front();
  CHECK(*std::min_element(heights.begin(), heights.end()) < level - 50.0);
}

TEST_CASE("exact: equal steps of the data are equal steps on paper, upwards") {
  const auto heights = line_heights(draw(with_line({{0, 0}, {1, 100}, {2, 200}})).file());
  REQUIRE(heights.size() == 3);
  CHECK(heights[0] - heights[1] == Approx(heights[1] - heights[2]).margin(0.02));
  CHECK(heights[0] > heights[1]);
}
