// A run that begins with slow running and then ramps so hard that its speed is multiplied within a
// turn: profiles spread the resist that way.
#include "analysed.hpp"

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using test::analysed;
using test::made;

namespace {

constexpr double kTruth_g_mm = 60.0;

Spinner starting_at(double rpm, double rpm_per_s, double natural_hz, int marks) {
  Spinner spinner;
  spinner.marks = marks;
  spinner.mount.unbalance_kg_m = kTruth_g_mm * 1e-6;
  spinner.mount.natural_hz = natural_hz;
  spinner.mount.damping = 0.05;
  spinner.pattern = pattern_without_order_one(marks);
  spinner.noise_rad = 5e-5;
  spinner.motion = Motion::dwell(rpm, 2.3);
  spinner.motion.go_to(3000, rpm_per_s, 5.0);
  return spinner;
}

SpinnerModel bench_on(double natural_hz, int marks) {
  SpinnerModel model;
  model.marks_per_turn = marks;
  model.mark_radius = millimetres(15);
  model.moving_mass = grams(600);
  model.rotor_mass = grams(300);
  model.natural = hertz(natural_hz);
  model.damping = 0.05;
  model.limits.watch_velocity = millimetres_per_s(6.3);
  model.limits.stop_velocity = millimetres_per_s(40);
  return model;
}

} // namespace

TEST_CASE(
    "slow start: after a gentle ramp the figure is sure enough to stop a plate over its limit") {
  const double rpm = GENERATE(70.0, 90.0, 110.0, 135.0);
  const int marks = GENERATE(3, 12, 60);
  CAPTURE(rpm, marks);
  const Analysis a =
      analysed({made(starting_at(rpm, 300, 18, marks), 3), {}, bench_on(18, marks), {}});
  REQUIRE(a.unbalance);
  CHECK(a.unbalance->low.g_mm() < kTruth_g_mm);
  CHECK(a.unbalance->high.g_mm() > kTruth_g_mm);
  CHECK(a.unbalance->high.g_mm() < 1.35 * kTruth_g_mm);
  CHECK(a.judgement.verdict == Verdict::stop);
}

TEST_CASE("slow start: however hard the ramp, a plate over its limit is not called even") {
  const double rpm = GENERATE(70.0, 100.0);
  const double ramp = GENERATE(1500.0, 2500.0);
  const double natural_hz = GENERATE(10.0, 14.0, 24.0);
  const int marks = GENERATE(3, 6, 12, 24);
  for (std::uint64_t seed = 1; seed <= 3; ++seed) {
    CAPTURE(rpm, ramp, natural_hz, marks, seed);
    const auto pulses = made(starting_at(rpm, ramp, natural_hz, marks), seed);
    CHECK(analysed({pulses, {}, bench_on(natural_hz, marks), {}}).judgement.verdict !=
          Verdict::even);
  }
}
