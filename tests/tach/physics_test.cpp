// The once-per-turn vector against published figures and independent codes.
#include "catch.hpp"
#include "pulse_maker.hpp"
#include "whirler/tach/order_one.hpp"
#include "whirler/tach/recording.hpp"
#include "whirler/tach/run_up.hpp"

#include <fftw3.h>

#include <cmath>
#include <vector>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;

namespace {

/// Pulses of the last `keep_s` of a train, for what has settled.
PulseTrain last_part(const PulseTrain& train, double keep_s) {
  PulseTrain out;
  out.tick = train.tick;
  const double from = static_cast<double>(train.ticks.back()) * train.tick.s() - keep_s;
  for (std::size_t i = 0; i < train.size(); ++i)
    if (static_cast<double>(train.ticks[i]) * train.tick.s() >= from) {
      out.ticks.push_back(train.ticks[i]);
      out.marks.push_back(train.marks[i]);
    }
  return out;
}

Spinner bench(double natural_hz, double unbalance_g_mm = 24.0) {
  Spinner spinner;
  spinner.tick_s = 1e-9;
  spinner.mount.unbalance_kg_m = unbalance_g_mm * 1e-6;
  spinner.mount.natural_hz = natural_hz;
  return spinner;
}

} // namespace

TEST_CASE("published: the whirl's amplitude over speed and mount comes back through the pulses") {
  // Jeffcott's rotor: 24 g plate 1 mm off, 0.6 kg moving, marks at 15 mm, damping 0.08.
  // [math]: recomputed by two independent codes; the pulses by a third, a Runge-Kutta integration.
  const double speeds[] = {300, 600, 1000, 1500, 2000, 3000, 6000};
  struct Row {
    double natural_hz;
    double mrad[7];
  };
  const Row rows[] = {{8, {1.69, 6.98, 3.45, 2.97, 2.83, 2.74, 2.68}},
                      {15, {.33, 2.10, 11.19, 4.12, 3.33, 2.93, 2.73}},
                      {25, {.11, .51, 2.10, 16.67, 5.88, 3.53, 2.84}},
                      {80, {.01, .04, .12, .29, .56, 1.69, 6.98}}};
  for (const Row& row : rows)
    for (std::size_t i = 0; i < 7; ++i) {
      CAPTURE(row.natural_hz, speeds[i]);
      Spinner spinner = bench(row.natural_hz);
      spinner.motion = Motion::dwell(speeds[i], 8);
      std::mt19937_64 random(1);
      const auto found = order_one(last_part(pulses_of(spinner, random), 4), 6);
      REQUIRE(found.ok());
      CHECK(found->amplitude.mrad() == Approx(row.mrad[i]).epsilon(0.005).margin(0.0051));
    }
}

TEST_CASE("published: amplitude and phase in the stated convention") {
  // 24 g mm, 0.6 kg, 15 mm, 15 Hz, 0.08, heavy side 40 deg from the index mark with the rotation:
  // 600 rpm 2.0951 mrad at -119.13 deg; 3000 rpm 2.9263 mrad at +46.98. [math], by simulation too.
  const auto at = [](double rpm_value) {
    Spinner spinner = bench(15);
    spinner.motion = Motion::dwell(rpm_value, 8);
    std::mt19937_64 random(1);
    return *order_one(last_part(pulses_of(spinner, random), 4), 6);
  };
  const OrderOne slow = at(600);
  CHECK(slow.amplitude.mrad() == Approx(2.0951).epsilon(2e-3));
  REQUIRE(slow.phase);
  CHECK(slow.phase->deg() == Approx(-119.13).margin(0.3));
  const OrderOne fast = at(3000);
  CHECK(fast.amplitude.mrad() == Approx(2.9263).epsilon(2e-3));
  REQUIRE(fast.phase);
  CHECK(fast.phase->deg() == Approx(46.98).margin(0.3));
}

TEST_CASE("published: an eccentric mark disc raises no unbalance flag") {
  // 0.1 mm at these radii is 1377, 902, 826 and 635 arc seconds once per turn at any speed (table
  // of an encoder maker's manual; [math]: e/R).
  struct Disc {
    double radius_mm;
    double arc_seconds;
  };
  for (const Disc disc : {Disc{14.975, 1377}, {22.875, 902}, {24.975, 826}, {32.475, 635}}) {
    CAPTURE(disc.radius_mm);
    const double late = 0.1 / disc.radius_mm;
    CHECK(late * 180.0 / kPi * 3600.0 == Approx(disc.arc_seconds).epsilon(1e-3));
    Spinner spinner = bench(15, 0.0);
    spinner.tick_s = 0.5e-6;
    spinner.noise_rad = 1e-4;
    for (int k = 0; k < 6; ++k)
      spinner.pattern.push_back(late * std::cos(kPi / 3.0 * k - 0.8));
    Recording recording;
    recording.model.marks_per_turn = 6;
    recording.model.limits.watch_angle = milliradians(0.5);
    recording.model.limits.stop_angle = milliradians(1.0);
    spinner.motion = Motion::dwell(3000, 6);
    std::mt19937_64 random(2);
    recording.baseline = pulses_of(spinner, random);
    recording.pulses = pulses_of(spinner, random);
    const auto against_baseline = analyse(recording);
    REQUIRE(against_baseline.ok());
    CHECK(against_baseline->judgement.verdict == Verdict::even);
    for (const Finding& finding : against_baseline->findings)
      CHECK(finding.cause != Cause::off_centre);
    // And without a baseline, from a run-up.
    spinner.motion = {{0.0}, {0.0}};
    spinner.motion.go_to(400, 300, 4).go_to(3000, 300, 6);
    recording.baseline.reset();
    recording.pulses = pulses_of(spinner, random);
    const auto by_run_up = analyse(recording);
    REQUIRE(by_run_up.ok());
    CHECK(by_run_up->judgement.verdict != Verdict::stop);
    CHECK(by_run_up->judgement.verdict != Verdict::watch);
    for (const Finding& finding : by_run_up->findings)
      CHECK(finding.cause != Cause::off_centre);
    REQUIRE(by_run_up->pattern);
    CHECK(by_run_up->pattern->amplitude().rad() == Approx(late).epsilon(0.05));
  }
}

TEST_CASE("exact: the vector is the bin of an independent transform") {
  // FFTW on the lateness of 240 even turns, order 1 in bin 240.
  const int marks = GENERATE(3, 6, 7, 24);
  CAPTURE(marks);
  Spinner spinner;
  spinner.marks = marks;
  spinner.whirls = false;
  spinner.tick_s = 1e-9;
  spinner.motion = Motion::dwell(1800, 9);
  spinner.steady = std::polar(1.3e-3, -2.1);
  spinner.noise_rad = 3e-4;
  std::mt19937_64 random(8);
  auto train = pulses_of(spinner, random);
  constexpr std::size_t kTurns = 240;
  const std::size_t n = kTurns * static_cast<std::size_t>(marks);
  REQUIRE(train.size() > n + 1);
  train.ticks.resize(n + 1);
  train.marks.resize(n + 1);
  const auto found = order_one(train, marks);
  REQUIRE(found.ok());
  REQUIRE(found->turns == kTurns);

  const double w = 1800 * kRpm;
  std::vector<double> late(n);
  for (std::size_t i = 0; i < n; ++i)
    late[i] = w * static_cast<double>(train.ticks[i] - train.ticks[0]) * 1e-9 -
              2.0 * kPi * static_cast<double>(i) / marks;
  std::vector<std::complex<double>> bins(n / 2 + 1);
  auto* out = reinterpret_cast<fftw_complex*>(bins.data());
  const auto plan = fftw_plan_dft_r2c_1d(static_cast<int>(n), late.data(), out, FFTW_ESTIMATE);
  fftw_execute(plan);
  fftw_destroy_plan(plan);
  // bins = sum late exp(-j psi k): D in this convention is its conjugate, times 2/n.
  const std::complex<double> d = std::conj(bins[kTurns]) * (2.0 / static_cast<double>(n));
  CHECK(found->vector.re.rad() == Approx(d.real()).margin(1e-5));
  CHECK(found->vector.im.rad() == Approx(d.imag()).margin(1e-5));
  CHECK(std::abs(d) == Approx(1.3e-3).epsilon(0.05));
}

TEST_CASE("limit: a run-up gives mount, pattern and unbalance without a baseline") {
  struct Case {
    int marks;
    double natural_hz;
    double damping;
    double unbalance_g_mm;
    double ramp;
  };
  for (const Case& c : {Case{6, 15, 0.08, 24, 500},
                        {3, 25, 0.05, 8, 300},
                        {24, 12, 0.15, 10, 200},
                        {2, 15, 0.10, 12, 300},
                        {6, 30, 0.03, 4, 100}}) {
    CAPTURE(c.marks, c.natural_hz, c.ramp);
    int covered = 0;
    constexpr int kSeeds = 6;
    for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
      Spinner spinner = bench(c.natural_hz, c.unbalance_g_mm);
      spinner.marks = c.marks;
      spinner.tick_s = 0.5e-6;
      spinner.noise_rad = 2e-4;
      spinner.mount.damping = c.damping;
      spinner.motion = {{0.0}, {0.0}};
      spinner.motion.go_to(400, c.ramp, 2).go_to(3000, c.ramp, 5);
      spinner.motion.hunting = 0.002;
      std::mt19937_64 random(seed);
      spinner.pattern = random_pattern(c.marks, 8e-3, random);
      const auto marked = by_mark(pulses_of(spinner, random), c.marks);
      REQUIRE(marked.ok());
      SpinnerModel model;
      model.marks_per_turn = c.marks;
      const auto found = fit_run_up(*marked, 0, model);
      REQUIRE(found);
      CHECK(found->mount.found);
      CHECK(found->mount.natural.Hz() == Approx(c.natural_hz).epsilon(0.02));
      CHECK(found->mount.damping == Approx(c.damping).epsilon(0.15));
      const double far = c.unbalance_g_mm * 1e-6 / 0.6 / 0.015;
      CHECK(found->far_above.amplitude().rad() == Approx(far).epsilon(0.06).margin(4e-5));
      // arg K = -90 degrees - heavy side
      const double off = std::remainder(found->far_above.phase().deg() + 130.0, 360.0);
      CHECK(std::abs(off) < 8.0);
      const OnceVector truth = steady_whirl(
          {radians(far * std::cos(-130 * kPi / 180)), radians(far * std::sin(-130 * kPi / 180))},
          hertz(c.natural_hz), c.damping, rpm(3000));
      const auto whirl = found->whirl_at(rpm(3000));
      covered +=
          whirl.interval.low <= truth.amplitude() && truth.amplitude() <= whirl.interval.high;
    }
    CHECK(covered >= kSeeds - 1);
  }
}
