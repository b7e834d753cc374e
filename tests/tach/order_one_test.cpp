#include "whirler/tach/order_one.hpp"

#include "catch.hpp"
#include "pulse_faults.hpp"
#include "pulse_maker.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;

namespace {

struct Counted {
  double sd_re = 0.0; // of Re D about the truth, over the Cramer-Rao bound
  double sd_im = 0.0;
  double bias = 0.0;   // mean error over its own standard error
  double alarms = 0.0; // share of p < 0.05
  double covered = 0.0;
};

Counted count_over(const Spinner& spinner, int seeds, FaultShares faults = {}) {
  Counted out;
  double rr = 0.0, ii = 0.0, r = 0.0, bound2 = 0.0;
  for (int seed = 1; seed <= seeds; ++seed) {
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    auto train = pulses_of(spinner, random);
    if (faults.missing + faults.doubled + faults.swapped > 0.0)
      train = with_faults(train, faults, random).train;
    const auto found = order_one(train, spinner.marks);
    REQUIRE(found.ok());
    const double re = found->vector.re.rad() - spinner.steady.real();
    const double im = found->vector.im.rad() - (spinner.marks == 2 ? 0.0 : spinner.steady.imag());
    const double rounding = spinner.tick_s * spinner.motion.omega(1.0);
    const double noise2 = spinner.noise_rad * spinner.noise_rad + rounding * rounding / 12.0;
    bound2 += (spinner.marks == 2 ? 1.0 : 2.0) * noise2 / static_cast<double>(found->counts.used);
    rr += re * re;
    ii += im * im;
    r += re;
    out.alarms += found->p_value < 0.05 ? 1.0 : 0.0;
    const double truth = std::abs(spinner.steady);
    out.covered += found->interval.low.rad() <= truth && truth <= found->interval.high.rad();
  }
  out.sd_re = std::sqrt(rr / bound2);
  out.sd_im = std::sqrt(ii / bound2);
  out.bias = r / std::sqrt(bound2);
  out.alarms /= seeds;
  out.covered /= seeds;
  return out;
}

Spinner dwelling(int marks, double rpm, double length_s) {
  Spinner spinner;
  spinner.marks = marks;
  spinner.motion = Motion::dwell(rpm, length_s);
  spinner.motion.hunting = 0.002;
  spinner.whirls = false;
  spinner.noise_rad = 2e-4;
  spinner.pattern = pattern_without_order_one(marks);
  return spinner;
}

} // namespace

TEST_CASE("published: thresholds of amplitude over noise at one in a thousand") {
  // Order known, noise unknown, R^2 of the vector: p = (1 - R^2)^((M - 3)/2). The thresholds are
  // [math]: recomputed by two independent codes.
  CHECK(chance_of_noise(1.7545, 16) == Approx(1e-3).epsilon(2e-3));
  CHECK(chance_of_noise(0.6961, 64) == Approx(1e-3).epsilon(2e-3));
  CHECK(chance_of_noise(0.3331, 256) == Approx(1e-3).epsilon(2e-3));
  CHECK(chance_of_noise(0.1648, 1024) == Approx(1e-3).epsilon(3e-3));
  CHECK(chance_of_noise(0.0, 64) == Approx(1.0));
  CHECK(chance_of_noise(1.0, 3) == 1.0);
}

TEST_CASE("exact: without noise the vector comes back to the timer's rounding") {
  for (const int marks : {3, 4, 5, 6, 7, 12, 13, 60, 1024}) {
    CAPTURE(marks);
    Spinner spinner = dwelling(marks, 3000, 2);
    spinner.noise_rad = 0.0;
    spinner.tick_s = 1e-9;
    spinner.steady = std::polar(3e-4, 2.2);
    std::mt19937_64 random(1);
    const auto found = order_one(pulses_of(spinner, random), marks);
    REQUIRE(found.ok());
    CHECK(found->amplitude.mrad() == Approx(0.3).epsilon(1e-3));
    REQUIRE(found->phase);
    CHECK(found->phase->rad() == Approx(2.2).margin(1e-3));
    CHECK(found->speed.rpm() == Approx(3000).epsilon(1e-3));
  }
}

TEST_CASE("limit: the scatter of both components is within 1.10 of the Cramer-Rao bound") {
  // Rife and Boorstyn, IEEE Trans. Inform. Theory 20, 591 (1974). 400 seeds know a standard
  // deviation to 3.5 %; the benchmark counts over more.
  const int marks = GENERATE(2, 3, 6, 13);
  CAPTURE(marks);
  Spinner spinner = dwelling(marks, 3000, 2);
  spinner.steady = std::polar(5e-5, -1.0);
  const Counted counted = count_over(spinner, 400);
  CHECK(counted.sd_re < 1.10);
  CHECK(counted.sd_re > 0.90);
  if (marks > 2) {
    CHECK(counted.sd_im < 1.10);
    CHECK(counted.sd_im > 0.90);
    CHECK(counted.covered > 0.93);
  }
  CHECK(std::abs(counted.bias) < 3.5);
}

TEST_CASE("limit: on noise alone the stated chances are the true ones") {
  const int marks = GENERATE(2, 3, 6, 60);
  CAPTURE(marks);
  const Counted counted = count_over(dwelling(marks, 1500, 2), 400);
  CHECK(counted.alarms > 0.02); // 5 %, and 3 standard errors of 400 either way
  CHECK(counted.alarms < 0.083);
}

TEST_CASE("limit: missing, doubled and swapped pulses cost no more than their information") {
  const int marks = GENERATE(3, 6, 24);
  CAPTURE(marks);
  Spinner spinner = dwelling(marks, 3000, 2);
  spinner.with_index = GENERATE(true, false);
  const Counted counted = count_over(spinner, 200, {0.008, 0.005, 0.003});
  CHECK(counted.sd_re < 1.15); // 200 seeds know it to 5 %
  CHECK(counted.sd_im < 1.15);
  CHECK(counted.alarms < 0.10);
}

TEST_CASE("published: the worked example stands clear of its bound") {
  // 6 marks, 3000 rpm, 20 s, 0.2 mrad a pulse, 0.5 us tick, hunting 0.2 % at 0.7 Hz, pitch error
  // 8 mrad rms, with baseline: bound 5.2 urad. [math]: recomputed by two independent codes.
  Spinner spinner = dwelling(6, 3000, 20);
  double error2 = 0.0;
  constexpr int kSeeds = 40;
  for (int seed = 0; seed < kSeeds; ++seed) {
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    std::mt19937_64 pitch(static_cast<std::uint64_t>(seed) + 1000);
    spinner.pattern = random_pattern(6, 8e-3, pitch);
    spinner.steady = 0.0;
    const auto bare = order_one(pulses_of(spinner, random), 6);
    spinner.steady = std::polar(50e-6, 0.7);
    const auto loaded = order_one(pulses_of(spinner, random), 6);
    REQUIRE((bare.ok() && loaded.ok()));
    const OnceVector left = loaded->vector - bare->vector;
    const OnceCovariance covariance = loaded->covariance + bare->covariance;
    CHECK(std::sqrt(covariance.largest()) == Approx(5.3e-6).epsilon(0.15));
    CHECK(left.amplitude().rad() / std::sqrt(covariance.largest()) > 6.0);
    error2 += std::pow(left.re.rad() - spinner.steady.real(), 2) +
              std::pow(left.im.rad() - spinner.steady.imag(), 2);
  }
  const double sd = std::sqrt(error2 / (2.0 * kSeeds));
  CHECK(sd < 5.2e-6 * 1.10 * 1.12); // 80 components know it to 8 %; one and a half of these
}

TEST_CASE("the counter that rounds the same way each turn makes no unbalance") {
  // No noise, no hunting, a speed that the tick divides badly: rounding repeats turn after turn.
  for (const double rpm : {3000.0, 3001.0, 1234.5, 600.0}) {
    CAPTURE(rpm);
    Spinner spinner;
    spinner.motion = Motion::dwell(rpm, 3);
    spinner.motion.hunting = 0.0;
    spinner.whirls = false;
    spinner.tick_s = 4e-6;
    std::mt19937_64 random(1);
    const auto found = order_one(pulses_of(spinner, random), 6);
    REQUIRE(found.ok());
    CHECK(found->p_value > 1e-3);
    CHECK(found->interval.low.rad() == 0.0);
  }
}

TEST_CASE("vibration that wanders near once a turn widens the interval") {
  // A rattle 0.4 % off the turn's own frequency looks like order 1 for a while: the blocks of turns
  // disagree, and the figure says so rather than calling it significant.
  int alarms = 0;
  constexpr int kSeeds = 60;
  for (int seed = 0; seed < kSeeds; ++seed) {
    Spinner spinner = dwelling(6, 3000, 8);
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    auto train = pulses_of(spinner, random);
    std::normal_distribution<double> normal;
    std::complex<double> rattle;
    for (std::size_t i = 0; i < train.size(); ++i) { // AR(1) of some 8 turns
      rattle = 0.98 * rattle + std::complex<double>(normal(random), normal(random)) * 4e-5;
      const double late = std::real(rattle * std::polar(1.0, -kPi / 3.0 * static_cast<double>(i)));
      train.ticks[i] += std::llround(late / (100.0 * kPi) / spinner.tick_s);
    }
    const auto found = order_one(train, 6);
    REQUIRE(found.ok());
    alarms += found->p_value < 0.01 ? 1 : 0;
  }
  CHECK(alarms <= 3);
}

TEST_CASE("one mark shows nothing, two a single component without an angle") {
  std::mt19937_64 random(3);
  Spinner spinner = dwelling(1, 3000, 3);
  spinner.steady = std::polar(1e-2, 0.3);
  const auto one = order_one(pulses_of(spinner, random), 1);
  REQUIRE(one.ok());
  CHECK(one->axes == Axes::none);
  CHECK_FALSE(one->phase);
  CHECK(one->p_value == 1.0);
  CHECK(one->speed.rpm() == Approx(3000).epsilon(1e-3));
  spinner = dwelling(2, 3000, 3);
  spinner.steady = std::polar(1e-2, 0.3);
  const auto two = order_one(pulses_of(spinner, random), 2);
  REQUIRE(two.ok());
  CHECK(two->axes == Axes::one);
  CHECK_FALSE(two->phase);
  CHECK(two->amplitude.mrad() == Approx(10.0 * std::cos(0.3)).epsilon(0.01));
}

TEST_CASE("an amplitude's interval covers the truth 95 to 97.5 % of the time, zero included") {
  std::mt19937_64 random(9);
  std::normal_distribution<double> normal;
  for (const double truth : {0.0, 0.5, 1.5, 3.0, 10.0}) {
    CAPTURE(truth);
    int covered = 0;
    constexpr int kDraws = 4000;
    for (int i = 0; i < kDraws; ++i) {
      const OnceVector v{radians(truth + normal(random)), radians(normal(random))};
      const auto interval = amplitude_interval(v, {1.0, 0.0, 1.0}, 1e6);
      covered += interval.low.rad() <= truth && truth <= interval.high.rad() ? 1 : 0;
    }
    CHECK(covered > 0.94 * kDraws);
    CHECK(covered < 0.985 * kDraws);
  }
}
