#include "../../src/cli/watch_cautions.hpp"
#include "catch.hpp"

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

machine::Machine watched() {
  machine::Machine made;
  made.tach.marks_per_turn = 6;
  made.tach.sensor_on = machine::SensorOn::ground;
  made.mount = machine::Mount{hertz(15), 0.08, grams(600)};
  made.jitter.stop_angle = milliradians(9);
  return made;
}

profile::Timeline two_dwells(Ramp approach = rpm_per_s(500)) {
  profile::Profile made;
  made.steps.resize(2);
  made.stop_ramp = rpm_per_s(500);
  made.steps[0].speed = rpm(500);
  made.steps[1].speed = rpm(3000);
  for (profile::Step& step : made.steps) {
    step.approach = approach;
    step.dwell = seconds(5);
  }
  return profile::timeline(made).value();
}

std::string said(const machine::Machine& machine, Ramp approach = rpm_per_s(500)) {
  std::string all;
  for (const std::string& line : watch_cautions(machine, two_dwells(approach)))
    all += line;
  return all;
}

} // namespace

TEST_CASE("a watch that sees all it promises says nothing, and so does one that promises nothing") {
  CHECK(said(watched()).empty());
  machine::Machine no_limit = watched();
  no_limit.jitter = {};
  no_limit.mount.reset();
  CHECK(said(no_limit).empty());
}

TEST_CASE("a mount that nobody named may hide under the slowest dwell, and that is said before") {
  machine::Machine unnamed = watched();
  unnamed.mount.reset();
  // One turn into the ramp, sqrt(500^2 + 2 x 60 x 500) rpm [math].
  CHECK_THAT(said(unnamed), ContainsSubstring("under 557 rpm (9.3 Hz)") &&
                                ContainsSubstring("Name mount.natural_hz") &&
                                ContainsSubstring("baseline"));
  CHECK_THAT(said(unnamed, rpm_per_s(5000)), ContainsSubstring("under 922 rpm (15 Hz)"));
  unnamed.jitter = {};
  unnamed.jitter.stop_velocity = millimetres_per_s(40);
  CHECK_THAT(said(unnamed), ContainsSubstring("stop nothing") && ContainsSubstring("mount"));
  unnamed.jitter = {};
  unnamed.jitter.stop_force = newtons(2);
  CHECK_THAT(said(unnamed), ContainsSubstring("limits in N need"));
}

TEST_CASE("a mount that is named and passed unseen is told with its speed") {
  machine::Machine soft = watched();
  CHECK_THAT(said(soft, rpm_per_s(5000)), ContainsSubstring("is 900 rpm (15 Hz)") &&
                                              ContainsSubstring("over 922 rpm") &&
                                              ContainsSubstring("a quarter of it"));
  soft.mount->natural = hertz(7);
  CHECK_THAT(said(soft), ContainsSubstring("is 420 rpm (7 Hz)"));
}

TEST_CASE("limits that no pulse of this tach can reach are said to stop nothing") {
  machine::Machine blind = watched();
  blind.tach.marks_per_turn = 1;
  CHECK_THAT(said(blind), ContainsSubstring("one mark a turn"));
  blind.tach.sensor_on = machine::SensorOn::sprung;
  CHECK_THAT(said(blind), ContainsSubstring("rides on the body"));
}

TEST_CASE("two marks a turn are said to see one direction only, whatever else is said") {
  machine::Machine two = watched();
  two.tach.marks_per_turn = 2;
  CHECK_THAT(said(two),
             ContainsSubstring("one direction only") && ContainsSubstring("three marks"));
  two.mount.reset();
  CHECK_THAT(said(two),
             ContainsSubstring("one direction only") && ContainsSubstring("Name mount.natural_hz"));
  two.jitter = {};
  CHECK(said(two).empty());
}
