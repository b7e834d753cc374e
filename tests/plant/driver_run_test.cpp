// Whole programs on the simulated driver: the timeline, the loop, the pulses.
#include "catch.hpp"
#include "scripted_host.hpp"

#include <cmath>
#include <numeric>

using namespace whirler;
using namespace whirler::plant;
using link::DriverState;
using link::Latch;
using link::Phase;

namespace {

Program three_steps() {
  Program program;
  program.segments = {segment(0, 500, 500, 3), segment(1, 3000, 1500, 10),
                      segment(2, 1000, 1000, 4)};
  return program;
}

struct DwellFigures {
  double mean_rpm = 0.0;
  double deviation_rpm = 0.0;
  double peak_rpm = 0.0;
};

/// Runs the host until its driver is latched, and takes the true speed in dwells (the first second
/// apart, for the figures of steadiness; all of it for the peak).
std::vector<DwellFigures> run_dwells(ScriptedHost& host, std::size_t segments) {
  std::vector<std::vector<double>> steady(segments);
  std::vector<DwellFigures> figures(segments);
  host.wait_until(
      [&] {
        const auto& report = host.reports.back();
        if (report.phase == Phase::dwell && report.segment) {
          const double speed = host.driver.truth().speed.rpm();
          auto& figure = figures[*report.segment];
          figure.peak_rpm = std::max(figure.peak_rpm, speed);
          if (report.phase_ms > 1000)
            steady[*report.segment].push_back(speed);
        }
        return report.state == DriverState::latched && report.latch != Latch::none;
      },
      seconds(120));
  for (std::size_t i = 0; i < segments; ++i) {
    const auto count = static_cast<double>(steady[i].size());
    const double mean = std::accumulate(steady[i].begin(), steady[i].end(), 0.0) / count;
    double square = 0.0;
    for (const double speed : steady[i])
      square += (speed - mean) * (speed - mean) / count;
    figures[i].mean_rpm = mean;
    figures[i].deviation_rpm = std::sqrt(square);
  }
  return figures;
}

Setup with_inertia(double extra_kg_m2, std::uint64_t seed = 1) {
  Unknowns unknowns;
  unknowns.seed = seed;
  Setup setup = make_setup(plain_machine(), std::nullopt, unknowns).value();
  setup.spinner.inertia += kg_m2(extra_kg_m2);
  return setup;
}

} // namespace

TEST_CASE("a program runs to its end and leaves the driver latched, off, done and still") {
  ScriptedHost host(plain_setup());
  REQUIRE(host.begin(three_steps()));
  CHECK(host.hello->marks_per_turn == 6);
  REQUIRE(host.wait_until([&] { return host.reports.back().latch == Latch::done; }, seconds(60)));
  REQUIRE(host.wait_until([&] { return host.reports.back().state == DriverState::latched; },
                          seconds(10)));
  CHECK_FALSE(host.turning());
  CHECK(host.wait_until([&] { return host.reports.back().still; }, seconds(20)));
  CHECK(host.driver.truth().speed == rpm(0));
  CHECK(host.decoder.discarded() == 0);
}

TEST_CASE("one set of gains holds light and heavy plates: overshoot, mean, steadiness") {
  const double plate_kg_m2 = GENERATE(0.0, 4e-5, 2e-4);
  CAPTURE(plate_kg_m2);
  ScriptedHost host(with_inertia(plate_kg_m2));
  REQUIRE(host.begin(three_steps()));
  const auto figures = run_dwells(host, 3);
  const double targets[] = {500, 3000, 1000};
  for (std::size_t i = 0; i < 3; ++i) {
    CAPTURE(i);
    CHECK(figures[i].mean_rpm == Approx(targets[i]).epsilon(0.005));
    CHECK(figures[i].deviation_rpm < 0.01 * targets[i]);
    CHECK(figures[i].deviation_rpm > 1e-5 * targets[i]); // it hunts a little
  }
  CHECK(figures[1].peak_rpm < 1.02 * 3000); // after a ramp up
  CHECK(host.reports.back().latch == Latch::done);
}

TEST_CASE("exact: ramps and dwells last what the program says, by the driver's clock") {
  ScriptedHost host(plain_setup());
  REQUIRE(host.begin(three_steps()));
  REQUIRE(host.wait_until([&] { return host.reports.back().state == DriverState::latched; },
                          seconds(60)));
  // The clock at the first report of each phase, less what had passed of the phase by then.
  const auto began = [&](std::uint8_t segment, Phase phase) {
    for (const auto& report : host.reports)
      if (report.segment == segment && report.phase == phase)
        return static_cast<double>(report.clock_ms) - report.phase_ms;
    return std::nan("");
  };
  CHECK(began(1, Phase::ramp) - began(0, Phase::dwell) == Approx(3000).margin(3));
  CHECK(began(1, Phase::dwell) - began(1, Phase::ramp) == Approx(2500 / 1.5).margin(3));
  CHECK(began(2, Phase::ramp) - began(1, Phase::dwell) == Approx(10000).margin(3));
  CHECK(began(2, Phase::dwell) - began(2, Phase::ramp) == Approx(2000).margin(3));
}

TEST_CASE("while a ramp runs the true speed keeps to the target's line") {
  ScriptedHost host(plain_setup());
  Program program;
  program.segments = {segment(0, 500, 500, 2), segment(1, 5000, 1000, 1)};
  REQUIRE(host.begin(program));
  double worst = 0.0;
  host.wait_until(
      [&] {
        const auto& report = host.reports.back();
        if (report.segment == 1 && report.phase == Phase::ramp && report.phase_ms > 500)
          worst = std::max(worst, std::abs((host.driver.truth().speed - report.target).rpm()));
        return report.state == DriverState::latched;
      },
      seconds(60));
  CHECK(worst > 0.0);
  CHECK(worst < 120.0); // a report is up to 20 ms old: 20 rpm of it
}

TEST_CASE("exact: pulses reach the host as the sensor saw them, whatever the counter's width") {
  Unknowns unknowns;
  unknowns.tick_bits = GENERATE(as<std::uint8_t>{}, 16, 24, 32);
  Setup setup = make_setup(plain_machine(), std::nullopt, unknowns).value();
  setup.clock_error = 0.0;
  ScriptedHost host(setup);
  Program program;
  program.segments = {segment(0, 300, 300, 3), segment(1, 6000, 2000, 3)};
  REQUIRE(host.begin(program));
  REQUIRE(host.wait_until([&] { return host.reports.back().still; }, seconds(60)));
  link::PulseUnwrapper unwrapper(*host.hello);
  std::vector<std::int64_t> ticks;
  std::vector<std::int16_t> marks;
  for (const auto& batch : host.batches) {
    const auto part = unwrapper.add(batch);
    ticks.insert(ticks.end(), part.ticks.begin(), part.ticks.end());
    marks.insert(marks.end(), part.marks.begin(), part.marks.end());
  }
  CHECK(unwrapper.losses().batches == 0);
  CHECK(unwrapper.losses().pulses == 0);
  CHECK(unwrapper.losses().clock_disagrees == 0);
  CHECK(ticks.size() == host.reports.back().pulses);
  // Every pulse of the last turns is one of the six marks in order, and the count of turns is true.
  const double turns = static_cast<double>(ticks.size()) / 6.0;
  CHECK(turns == Approx(host.driver.truth().turns).margin(0.4));
  // Twenty turns of the fastest second: their time is that of 6000 rpm.
  double fastest = 1e9;
  for (std::size_t i = 120; i < ticks.size(); ++i)
    fastest = std::min(fastest, static_cast<double>(ticks[i] - ticks[i - 120]) * 0.5e-6);
  CHECK(20.0 / fastest * 60.0 == Approx(6000).epsilon(0.01));
  for (std::size_t i = 1; i < marks.size(); ++i)
    if (marks[i - 1] >= 0 && marks[i] >= 0)
      REQUIRE(marks[i] == (marks[i - 1] + 1) % 6);
}

TEST_CASE("the same setup, bytes and steps give the same bytes; another seed others") {
  const auto bytes = [](std::uint64_t seed) {
    SimulatedDriver driver(with_inertia(0.0, seed));
    std::vector<std::uint8_t> all;
    const auto say = [&](const link::HostMessage& m) { driver.receive(link::encode(m, 1)); };
    const std::vector<link::Segment> program{segment(0, 1000, 1000, 5)};
    say(link::Hello{});
    say(link::Clear{});
    say(program[0]);
    say(link::Start{1, rpm_per_s(500), false, rpm(6000), link::program_crc(program), 3});
    for (std::uint16_t i = 0; i < 200; ++i) {
      driver.advance(milliseconds(20));
      say(link::KeepAlive{i});
      const auto said = driver.take_output();
      all.insert(all.end(), said.begin(), said.end());
    }
    return all;
  };
  const auto first = bytes(1);
  CHECK(first.size() > 5000);
  CHECK(first == bytes(1));
  CHECK(first != bytes(2));
}

TEST_CASE("few marks and a low least speed do not look like a tach that is lost") {
  // `check` cautions below 120 marks a minute.
  struct Few {
    int marks;
    double rpm;
  };
  const Few few =
      GENERATE(Few{1, 100}, Few{1, 120}, Few{2, 60}, Few{3, 40}, Few{6, 20}, Few{12, 10});
  CAPTURE(few.marks, few.rpm);
  auto machine = plain_machine();
  machine.tach.marks_per_turn = few.marks;
  machine.limits.speed_min = rpm(few.rpm);
  ScriptedHost host(make_setup(machine, std::nullopt).value());
  Program program;
  program.segments = {segment(0, few.rpm, 200, 6), segment(1, 1000, 500, 3)};
  program.stop_slope = rpm_per_s(500);
  REQUIRE(host.begin(program));
  const auto figures = run_dwells(host, 2);
  CHECK(host.reports.back().latch == Latch::done);
  CHECK(figures[0].mean_rpm == Approx(few.rpm).epsilon(0.15));
  CHECK(figures[1].mean_rpm == Approx(1000).epsilon(0.01));
}

TEST_CASE("a plate bolted off centre shows in the whirl, by the machine's direction") {
  blank::Blank plate;
  plate.outline = blank::Rectangle{millimetres(100), millimetres(80)};
  plate.thickness = millimetres(1.6);
  plate.hole = {millimetres(4), {millimetres(-1), millimetres(0)}}; // heavy side along +x
  Unknowns unknowns;
  unknowns.hub_unbalance = gram_millimetres(0);
  unknowns.plate_x_at = degrees(30);
  auto machine = plain_machine();
  machine.direction = machine::Direction::counterclockwise;
  const auto setup = make_setup(machine, plate, unknowns).value();
  CHECK(setup.spinner.unbalance.g_mm() == Approx(23.68).epsilon(1e-3)); // 100 x 80 x 1.6 at 1.85
  CHECK(setup.spinner.heavy_side.deg() == Approx(30));
  CHECK(setup.spinner.inertia > machine.rotor.inertia);
  plate.hole.at = {millimetres(0), millimetres(-1)}; // heavy side along +y
  CHECK(make_setup(machine, plate, unknowns)->spinner.heavy_side.deg() == Approx(120));
  machine.direction = machine::Direction::clockwise;
  CHECK(make_setup(machine, plate, unknowns)->spinner.heavy_side.deg() == Approx(-60));
}
