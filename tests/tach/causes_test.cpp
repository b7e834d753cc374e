// Causes that are easily taken for each other, over many spinners.
#include "analysed.hpp"

#include <algorithm>
#include <functional>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using namespace whirler::test;

namespace {

bool shows(const Analysis& a, Cause cause) {
  return std::any_of(a.findings.begin(), a.findings.end(),
                     [&](const Finding& f) { return f.cause == cause; });
}

Spinner even(int marks, std::uint64_t seed) {
  Spinner spinner;
  spinner.marks = marks;
  spinner.whirls = false;
  spinner.noise_rad = std::min(2e-4, 0.05 / marks);
  spinner.tick_s = 62.5e-9;
  std::mt19937_64 random(seed);
  spinner.pattern = random_pattern(marks, std::min(3e-3, 0.03 * 2.0 * kPi / marks), random);
  return spinner;
}

/// A plate off its centre, few marks to many by the seed.
Spinner whirling(std::uint64_t seed, double natural_hz, double unbalance_kg_m) {
  constexpr std::array<int, 4> kMarks{6, 12, 24, 60};
  Spinner spinner = even(kMarks[seed % 4], seed);
  spinner.noise_rad = 5e-5;
  spinner.whirls = true;
  spinner.mount.natural_hz = natural_hz;
  spinner.mount.unbalance_kg_m = unbalance_kg_m;
  return spinner;
}

/// Pulses of a spinner, each later by `late` (rad) of its time (s) and turns since the first.
Recording recorded(const Spinner& spinner, const std::function<double(double, double)>& late) {
  std::mt19937_64 random(11);
  Recording out;
  out.pulses = pulses_of(spinner, random);
  out.model.marks_per_turn = spinner.marks;
  for (std::size_t i = 0; i < out.pulses.size(); ++i) {
    const double t = static_cast<double>(out.pulses.ticks[i]) * spinner.tick_s;
    const double turns = static_cast<double>(i) / spinner.marks;
    const double speed = std::max(5.0, spinner.motion.omega(t));
    out.pulses.ticks[i] += std::llround(late(t, turns) / speed / spinner.tick_s);
  }
  return out;
}

} // namespace

TEST_CASE("causes: a mount that nobody named may be too stiff to show a plate, and that is said") {
  Spinner spinner = even(6, 1);
  spinner.motion = Motion::dwell(1800, 6);
  const auto as_it_is = [](double, double) { return 0.0; };
  Recording run = recorded(spinner, as_it_is);
  run.baseline = recorded(spinner, as_it_is).pulses;
  const Analysis unnamed = analysed(run);
  REQUIRE(shows(unnamed, Cause::stiff_mount));
  for (const Finding& f : unnamed.findings)
    if (f.cause == Cause::stiff_mount) // [math] (30/100)^2 is a tenth: 1800 rpm are 30 Hz
      CHECK_THAT(f.shows, Catch::Matchers::ContainsSubstring("beyond 100 Hz"));
  run.model.natural = hertz(15);
  CHECK_FALSE(shows(analysed(run), Cause::stiff_mount));
  run.model.natural.reset(); // a plate that shows itself needs no such word
  run.pulses = recorded(spinner, [](double, double turns) {
                 return 2e-3 * std::cos(2.0 * kPi * turns);
               }).pulses;
  const Analysis off = analysed(run);
  CHECK(shows(off, Cause::off_centre));
  CHECK_FALSE(shows(off, Cause::stiff_mount));
}

TEST_CASE("causes: what rattles every second turn is a loose plate, up to 1024 marks a turn") {
  const int marks = GENERATE(3, 24, 60, 360, 1024);
  CAPTURE(marks);
  Spinner spinner = even(marks, 2);
  spinner.motion = Motion::dwell(900, 8);
  const auto rattling = [](double, double turns) { return 1e-3 * std::cos(kPi * turns); };
  CHECK(shows(analysed(recorded(spinner, rattling)), Cause::loose_plate));
  const auto quiet = [](double, double) { return 0.0; };
  CHECK_FALSE(shows(analysed(recorded(spinner, quiet)), Cause::loose_plate));
}

TEST_CASE("causes: a plate that jumps is loose; no axis is called out of plumb for it") {
  int loose = 0;
  for (std::uint64_t seed = 1; seed <= 16; ++seed) {
    constexpr std::array<int, 4> kMarks{3, 12, 24, 120};
    Spinner spinner = even(kMarks[seed % 4], seed);
    spinner.motion = {{0.0}, {0.0}};
    spinner.motion.go_to(420, 400, 4).go_to(1500.0 + 100.0 * static_cast<double>(seed), 700, 6);
    const double after = spinner.motion.end_s() - 3.0;
    const Analysis a = analysed(recorded(spinner, [&](double t, double turns) {
      return t > after ? 2e-3 * std::cos(2.0 * kPi * turns + static_cast<double>(seed)) : 0.0;
    }));
    CAPTURE(seed);
    loose += shows(a, Cause::loose_plate) ? 1 : 0;
    CHECK_FALSE(shows(a, Cause::out_of_plumb));
    CHECK_FALSE(shows(a, Cause::loop_answers_marks));
  }
  CHECK(loose == 16);
}

TEST_CASE("causes: a slight growth on a stiff mount is no soft mount out of plumb") {
  int soft = 0;
  for (std::uint64_t seed = 1; seed <= 24; ++seed) {
    std::mt19937_64 random(seed);
    const auto between = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    constexpr std::array<int, 4> kMarks{5, 24, 60, 120};
    Spinner spinner = even(kMarks[seed % 4], seed);
    spinner.noise_rad = 5e-5;
    spinner.whirls = true;
    spinner.mount.natural_hz = between(200, 320);
    spinner.mount.damping = 0.05;
    spinner.mount.unbalance_kg_m = 10e-6;
    spinner.motion = {{0.0}, {0.0}};
    spinner.motion.go_to(between(320, 480), 400, 4)
        .go_to(between(2800, 4200), between(400, 1600), 6);
    const Analysis a = analysed(recorded(spinner, [](double, double) { return 0.0; }));
    CAPTURE(seed);
    CHECK_FALSE(shows(a, Cause::out_of_plumb));
    CHECK_FALSE(shows(a, Cause::loop_answers_marks));
    soft += a.run_up && a.run_up->mount.found && a.run_up->mount.natural.Hz() < 100.0 ? 1 : 0;
  }
  CHECK(soft == 0);
}

TEST_CASE("causes: a plate that jumps again and again is loose; one that drifts or hunts is not") {
  int jumps = 0;
  for (std::uint64_t seed = 1; seed <= 18; ++seed) {
    constexpr std::array<int, 3> kMarks{3, 6, 24};
    Spinner spinner = even(kMarks[seed % 3], seed);
    spinner.motion = Motion::dwell(2400, 12);
    spinner.motion.hunting = 0.0005;
    const double each = 12.0 / static_cast<double>(2 + seed % 4); // 2 to 5 stretches of the dwell
    const auto once = [](double size, double turns) { return size * std::cos(2.0 * kPi * turns); };
    const auto jumping = [&](double t, double turns) {
      return static_cast<int>(t / each) % 2 == 0 ? once(1e-3, turns) : once(1.4e-3, turns + 0.1);
    };
    const auto drifting = [&](double t, double turns) { return once(1e-3 + 6e-5 * t, turns); };
    CAPTURE(seed, spinner.marks);
    jumps += shows(analysed(recorded(spinner, jumping)), Cause::loose_plate) ? 1 : 0;
    CHECK_FALSE(shows(analysed(recorded(spinner, drifting)), Cause::loose_plate));
    spinner.motion.hunting = 0.01;
    spinner.motion.hunting_hz = 0.5 + 0.2 * static_cast<double>(seed);
    CHECK_FALSE(
        shows(analysed(recorded(spinner, [](double, double) { return 0.0; })), Cause::loose_plate));
  }
  CHECK(jumps == 18);
}

TEST_CASE("causes: a tenth of a milliradian every second or third turn is seen, noise is not") {
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    constexpr std::array<int, 4> kMarks{8, 6, 24, 120};
    Spinner spinner = even(kMarks[seed % 4], seed);
    spinner.motion = Motion::dwell(2400, 10);
    spinner.motion.hunting = 0.001;
    const double of = seed % 2 == 0 ? 2.0 : 3.0;
    CAPTURE(seed, spinner.marks, of);
    CHECK(shows(analysed(recorded(
                    spinner,
                    [&](double, double turns) { return 1e-4 * std::cos(2.0 * kPi * turns / of); })),
                Cause::loose_plate));
    CHECK_FALSE(
        shows(analysed(recorded(spinner, [](double, double) { return 0.0; })), Cause::loose_plate));
  }
}

TEST_CASE("causes: a mount that still settles as the dwell begins is neither loose nor dropped") {
  for (std::uint64_t seed = 1; seed <= 10; ++seed) {
    Spinner spinner = even(seed % 2 == 0 ? 6 : 5, seed);
    spinner.whirls = true;
    spinner.mount.natural_hz = 45.0 + static_cast<double>(seed);
    spinner.mount.damping = 0.05;
    spinner.mount.unbalance_kg_m = 30e-6;
    spinner.motion = {{0.0}, {250.0 * kRpm}};
    spinner.motion.go_to(3000, 300, 5);
    const Analysis a = analysed(recorded(spinner, [](double, double) { return 0.0; }));
    CAPTURE(seed, spinner.mount.natural_hz);
    CHECK_FALSE(shows(a, Cause::loose_plate));
    CHECK_FALSE(shows(a, Cause::dropped_pulses));
    CHECK_FALSE(shows(a, Cause::second_natural_speed));
  }
}

TEST_CASE(
    "causes: a plate that jumps in the ramp is loose, and two mounts do not stand in for it") {
  int loose = 0;
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    Spinner spinner = whirling(seed, 12.0 + 2.0 * static_cast<double>(seed), 10e-6);
    spinner.motion = {{0.0}, {0.0}};
    spinner.motion.go_to(400, 400, 2).go_to(3000, 400, 4);
    const double at = 3.0 + (0.3 + 0.05 * static_cast<double>(seed)) * 6.5; // in the ramp, s
    const auto jumping = [&](double t, double turns) {
      return t > at ? 2e-3 * std::cos(2.0 * kPi * turns + static_cast<double>(seed)) : 0.0;
    };
    CAPTURE(seed, spinner.marks);
    const Analysis a = analysed(recorded(spinner, jumping));
    loose += shows(a, Cause::loose_plate) ? 1 : 0;
    CHECK_FALSE(shows(a, Cause::second_natural_speed));
    CHECK_FALSE(shows(a, Cause::out_of_plumb));
    // A mount that is softer in one direction steps as little as any other.
    spinner.mount.other_hz = 1.5 * spinner.mount.natural_hz;
    CHECK_FALSE(
        shows(analysed(recorded(spinner, [](double, double) { return 0.0; })), Cause::loose_plate));
  }
  CHECK(loose == 4);
}

TEST_CASE("causes: a plate that moves on its hub in a ramp is loose, and read as it lies since") {
  int loose = 0;
  int second = 0;
  int held = 0;
  constexpr int kRuns = 16;
  for (std::uint64_t seed = 1; seed <= kRuns; ++seed) {
    const auto number = static_cast<double>(seed);
    Spinner spinner = whirling(seed, 10.0 + 0.9 * number, 30e-6);
    spinner.motion = {{0.0}, {0.0}};
    spinner.motion.hunting = 0.002;
    spinner.motion.go_to(400, 400, 3).go_to(3000, 400, 6);
    spinner.mount.moves_at_s = 4.0 + (0.25 + 0.03 * number) * 6.5; // over the natural speed
    spinner.mount.moves_times = seed % 2 == 0 ? 0.5 : 1.6;
    spinner.mount.moves_by_deg = seed % 3 == 0 ? -70.0 : 45.0;
    CAPTURE(seed, spinner.marks);
    Recording run = recorded(spinner, [](double, double) { return 0.0; });
    if (seed % 4 != 3) {
      run.model.natural = hertz(spinner.mount.natural_hz);
      run.model.damping = spinner.mount.damping;
    }
    run.model.mark_radius = millimetres(15);
    run.model.moving_mass = grams(600);
    run.model.rotor_mass = grams(324);
    run.model.limits.watch_velocity = millimetres_per_s(1000);
    const Analysis a = analysed(run);
    loose += shows(a, Cause::loose_plate) ? 1 : 0;
    second += shows(a, Cause::second_natural_speed) ? 1 : 0;
    CHECK(a.judgement.verdict == Verdict::cannot_tell);
    if (!a.unbalance) // no mount is named, and none found
      continue;
    const double since = 30.0 * spinner.mount.moves_times;
    held += a.unbalance->low.g_mm() < since && since < a.unbalance->high.g_mm() ? 1 : 0;
  }
  CHECK(loose >= kRuns - 1);
  CHECK(second <= 1);
  CHECK(held >= kRuns - 2);
}

TEST_CASE("causes: a jump of a fifth of the vector is seen in blocks of a turn more or less") {
  int loose = 0;
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    Spinner spinner = even(6, seed);
    spinner.noise_rad = 1e-4;
    spinner.motion = Motion::dwell(2200.0 + 37.0 * static_cast<double>(seed), 6);
    const double size = seed % 2 == 0 ? 4e-4 : 0.0;
    const Analysis a = analysed(recorded(spinner, [&](double t, double turns) {
      return 3e-3 * std::cos(2.0 * kPi * turns) +
             (t > 2.5 ? size * std::cos(2.0 * kPi * turns + static_cast<double>(seed)) : 0.0);
    }));
    CAPTURE(seed);
    CHECK(shows(a, Cause::loose_plate) == (size > 0.0));
    loose += shows(a, Cause::loose_plate) ? 1 : 0;
  }
  CHECK(loose == 6);
}

TEST_CASE(
    "causes: an axis out of plumb is named beside a plate that whirls as much; no whirl is it") {
  int named = 0;
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    Spinner spinner = whirling(seed, 9.0 + 0.5 * static_cast<double>(seed), 40e-6);
    spinner.motion = {{0.0, 2.5}, {240.0 * kRpm, 240.0 * kRpm}, 0.0, 0.7, 240.0 * kRpm};
    spinner.motion.go_to(3000, 400, 4);
    const auto as_it_is = [](double, double) { return 0.0; };
    CAPTURE(seed);
    CHECK_FALSE(shows(analysed(recorded(spinner, as_it_is)), Cause::out_of_plumb));
    // [math] m e g sin b over J w^2: 40 g mm, 6 degrees, J 1.3e-4 at 240 rpm
    const double tilt = 40e-6 * 9.81 * std::sin(6.0 * kPi / 180.0) / 1.3e-4; // rad/s^2
    spinner.tilt = std::polar(tilt, static_cast<double>(seed));
    Recording run = recorded(spinner, as_it_is);
    run.model.inertia = kg_m2(1.3e-4);
    run.model.mark_radius = millimetres(15);
    run.model.moving_mass = grams(600);
    named += shows(analysed(run), Cause::out_of_plumb) ? 1 : 0;
  }
  CHECK(named >= 3); // of 4: the whirl of a steep ramp may hide it
}

TEST_CASE(
    "causes: cogging is named that the marks' own pattern hides, and none for a large whirl") {
  int named = 0;
  for (std::uint64_t seed = 1; seed <= 3; ++seed) {
    constexpr std::array<int, 3> kMarks{6, 12, 24};
    Spinner spinner = even(kMarks[seed % 3], seed);
    spinner.noise_rad = 5e-5;
    spinner.motion = {{0.0}, {0.0}};
    spinner.motion.go_to(400, 400, 2.5).go_to(2400, 400, 3);
    // Against the pattern's own third order: the slow turns have less of it, not more.
    std::complex<double> third;
    for (std::size_t k = 0; k < spinner.pattern.size(); ++k)
      third += spinner.pattern[k] * std::polar(1.0, 6.0 * kPi * static_cast<double>(k) /
                                                        static_cast<double>(spinner.marks));
    const double against = std::arg(third);
    const auto cogs = [&](double t, double turns) {
      const double v = spinner.motion.omega(t) / (400.0 * kRpm);
      return v < 0.5 ? 0.0 : -1e-3 / (v * v) * std::cos(6.0 * kPi * turns - against);
    };
    CAPTURE(seed, spinner.marks);
    named += shows(analysed(recorded(spinner, cogs)), Cause::cogging) ? 1 : 0;
    CHECK_FALSE(
        shows(analysed(recorded(spinner, [](double, double) { return 0.0; })), Cause::cogging));
  }
  CHECK(named == 3);
  Spinner stuck = even(6, 3); // a whirl of some 0.1 rad
  stuck.whirls = true;
  stuck.mount.natural_hz = 25.0;
  stuck.mount.unbalance_kg_m = 150e-6;
  stuck.motion = {{0.0}, {0.0}};
  stuck.motion.go_to(300, 400, 2).go_to(1480, 400, 4);
  CHECK_FALSE(shows(analysed(recorded(stuck, [](double, double) { return 0.0; })), Cause::cogging));
}

TEST_CASE("causes: what turns nearly half as often, or rings but for a while, is no rattle") {
  Spinner spinner = even(6, 4);
  spinner.motion = Motion::dwell(2400, 20);
  const auto swinging = [&](double order, double until_s) {
    return shows(analysed(recorded(spinner,
                                   [&](double t, double turns) {
                                     return t < until_s ? 6e-4 * std::cos(2.0 * kPi * order * turns)
                                                        : 0.0;
                                   })),
                 Cause::loose_plate);
  };
  CHECK(swinging(0.5, 20.0));
  CHECK(swinging(1.0 / 3.0, 20.0));
  CHECK_FALSE(swinging(0.47, 20.0)); // a belt
  CHECK_FALSE(swinging(0.53, 20.0));
  CHECK_FALSE(swinging(1.0 / 3.0, 3.0)); // a mount that rings after the ramp
}
