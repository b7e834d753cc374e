#include "catch.hpp"
#include "whirler/plant/mark_sensor.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::plant;

namespace {

MarkModel quiet(int marks) {
  MarkModel model;
  model.per_turn = marks;
  model.noise = radians(0);
  return model;
}

/// Pulses of a disc that turns at a constant rate, seen in uneven steps.
std::vector<MarkPulse> pulses_at(const MarkModel& model, double rad_per_s, double time_s,
                                 std::uint64_t seed = 1) {
  MarkSensor sensor(model, seed, {0.0, rad_per_s});
  std::vector<MarkPulse> pulses;
  double at = 0.0;
  for (int i = 0; at < time_s; ++i) {
    const double step = 1e-4 * (1 + i % 5);
    at += step;
    sensor.advance(seconds(step), {rad_per_s * at, rad_per_s}, pulses);
  }
  return pulses;
}

} // namespace

TEST_CASE("exact: even marks at constant speed come evenly, one after the other") {
  const int marks = GENERATE(1, 2, 3, 6, 24, 360);
  const double omega = 250.0;
  const auto pulses = pulses_at(quiet(marks), omega, 2.0);
  REQUIRE(pulses.size() > 50);
  for (std::size_t i = 0; i < pulses.size(); ++i) {
    const double turns = static_cast<double>(i + 1) / marks; // mark 0 at angle 0 has passed before
    REQUIRE(pulses[i].at.s() == Approx(kRadPerTurn * turns / omega).epsilon(1e-9));
    REQUIRE(pulses[i].mark == static_cast<int>(i + 1) % marks);
  }
}

TEST_CASE("exact: a mark with a pitch error is late by it, in every turn and at every speed") {
  MarkModel model = quiet(4);
  model.pitch_error = {milliradians(0), milliradians(8), milliradians(-5), milliradians(2)};
  for (const double omega : {20.0, 400.0}) {
    const auto pulses = pulses_at(model, omega, 3.0);
    REQUIRE(pulses.size() > 30);
    for (std::size_t i = 0; i < pulses.size(); ++i) {
      const double even = kRadPerTurn * static_cast<double>(i + 1) / 4;
      const double late = omega * pulses[i].at.s() - even;
      const auto mark = static_cast<std::size_t>(pulses[i].mark);
      REQUIRE(late == Approx(model.pitch_error[mark].rad()).margin(1e-7));
    }
  }
}

TEST_CASE("exact: a pulse's time does not snap to the step while the disc speeds up") {
  MarkSensor sensor(quiet(6), 1);
  std::vector<MarkPulse> pulses;
  const double slope = 300.0; // rad/s2
  for (int i = 1; i <= 2000; ++i) {
    const double t = 1e-3 * i;
    sensor.advance(milliseconds(1), {0.5 * slope * t * t, slope * t}, pulses);
  }
  REQUIRE(pulses.size() > 500);
  for (std::size_t i = 0; i < pulses.size(); ++i) {
    const double angle = kRadPerTurn * static_cast<double>(i + 1) / 6;
    REQUIRE(pulses[i].at.s() == Approx(std::sqrt(2 * angle / slope)).epsilon(1e-8));
  }
}

TEST_CASE("pulse noise has the size that was asked for") {
  MarkModel model = quiet(6);
  model.noise = milliradians(0.5);
  const double omega = 300.0;
  const auto pulses = pulses_at(model, omega, 60.0, 4);
  double square = 0.0;
  for (std::size_t i = 0; i < pulses.size(); ++i) {
    const double late = omega * pulses[i].at.s() - kRadPerTurn * static_cast<double>(i + 1) / 6;
    square += late * late;
  }
  const double rms = std::sqrt(square / static_cast<double>(pulses.size()));
  CHECK(rms == Approx(0.5e-3).epsilon(0.03)); // 17 000 pulses: 0.5 % of itself, one deviation
}

TEST_CASE("exact: a pitch pattern has the root mean square asked for, no mean, and its seed") {
  const auto pattern = pitch_pattern(6, milliradians(5), 42);
  double mean = 0.0;
  double square = 0.0;
  for (const Angle error : pattern) {
    mean += error.rad() / 6;
    square += error.rad() * error.rad() / 6;
  }
  CHECK(mean == Approx(0).margin(1e-15));
  CHECK(std::sqrt(square) == Approx(5e-3).epsilon(1e-12));
  CHECK(pattern == pitch_pattern(6, milliradians(5), 42));
  CHECK(pattern != pitch_pattern(6, milliradians(5), 43));
  CHECK(pitch_pattern(1, milliradians(5), 1).at(0) == radians(0)); // one mark has no pattern
}
