#include "catch.hpp"
#include "whirler/report/coat_charts.hpp"
#include "xml_check.hpp"

using namespace whirler;
using namespace whirler::report;
using Catch::Matchers::ContainsSubstring;

namespace {

JitterPoint point(double at_s, double speed_rpm, double mrad, double deg) {
  return {seconds(at_s),
          rpm(speed_rpm),
          milliradians(mrad),
          {milliradians(mrad - 0.1), milliradians(mrad + 0.1)},
          degrees(deg)};
}

} // namespace

TEST_CASE("the speed chart shows what was asked, what was run, and the machine's limit") {
  const SpeedRecord record{{{seconds(0), rpm(0)}, {seconds(3), rpm(3000)}},
                           {{seconds(0), rpm(0)}, {seconds(3.1), rpm(2990)}},
                           rpm(6000)};
  const Chart chart = speed_chart(record);
  REQUIRE(chart.lines.size() == 2);
  CHECK(chart.lines[0].points[1].y == Approx(2990.0));
  CHECK(chart.lines[1].look == Look::second);
  CHECK(chart.levels.at(0).at == Approx(6000.0));
  CHECK(xml_fault(draw(chart).file()).empty());
}

TEST_CASE("the jitter chart spans the run and carries both limits") {
  const std::vector<JitterPoint> points{point(5, 3000, 2.0, 10), point(6, 3000, 2.1, 12)};
  const Chart chart = jitter_chart(points, {milliradians(3.0), milliradians(6.0)}, seconds(40.0));
  CHECK(chart.x_range->high == Approx(40.0));
  CHECK(chart.levels.size() == 2);
  CHECK(chart.bands[0].high[1].y == Approx(2.2));
  CHECK(xml_fault(draw(jitter_chart({}, {}, seconds(0.0))).file()).empty());
}

TEST_CASE("the film chart is in decades and ends in the expected film") {
  std::vector<film::TracePoint> trace(2);
  trace[0].wet = micrometres(500.0);
  trace[0].dry = micrometres(150.0);
  trace[1].at = seconds(30.0);
  trace[1].wet = micrometres(1.8);
  trace[1].dry = micrometres(1.6);
  const Chart chart =
      film_chart(trace, film::Estimate{micrometres(1.6), micrometres(1.3), micrometres(2.0)});
  CHECK(chart.log_y);
  REQUIRE(chart.points.size() == 1);
  CHECK(chart.points[0].points[0].x == Approx(30.0));
  // The interval as it is, not as wide downwards as up: on an axis of decades that would mislead.
  REQUIRE(chart.lines.size() == 3);
  CHECK(chart.lines[2].points.front().y == Approx(1.3));
  CHECK(chart.lines[2].points.back().y == Approx(2.0));
  CHECK(xml_fault(draw(chart).file()).empty());
  CHECK(film_chart({}, std::nullopt).points.empty());
}

TEST_CASE("a film over the radius is flat with its interval where nothing makes it uneven") {
  RadiusRecord even{{micrometres(1.6), micrometres(1.2), micrometres(2.4)},
                    std::nullopt,
                    std::nullopt,
                    millimetres(60.0),
                    std::nullopt};
  const Chart chart = radius_chart(even);
  REQUIRE(chart.lines.size() == 1);
  for (const Xy& p : chart.lines[0].points)
    CHECK(p.y == Approx(1.6));
  CHECK(chart.lines[0].points.back().x == Approx(60.0));
  REQUIRE(chart.bands.size() == 1);
  CHECK(chart.bands[0].low.back().y == Approx(1.2));
  CHECK(chart.bands[0].high.back().y == Approx(2.4));
  CHECK(xml_fault(draw(chart).file()).empty());
}

TEST_CASE("a film that was looked at across slopes with its interval, up to where the air turns") {
  RadiusRecord domed{{micrometres(1.6), micrometres(1.2), micrometres(2.4)},
                     micrometres(1.8),
                     micrometres(1.5),
                     millimetres(60.0),
                     millimetres(50.0)};
  const Chart chart = radius_chart(domed);
  REQUIRE(chart.lines.size() == 2);
  CHECK(chart.lines[0].points.front().y == Approx(1.8));
  CHECK(chart.lines[0].points.back().y == Approx(1.5));
  CHECK(chart.bands[0].high.front().y == Approx(1.8 * 1.5)); // as far above as the mean's
  CHECK(chart.bands[0].low.back().y == Approx(1.5 * 0.75));
  CHECK(chart.levels[0].at == Approx(1.6));
  domed.radius = millimetres(40.0);
  CHECK(radius_chart(domed).lines.size() == 1);
}

TEST_CASE("amplitudes have no axis below zero, and phases none past a turn") {
  std::vector<JitterPoint> measured{point(1, 600, 0.5, 150), point(2, 3000, 2.9, 300)};
  measured[0].interval = {milliradians(0.0), milliradians(6.0)}; // its bar would reach below
  const auto fitted = [](Speed speed) {
    return Response{milliradians(2.0), degrees(150.0 + 280.0 * speed.rpm() / 3000.0)};
  };
  const ResponseCharts charts = response_charts(measured, fitted);
  CHECK_THAT(draw(charts.amplitude).file(), !ContainsSubstring(">-"));
  const std::string phase = draw(charts.phase).file();
  for (const char* none : {">360<", ">400<", ">450<"})
    CHECK_THAT(phase, !ContainsSubstring(none));
}

TEST_CASE("a phase axis goes up evenly through 0, whichever turn its data is on") {
  const double first = GENERATE(150.0, 510.0, -210.0);
  CAPTURE(first);
  const auto fitted = [&](Speed speed) {
    return Response{milliradians(2.0), degrees(first + 280.0 * speed.rpm() / 3000.0)};
  };
  const std::vector<JitterPoint> measured{point(1, 600, 0.5, 150), point(2, 3000, 2.9, 70)};
  const std::string svg = draw(response_charts(measured, fitted).phase).file();
  std::size_t before = 0;
  for (const char* tick : {">-270<", ">-180<", ">-90<", ">0<", ">90<"}) {
    const auto at = svg.find(tick, before);
    CAPTURE(tick);
    REQUIRE(at != std::string::npos);
    before = at;
  }
}

TEST_CASE("phases stand beside the fitted line, not a turn away, and do not leap") {
  const std::vector<JitterPoint> measured{point(1, 600, 2.1, -119), point(2, 900, 11.0, 170),
                                          point(3, 3000, 2.9, 47)};
  const auto fitted = [](Speed speed) {
    // rises through 180 deg by 1500 rpm, as the mount's lag does
    return Response{milliradians(2.0), degrees(-120.0 + 170.0 * speed.rpm() / 3000.0)};
  };
  const ResponseCharts charts = response_charts(measured, fitted);
  const auto& line = charts.phase.lines[0].points;
  for (std::size_t i = 1; i < line.size(); ++i)
    CHECK(std::abs(line[i].y - line[i - 1].y) < 10.0);
  for (const Xy& p : charts.phase.points[0].points) {
    const double fit = -120.0 + 170.0 * p.x / 3000.0;
    CHECK(std::abs(p.y - fit) <= 180.0 + 1.0);
  }
  CHECK(xml_fault(draw(charts.amplitude).file()).empty());
  CHECK(xml_fault(draw(charts.phase).file()).empty());
  CHECK(response_charts(measured, nullptr).phase.lines[0].points.empty());
}
