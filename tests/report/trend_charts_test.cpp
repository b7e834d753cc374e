// A trend shows each coat at its own place, with what is known of it and no more.
#include "catch.hpp"
#include "whirler/report/trend_charts.hpp"
#include "xml_check.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::report;
using Catch::Matchers::ContainsSubstring;

namespace {

film::Estimate about(double um) {
  return {micrometres(um), micrometres(um * 0.7), micrometres(um * 1.4)};
}

} // namespace

TEST_CASE("a film trend has a mark for what was wanted, estimated and measured, and none else") {
  const std::vector<FilmOfCoat> coats{{4, micrometres(1.6), about(1.7), micrometres(1.5)},
                                      {7, std::nullopt, about(1.9), std::nullopt},
                                      {9, std::nullopt, std::nullopt, micrometres(2.2)}};
  const Chart chart = film_trend(coats, {4, 9});
  REQUIRE(chart.points.size() == 2);
  REQUIRE(chart.points[0].points.size() == 2);
  CHECK(chart.points[0].points[1].x == 7.0);
  CHECK(chart.points[0].points[1].y == Approx(1.9));
  REQUIRE(chart.points[1].points.size() == 2);
  CHECK(chart.points[1].points[1].x == 9.0);
  CHECK(chart.points[1].points[1].y == Approx(2.2));
  REQUIRE(chart.lines.size() == 2);
  REQUIRE(chart.lines[0].points.size() == 3);
  CHECK(chart.lines[0].points[0].y == Approx(1.6));
  CHECK(chart.lines[0].points[0].x < 4.0);
  CHECK(chart.lines[0].points[1].x > 4.0);
  CHECK(std::isnan(chart.lines[0].points[2].x)); // the pen is lifted before the next coat
  CHECK(chart.lines[1].points[3].y == Approx(1.9 * 0.7));
  CHECK(chart.lines[1].points[4].y == Approx(1.9 * 1.4));
  CHECK(xml_fault(draw(chart).file()).empty());
}

TEST_CASE("trends of nothing and of one coat are still charts, with whole numbers on the axis") {
  CHECK(xml_fault(draw(film_trend({}, {})).file()).empty());
  CHECK(xml_fault(draw(jitter_trend({}, {})).file()).empty());
  CHECK(xml_fault(draw(factor_trend({}, {})).file()).empty());
  const std::vector<JitterOfCoat> one{
      {3, milliradians(2.0), {milliradians(1.5), milliradians(2.5)}}};
  const Chart chart = jitter_trend(one, {3, 3});
  const std::string drawn = draw(chart).file();
  for (const char* tick : {">3<", ">4<", ">5<"})
    CHECK_THAT(drawn, ContainsSubstring(tick));
  for (const char* none : {">3.5<", ">2.5<", ">9<"})
    CHECK_THAT(drawn, !ContainsSubstring(none));
  CHECK(chart.lines[0].points[0].y == Approx(1.5));
  CHECK(chart.lines[0].points[1].y == Approx(2.5));
}

TEST_CASE("a factor trend has each coat's own ratio beside what all have taught") {
  const std::vector<FactorOfCoat> coats{{1, 1.30, 1.28, 1.10, 1.48}, {5, 1.10, 1.21, 1.09, 1.34}};
  const Chart chart = factor_trend(coats, {1, 5});
  CHECK(chart.points[0].points[1].y == 1.10);
  CHECK(chart.lines[0].points.back().y == 1.21);
  CHECK(chart.bands[0].low.back().y == 1.09);
  CHECK(chart.bands[0].high.front().y == 1.48);
  CHECK(chart.levels[0].at == 1.0);
}

TEST_CASE("all charts of a trend have one axis, whatever is known of its first and last coats") {
  const CoatSpan all{11, 26};
  const Chart film = film_trend(std::vector<FilmOfCoat>{{14, {}, about(1.7), {}}}, all);
  const Chart jitter = jitter_trend(
      std::vector<JitterOfCoat>{{12, milliradians(2.0), {milliradians(1.5), milliradians(2.5)}}},
      all);
  const Chart factor = factor_trend(std::vector<FactorOfCoat>{{19, 1.3, 1.28, 1.1, 1.48}}, all);
  for (const Chart* chart : {&film, &jitter, &factor}) {
    CAPTURE(chart->title);
    REQUIRE(chart->x_range);
    CHECK(chart->x_range->low == 10.5);
    CHECK(chart->x_range->high == 26.5);
  }
}
