// The mechanics against closed forms. Formulas: Jeffcott's rotor, recomputed by two independent
// codes; numbers beside each check.
#include "catch.hpp"
#include "whirler/plant/mark_sensor.hpp"
#include "whirler/plant/spinner.hpp"

#include <cmath>
#include <complex>
#include <limits>

using namespace whirler;
using namespace whirler::plant;

namespace {

/// A rotor so heavy to turn that its speed stays where it is put, without drag.
SpinnerModel steady_rotor(double natural_hz) {
  SpinnerModel model;
  model.inertia = kg_m2(1e3);
  model.moving = kilograms(0.6);
  model.natural = hertz(natural_hz);
  model.damping = 0.08;
  model.unbalance = gram_millimetres(24);
  model.heavy_side = degrees(40);
  model.mark_radius = millimetres(15);
  model.drag = {newton_metres(0), newton_metres(0), metres(0)};
  return model;
}

/// Lateness once per turn, D of Re(D exp(-j psi)), from the pulses of whole turns.
std::complex<double> once_per_turn(const std::vector<MarkPulse>& pulses, int marks, double omega) {
  const std::size_t whole = pulses.size() - pulses.size() % static_cast<std::size_t>(marks);
  std::complex<double> sum = 0.0;
  for (std::size_t i = 0; i < whole; ++i) {
    const double psi = kRadPerTurn * pulses[i].mark / marks;
    const double turned = kRadPerTurn * static_cast<double>(i / static_cast<std::size_t>(marks));
    const double late = omega * (pulses[i].at - pulses[0].at).s() - turned -
                        kRadPerTurn * ((pulses[i].mark - pulses[0].mark + marks) % marks) / marks;
    sum += late * std::polar(1.0, psi);
  }
  return 2.0 * sum / static_cast<double>(whole);
}

/// Once-per-turn lateness in rad of a rotor that has run at `speed` until its whirl was steady.
std::complex<double> measured_whirl(const SpinnerModel& model, Speed speed) {
  Motion at;
  at.omega = speed.rad_per_s();
  Spinner spinner(model, at);
  const Duration step = microseconds(250);
  for (Duration t; t < seconds(6); t += step)
    spinner.advance(step, {});
  MarkModel marks;
  marks.per_turn = 8;
  marks.noise = radians(0);
  MarkSensor sensor(marks, 1, {spinner.seen_angle(), spinner.seen_rate()});
  std::vector<MarkPulse> pulses;
  const Duration listened = seconds(40.0 / speed.turns_per_s());
  for (Duration t; t < listened; t += step) {
    spinner.advance(step, {});
    sensor.advance(step, {spinner.seen_angle(), spinner.seen_rate()}, pulses);
  }
  while (pulses.front().mark != 0)
    pulses.erase(pulses.begin());
  return once_per_turn(pulses, marks.per_turn, spinner.speed().rad_per_s());
}

SpinnerModel free_rotor() {
  SpinnerModel model;
  model.inertia = kg_m2(1.4e-4);
  model.unbalance = gram_millimetres(200);
  model.drag = {newton_metres(0), newton_metres(0), metres(0)};
  return model;
}

double wrapped_deg(double deg) { return std::remainder(deg, 360.0); }

} // namespace

TEST_CASE("exact: steady whirl as the pulses show it is Jeffcott's, in size and in phase") {
  // 24 g mm, 0.6 kg, 15 mm, 15 Hz, damping 0.08, heavy side at 40 degrees.
  const auto slow = measured_whirl(steady_rotor(15), rpm(600));
  CHECK(std::abs(slow) == Approx(2.0951e-3).epsilon(0.01));
  CHECK(std::abs(wrapped_deg(std::arg(slow) * 180 / std::numbers::pi + 119.13)) < 0.6);
  const auto fast = measured_whirl(steady_rotor(15), rpm(3000));
  CHECK(std::abs(fast) == Approx(2.9263e-3).epsilon(0.01));
  CHECK(std::abs(wrapped_deg(std::arg(fast) * 180 / std::numbers::pi - 46.98)) < 0.6);
}

TEST_CASE("exact: steady whirl follows the formula below, at and above the mount's speed") {
  for (const double natural : {8.0, 15.0, 25.0, 80.0})
    for (const double speed : {300.0, 600.0, 1000.0, 1500.0, 2000.0, 3000.0, 6000.0}) {
      CAPTURE(natural, speed);
      const double r = speed / 60.0 / natural;
      const std::complex<double> response(1 - r * r, 2 * 0.08 * r);
      const double expected = 24e-6 / 0.6 / 0.015 * r * r / std::abs(response);
      const double lag = std::arg(response);
      const auto got = measured_whirl(steady_rotor(natural), rpm(speed));
      CHECK(std::abs(got) == Approx(expected).epsilon(0.01).margin(2e-8));
      const double phase = (lag - std::numbers::pi / 2) * 180 / std::numbers::pi - 40.0;
      if (expected > 1e-5)
        CHECK(std::abs(wrapped_deg(std::arg(got) * 180 / std::numbers::pi - phase)) < 0.6);
    }
}

TEST_CASE("order: halving the step cuts the error by sixteen") {
  const auto end_of = [](int steps) {
    Motion at;
    at.omega = 80.0;
    SpinnerModel model = free_rotor();
    model.motor.torque = newton_metres(1); // far from both limits: a smooth right side
    model.motor.brake = newton_metres(1);
    Spinner spinner(model, at);
    for (int i = 0; i < steps; ++i)
      spinner.advance(seconds(0.4 / steps), {0.05, true, newton_metres(0), false});
    return spinner.motion();
  };
  const Motion exact = end_of(12800);
  const auto error = [&](int steps) {
    const Motion got = end_of(steps);
    return std::hypot(got.theta - exact.theta, 1e3 * (got.x - exact.x));
  };
  const double order = std::log2(error(200) / error(400));
  CHECK(order > 3.7);
  CHECK(order < 4.5);
}

TEST_CASE("conserves: without motor, drag and damping the energy stays, whirl or no whirl") {
  SpinnerModel model = free_rotor();
  model.damping = 0.0;
  Motion at;
  at.omega = 90.0; // just under the mount's speed: energy flows back and forth
  Spinner spinner(model, at);
  const double before = spinner.energy().J();
  double fastest = 0.0;
  double slowest = 1e9;
  for (int i = 0; i < 40000; ++i) {
    spinner.advance(microseconds(100), {});
    fastest = std::max(fastest, spinner.motion().omega);
    slowest = std::min(slowest, spinner.motion().omega);
  }
  CHECK(spinner.energy().J() == Approx(before).epsilon(1e-6));
  CHECK(fastest - slowest > 1.0); // or there was nothing to conserve
}

TEST_CASE("conserves: what the mount's damping takes is what the energy loses") {
  Motion at;
  at.omega = 120.0;
  SpinnerModel model = free_rotor();
  Spinner spinner(model, at);
  const double before = spinner.energy().J();
  const double c = 2 * model.damping * model.moving.kg() * kRadPerTurn * model.natural.Hz();
  double taken = 0.0;
  const double h = 50e-6;
  for (int i = 0; i < 40000; ++i) {
    const Motion a = spinner.motion();
    spinner.advance(seconds(h), {});
    const Motion b = spinner.motion();
    taken += 0.5 * h * c * (a.vx * a.vx + a.vy * a.vy + b.vx * b.vx + b.vy * b.vy);
  }
  CHECK(taken > 0.05 * before);
  CHECK(before - spinner.energy().J() == Approx(taken).epsilon(1e-3));
}

TEST_CASE("limit: a motor below U^2 w^2/(2 z M) sticks at the mount's speed, one above it passes") {
  // U 1000 g mm, 15 Hz, damping 0.03, M 1 kg: the whirl takes 0.148 N m at 15 Hz.
  const auto reached = [](double torque_N_m) {
    SpinnerModel model = free_rotor();
    model.inertia = kg_m2(2e-3);
    model.moving = kilograms(1.0);
    model.damping = 0.03;
    model.unbalance = gram_millimetres(1000);
    model.motor.torque = newton_metres(torque_N_m);
    model.motor.stall = newton_metres(10);
    Motion at;
    at.omega = 0.7 * kRadPerTurn * 15;
    Spinner spinner(model, at);
    for (Duration t; t < seconds(30); t += microseconds(250))
      spinner.advance(microseconds(250), {1.0, true, newton_metres(0), false});
    return spinner.speed().turns_per_s();
  };
  CHECK(reached(0.08) < 15.0);
  CHECK(reached(0.20) > 60.0);
}

TEST_CASE("exact: from standstill the motor's torque limit sets the slope") {
  SpinnerModel model = free_rotor();
  model.unbalance = gram_millimetres(0);
  Spinner spinner(model);
  for (int i = 0; i < 400; ++i)
    spinner.advance(microseconds(250), {1.0, true, newton_metres(0), false});
  CHECK(spinner.speed().rad_per_s() == Approx(0.1 / 1.4e-4 * 0.1).epsilon(1e-9));
}

TEST_CASE("limit: without drag the motor ends at its own speed, times the command") {
  SpinnerModel model = free_rotor();
  model.unbalance = gram_millimetres(0);
  Spinner spinner(model);
  for (int i = 0; i < 80000; ++i)
    spinner.advance(microseconds(250), {0.3, true, newton_metres(0), false});
  CHECK(spinner.speed().rpm() == Approx(3000).epsilon(1e-6));
}

TEST_CASE("exact: coasting on dry friction is a straight line, on viscous an exponential") {
  SpinnerModel model = free_rotor();
  model.unbalance = gram_millimetres(0);
  Motion at;
  at.omega = 300.0;
  SECTION("dry") {
    model.drag.bearing = newton_metres(2e-3);
    Spinner spinner(model, at);
    for (int i = 0; i < 20000; ++i)
      spinner.advance(microseconds(250), {});
    CHECK(spinner.speed().rad_per_s() == Approx(300.0 - 5.0 * 2e-3 / 1.4e-4).epsilon(1e-9));
  }
  SECTION("viscous") {
    model.drag.viscous_at_1000rpm = newton_metres(2e-3);
    Spinner spinner(model, at);
    for (int i = 0; i < 20000; ++i)
      spinner.advance(microseconds(250), {});
    const double rate = 2e-3 / rpm(1000).rad_per_s() / 1.4e-4;
    CHECK(spinner.speed().rad_per_s() == Approx(300.0 * std::exp(-5.0 * rate)).epsilon(1e-9));
  }
}

TEST_CASE("exact: the table of the air's drag stays with the closed form") {
  SpinnerModel model = free_rotor();
  model.inertia = kg_m2(1.0);
  model.unbalance = gram_millimetres(0);
  model.drag.air_radius = millimetres(80);
  for (const double speed : {50.0, 333.0, 1234.0, 3000.0, 5999.0, 12000.0}) {
    Motion at;
    at.omega = rpm(speed).rad_per_s();
    Spinner spinner(model, at);
    spinner.advance(milliseconds(1), {});
    const double lost = (at.omega - spinner.motion().omega) * 1.0 / 1e-3;
    CHECK(lost == Approx(drag_torque(model.drag, rpm(speed)).N_m()).epsilon(0.005).margin(1e-6));
  }
}

TEST_CASE("a spindle that stops stays where it is, and never turns backwards") {
  SpinnerModel model;
  Motion at;
  at.omega = 20.0;
  Spinner spinner(model, at);
  for (int i = 0; i < 60000; ++i) {
    spinner.advance(microseconds(250), {0.0, true, newton_metres(0), false}); // braking
    REQUIRE(spinner.motion().omega >= 0.0);
  }
  for (int i = 0; i < 40000; ++i)
    spinner.advance(microseconds(250), {});
  CHECK(spinner.motion().omega == 0.0);
}

TEST_CASE("exact: an axis out of plumb swings the speed by m e g sin b/(J w^2)") {
  SpinnerModel model = free_rotor();
  model.inertia = kg_m2(1e-2);
  model.unbalance = gram_millimetres(100);
  model.natural = hertz(2000); // stiff: gravity alone
  model.tilt = degrees(2);
  Motion at;
  at.omega = 10.0;
  Spinner spinner(model, at);
  double most = 0.0;
  double least = 1e9;
  for (int i = 0; i < 100000; ++i) {
    spinner.advance(microseconds(20), {});
    most = std::max(most, spinner.motion().omega);
    least = std::min(least, spinner.motion().omega);
  }
  const double torque = 100e-6 * 9.80665 * std::sin(degrees(2).rad());
  CHECK(0.5 * (most - least) == Approx(torque / (1e-2 * 10.0)).epsilon(0.02));
}

TEST_CASE("a model that cannot be is refused") {
  SpinnerModel model;
  CHECK(check(model).ok());
  const auto broken = [](auto change) {
    SpinnerModel m;
    change(m);
    return !check(m).ok();
  };
  CHECK(broken([](SpinnerModel& m) { m.inertia = kg_m2(0); }));
  CHECK(broken([](SpinnerModel& m) { m.moving = grams(-1); }));
  CHECK(broken([](SpinnerModel& m) { m.natural = hertz(std::nan("")); }));
  CHECK(broken([](SpinnerModel& m) { m.damping = -0.1; }));
  CHECK(broken([](SpinnerModel& m) { m.unbalance = gram_millimetres(20000); }));
  CHECK(broken([](SpinnerModel& m) { m.motor.no_load = rpm(0); }));
}
