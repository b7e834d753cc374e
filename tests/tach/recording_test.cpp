#include "analysed.hpp"
#include "pulse_faults.hpp"
#include "watched_coat.hpp"

#include <algorithm>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using namespace whirler::test;
using Catch::Matchers::ContainsSubstring;

namespace {

bool shows(const Analysis& analysis, Cause cause) {
  return std::any_of(analysis.findings.begin(), analysis.findings.end(),
                     [&](const Finding& f) { return f.cause == cause; });
}

SpinnerModel limits(int marks, double watch_mrad, double stop_mrad) {
  SpinnerModel model;
  model.marks_per_turn = marks;
  model.limits.watch_angle = milliradians(watch_mrad);
  model.limits.stop_angle = milliradians(stop_mrad);
  return model;
}

Spinner steady(int marks, std::complex<double> d, bool index = true) {
  Spinner spinner;
  spinner.marks = marks;
  spinner.whirls = false;
  spinner.steady = d;
  spinner.noise_rad = 2e-4;
  spinner.motion = Motion::dwell(3000, 10);
  spinner.motion.hunting = 0.0003;
  std::mt19937_64 random(42);
  spinner.pattern = random_pattern(marks, 8e-3, random);
  spinner.with_index = index;
  return spinner;
}

Spinner coat(double unbalance_g_mm, double natural_hz = 15) {
  Spinner spinner = steady(6, 0.0);
  spinner.whirls = true;
  spinner.motion = {{0.0}, {0.0}};
  spinner.motion.go_to(500, 400, 4).go_to(3000, 400, 8);
  spinner.motion.hunting = 0.0003;
  spinner.mount.unbalance_kg_m = unbalance_g_mm * 1e-6;
  spinner.mount.natural_hz = natural_hz;
  return spinner;
}

} // namespace

TEST_CASE("verdict: against a baseline at the same speed") {
  const auto verdict = [](double mrad) {
    Recording r{made(steady(6, std::polar(mrad * 1e-3, 1.0)), 1),
                made(steady(6, 0.0), 2),
                limits(6, 0.5, 1.5),
                {}};
    return analysed(r);
  };
  CHECK(verdict(0.0).judgement.verdict == Verdict::even);
  CHECK(verdict(0.3).judgement.verdict == Verdict::even);
  CHECK(verdict(0.8).judgement.verdict == Verdict::watch);
  CHECK(verdict(2.0).judgement.verdict == Verdict::stop);
  const Analysis stop = verdict(2.0);
  CHECK(stop.figure.amplitude.mrad() == Approx(2.0).margin(0.03));
  REQUIRE(stop.figure.phase);
  CHECK(stop.figure.phase->rad() == Approx(1.0).margin(0.02));
  CHECK(stop.figure.pulse_noise.mrad() == Approx(0.2).epsilon(0.1));
  CHECK(shows(stop, Cause::off_centre));
  CHECK_FALSE(shows(verdict(0.0), Cause::off_centre));
}

TEST_CASE("verdict: one speed and nothing else cannot tell, and says what to add") {
  const Analysis a = analysed({made(steady(6, 3e-3), 1), std::nullopt, limits(6, 0.5, 1.5), {}});
  CHECK(a.judgement.verdict == Verdict::cannot_tell);
  CHECK_FALSE(a.judgement.add.empty());
  CHECK(a.pattern_from == PatternFrom::nothing);
}

TEST_CASE("verdict: a baseline run at another speed is no baseline") {
  Spinner bare = steady(6, 0.0);
  bare.motion = Motion::dwell(1500, 10);
  const Analysis a = analysed({made(steady(6, 0.0), 1), made(bare, 2), limits(6, 0.5, 1.5), {}});
  CHECK(a.judgement.verdict == Verdict::cannot_tell);
}

TEST_CASE("verdict: one mark and a sprung sensor cannot tell whatever the baseline") {
  const Analysis one =
      analysed({made(steady(1, 5e-3), 1), made(steady(1, 0.0), 2), limits(1, 0.5, 1.5), {}});
  CHECK(one.judgement.verdict == Verdict::cannot_tell);
  CHECK(shows(one, Cause::one_mark));
  SpinnerModel sprung = limits(6, 0.5, 1.5);
  sprung.sensor_on = SensorOn::sprung;
  const Analysis body = analysed({made(steady(6, 5e-3), 1), made(steady(6, 0.0), 2), sprung, {}});
  CHECK(body.judgement.verdict == Verdict::cannot_tell);
  CHECK(shows(body, Cause::sprung_sensor));
}

TEST_CASE("verdict: two marks may stop and may not say even") {
  const auto with = [](double mrad) {
    return analysed(
        {made(steady(2, mrad * 1e-3), 1), made(steady(2, 0.0), 2), limits(2, 0.5, 1.5), {}});
  };
  CHECK(with(3.0).judgement.verdict == Verdict::stop);
  CHECK(with(1.0).judgement.verdict == Verdict::watch);
  CHECK(with(0.0).judgement.verdict == Verdict::cannot_tell);
  CHECK_FALSE(with(3.0).figure.phase);
}

TEST_CASE("verdict: without limits the figures are given and nothing is judged") {
  SpinnerModel model;
  model.marks_per_turn = 6;
  const Analysis a = analysed({made(steady(6, 3e-3), 1), made(steady(6, 0.0), 2), model, {}});
  CHECK(a.judgement.verdict == Verdict::cannot_tell);
  CHECK(a.figure.amplitude.mrad() == Approx(3.0).epsilon(0.02));
}

TEST_CASE("baseline: without mark numbers it is laid on by its pattern") {
  Spinner run = steady(6, std::polar(2e-3, 1.0), false);
  Spinner bare = steady(6, 0.0, false);
  bare.first_mark = 4; // its record begins at another mark
  const Analysis a = analysed({made(run, 1), made(bare, 2), limits(6, 0.5, 1.5), {}});
  CHECK(a.figure.amplitude.mrad() == Approx(2.0).margin(0.03));
  REQUIRE(a.figure.phase); // the pattern is its own index, from the first row
  CHECK(a.judgement.verdict == Verdict::stop);
}

TEST_CASE("baseline: even marks without an index give an amplitude and no angle") {
  Spinner run = steady(6, std::polar(2e-3, 1.0), false);
  Spinner bare = steady(6, 0.0, false);
  run.pattern.clear();
  bare.pattern.clear();
  const Analysis a = analysed({made(run, 1), made(bare, 2), limits(6, 0.5, 1.5), {}});
  CHECK(a.figure.amplitude.mrad() == Approx(2.0).margin(0.05));
  CHECK_FALSE(a.figure.phase);
  CHECK(shows(a, Cause::no_index));
  CHECK(a.judgement.verdict == Verdict::stop);
}

TEST_CASE("a stored coat: the run-up stands in for the baseline") {
  const Analysis off = analysed({made(coat(24), 3), std::nullopt, limits(6, 0.5, 1.5), {}});
  CHECK(off.pattern_from == PatternFrom::run_up);
  CHECK(off.judgement.verdict == Verdict::stop);
  CHECK(off.figure.speed.rpm() == Approx(3000).epsilon(2e-3));
  CHECK(off.figure.amplitude.mrad() == Approx(2.926).epsilon(0.03));
  CHECK(shows(off, Cause::off_centre));
  CHECK(shows(off, Cause::uneven_marks));
  CHECK_FALSE(shows(off, Cause::loose_plate));
  CHECK_FALSE(shows(off, Cause::cogging));
  CHECK_FALSE(shows(off, Cause::out_of_plumb));
  CHECK_FALSE(off.trace.empty());
  CHECK_FALSE(off.blocks.empty());
  const Analysis even = analysed({made(coat(0), 3), std::nullopt, limits(6, 0.5, 1.5), {}});
  CHECK(even.judgement.verdict != Verdict::stop);
  CHECK(even.judgement.verdict != Verdict::watch);
  CHECK_FALSE(shows(even, Cause::off_centre));
}

TEST_CASE("with mount and masses the figure is the rotor's e times omega, and grams") {
  SpinnerModel model = calibrated_bench();
  model.limits.watch_velocity = millimetres_per_s(6.3);
  model.limits.stop_velocity = millimetres_per_s(16);
  const double truth = 24e-6 / 0.324 * 3000 * kRpm * 1e3; // 23.3 mm/s
  for (const bool named : {true, false}) {
    CAPTURE(named);
    if (named)
      model.damping = 0.08;
    else
      model.damping.reset();
    const Analysis a = analysed({made(coat(24), 4), std::nullopt, model, {}});
    REQUIRE(a.velocity);
    CHECK(a.velocity->estimate.mm_per_s() == Approx(truth).epsilon(0.04));
    CHECK(a.velocity->low.mm_per_s() < truth);
    CHECK(a.velocity->high.mm_per_s() > truth);
    REQUIRE(a.unbalance);
    CHECK(a.unbalance->estimate.g_mm() == Approx(24).epsilon(0.04));
    REQUIRE(a.unbalance->heavy_side);
    CHECK(a.unbalance->heavy_side->deg() == Approx(40).margin(5));
    CHECK(a.judgement.verdict == Verdict::stop);
  }
  // The same by a baseline at one speed and the named mount.
  Spinner run = steady(6, std::polar(2.9263e-3, 46.98 * kPi / 180));
  const Analysis b = analysed({made(run, 5), made(steady(6, 0.0), 6), model, {}});
  REQUIRE(b.unbalance);
  CHECK(b.unbalance->estimate.g_mm() == Approx(24).epsilon(0.03));
  CHECK(b.unbalance->heavy_side->deg() == Approx(40).margin(3));
}

TEST_CASE("verdict: limits may be the force that the unbalance pulls with, U omega squared") {
  // 24e-6 kg m * (314.16 rad/s)^2 = 2.37 N.
  SpinnerModel model = calibrated_bench();
  const PulseTrain pulses = made(coat(24), 4);
  const auto held = [&](double watch_N, double stop_N) {
    model.limits = {};
    model.limits.watch_force = newtons(watch_N);
    model.limits.stop_force = newtons(stop_N);
    return analysed({pulses, std::nullopt, model, {}}).judgement;
  };
  CHECK(held(0.5, 1.8).verdict == Verdict::stop);
  CHECK(held(1.8, 4.0).verdict == Verdict::watch);
  const Judgement even = held(3.2, 4.0);
  CHECK(even.verdict == Verdict::even);
  CHECK_THAT(even.reason, ContainsSubstring("force of the unbalance 2.") &&
                              ContainsSubstring("under the watch limit of 3.2 N"));
  model.moving_mass.reset(); // no longer to be told from the angle
  const Judgement blind = held(0.5, 1.8);
  CHECK(blind.verdict == Verdict::cannot_tell);
  CHECK_THAT(blind.reason, ContainsSubstring("newton"));
}

TEST_CASE("verdict: a force allowed at a slow dwell is held against the speed reached as well") {
  Spinner spinner = coat(24);
  spinner.motion = {{0.0}, {0.0}};
  spinner.motion.go_to(1500, 500, 6).go_to(3000, 500, 0.1).go_to(1500, 2000, 1);
  SpinnerModel model = calibrated_bench();
  model.limits.watch_force = newtons(1.5); // 0.59 N at 1500 rpm, 2.37 N at 3000
  const Analysis a = analysed({made(spinner, 4), std::nullopt, model, {}});
  CHECK(a.figure.speed.rpm() == Approx(1500).epsilon(0.01));
  CHECK(a.judgement.verdict == Verdict::watch);
  CHECK_THAT(a.judgement.reason, ContainsSubstring("which the run reached"));
}

TEST_CASE("causes: an axis out of plumb, not taken for unbalance") {
  Spinner spinner = coat(0);
  spinner.tilt = std::polar(4.0, 0.5); // 1.5 mrad at 500 rpm
  const Analysis a = analysed({made(spinner, 7), std::nullopt, limits(6, 0.5, 1.5), {}});
  CHECK(shows(a, Cause::out_of_plumb));
  CHECK_FALSE(shows(a, Cause::off_centre));
  CHECK(a.judgement.verdict != Verdict::stop);
}

TEST_CASE("causes: cogging falls with speed, uneven marks do not") {
  Spinner spinner = coat(0);
  auto train = made(spinner, 8);
  // Order 2 of 3 mrad at 500 rpm, as torque makes it.
  double t = 0.0;
  for (std::size_t i = 0; i < train.size(); ++i) {
    t = static_cast<double>(train.ticks[i]) * spinner.tick_s;
    const double w = std::max(spinner.motion.omega(t), 20.0);
    const double late =
        3e-3 * std::pow(500 * kRpm / w, 2) * std::cos(2.0 * kPi / 3.0 * train.marks[i]);
    train.ticks[i] += std::llround(late / w / spinner.tick_s);
  }
  const Analysis a = analysed({train, std::nullopt, limits(6, 0.5, 1.5), {}});
  CHECK(shows(a, Cause::cogging));
  CHECK(shows(a, Cause::uneven_marks));
  CHECK_FALSE(shows(a, Cause::off_centre));
}

TEST_CASE("causes: a plate that shifts, and one that rattles at half the turn, are loose") {
  Spinner spinner = steady(6, 1e-3);
  auto shifted = made(spinner, 9);
  auto rattling = shifted;
  for (std::size_t i = 0; i < shifted.size(); ++i) {
    const double angle = kPi / 3.0 * static_cast<double>(i);
    if (i > 2 * shifted.size() / 3)
      shifted.ticks[i] += std::llround(0.8e-3 * std::sin(angle) / (3000 * kRpm) / spinner.tick_s);
    rattling.ticks[i] +=
        std::llround(0.8e-3 * std::sin(0.5 * angle) / (3000 * kRpm) / spinner.tick_s);
  }
  CHECK(shows(analysed({shifted, std::nullopt, limits(6, 0.5, 1.5), {}}), Cause::loose_plate));
  CHECK(shows(analysed({rattling, std::nullopt, limits(6, 0.5, 1.5), {}}), Cause::loose_plate));
  CHECK_FALSE(shows(analysed({made(spinner, 9), std::nullopt, limits(6, 0.5, 1.5), {}}),
                    Cause::loose_plate));
}

TEST_CASE("causes: hunting is named with its frequency, and is no unbalance") {
  Spinner spinner = steady(6, 0.0);
  spinner.motion.hunting = 0.01;
  spinner.motion.hunting_hz = 1.3;
  const Analysis a = analysed({made(spinner, 1), made(steady(6, 0.0), 2), limits(6, 0.5, 1.5), {}});
  CHECK(shows(a, Cause::hunting));
  CHECK(a.judgement.verdict == Verdict::even);
  for (const Finding& f : a.findings)
    if (f.cause == Cause::hunting)
      CHECK_THAT(f.shows, Catch::Matchers::ContainsSubstring("1.3 Hz"));
}

TEST_CASE("causes: running at the mount's natural speed, stuck there, and a mount too stiff") {
  SpinnerModel model = limits(6, 0.5, 1.5);
  model.natural = hertz(50);
  Recording r{made(steady(6, 3e-3), 1), made(steady(6, 0.0), 2), model, {}};
  CHECK(shows(analysed(r), Cause::at_natural_speed));
  r.asked = {{seconds(0), rpm(500)}, {seconds(2), rpm(4500)}};
  CHECK(shows(analysed(r), Cause::stuck_at_natural_speed));
  r.asked.clear();
  r.model.natural = hertz(300);
  CHECK(shows(analysed(r), Cause::stiff_mount));
  r.model.natural = hertz(15);
  const Analysis free = analysed(r);
  CHECK_FALSE(shows(free, Cause::at_natural_speed));
  CHECK_FALSE(shows(free, Cause::stiff_mount));
}

TEST_CASE("causes: dropped pulses are counted and reported though all were repaired") {
  std::mt19937_64 random(3);
  const auto bad = with_faults(made(steady(6, 0.0), 1), {0.01, 0.004, 0.0}, random);
  const Analysis a = analysed({bad.train, made(steady(6, 0.0), 2), limits(6, 0.5, 1.5), {}});
  CHECK(shows(a, Cause::dropped_pulses));
  CHECK(a.figure.counts.missing > 10);
  CHECK(a.judgement.verdict == Verdict::even);
}

TEST_CASE("a slow turn from rest shows the marks, not a whirl of half a radian behind them") {
  Spinner spinner = coat(8);
  spinner.motion = {{0.0}, {0.0}};
  spinner.motion.go_to(220, 100, 30);
  spinner.motion.hunting = 0.001;
  SpinnerModel model = limits(6, 0.5, 1.5);
  model.natural = hertz(15);
  const Analysis a = analysed({made(spinner, 4), std::nullopt, model, {}});
  CHECK(a.judgement.verdict == Verdict::cannot_tell);
  CHECK(a.pattern_from == PatternFrom::nothing);
  CHECK(a.figure.amplitude.rad() == Approx(std::abs(order_one_of(spinner.pattern))).margin(2e-4));
}

TEST_CASE("a stamp gone astray is left out; a turn that is late as a whole is none") {
  Spinner spinner = steady(24, 0.0);
  spinner.noise_rad = 2e-5;
  auto train = made(spinner, 5);
  const auto late = [&](std::size_t i, double rad) {
    train.ticks[i] += std::llround(rad / (3000 * kRpm) / spinner.tick_s);
  };
  for (std::size_t i = 24 * 100; i < 24 * 101; ++i)
    late(i, 1e-3 * std::sin(kPi * static_cast<double>(i - 24 * 100) / 24));
  const Analysis kicked = analysed({train, std::nullopt, limits(24, 0.5, 1.5), {}});
  CHECK(kicked.figure.counts.outliers == 0);
  CHECK_FALSE(shows(kicked, Cause::dropped_pulses));
  late(24 * 200 + 7, 3e-3);
  const Analysis astray = analysed({train, std::nullopt, limits(24, 0.5, 1.5), {}});
  CHECK(astray.figure.counts.outliers == 1);
  CHECK(shows(astray, Cause::dropped_pulses));
}

TEST_CASE("a record too short for any turn is a fault, one of a few turns cannot tell") {
  Spinner spinner = steady(6, 0.0);
  spinner.motion = Motion::dwell(3000, 0.05);
  Recording r{made(spinner, 1), std::nullopt, limits(6, 0.5, 1.5), {}};
  const auto none = analyse(r);
  REQUIRE_FALSE(none.ok());
  CHECK(none.fault().kind == FaultKind::input);
  spinner.motion = Motion::dwell(3000, 0.15);
  r.pulses = made(spinner, 1);
  const Analysis few = analysed(r);
  CHECK(few.judgement.verdict == Verdict::cannot_tell);
  CHECK(shows(few, Cause::run_too_short));
}
