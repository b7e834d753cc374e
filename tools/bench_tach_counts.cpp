// What the once-per-turn figure is worth, counted: its scatter against the Cramer-Rao bound (Rife
// and Boorstyn, IEEE Trans. Inform. Theory 20, 591, 1974) on real and imaginary part, how often
// noise alone passes a stated chance, and how often a run of an even plate is stopped or one at
// twice the limit is missed. The bound is the reference. Goals: 1.10; the stated share within three
// standard errors; none of 1000; none.
//   bench_tach_counts [seeds, 1000]
#include "watched_coat.hpp"
#include "whirler/tach/order_one.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using namespace whirler::test;

namespace {

Spinner dwelling(int marks) {
  Spinner spinner;
  spinner.marks = marks;
  spinner.motion = Motion::dwell(3000, 2);
  spinner.motion.hunting = 0.002;
  spinner.whirls = false;
  spinner.noise_rad = 2e-4;
  spinner.pattern = pattern_without_order_one(marks);
  return spinner;
}

bool count_scatter(int marks, int seeds) {
  Spinner spinner = dwelling(marks);
  double re2 = 0.0;
  double im2 = 0.0;
  double bound2 = 0.0;
  for (int seed = 1; seed <= seeds; ++seed) {
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    spinner.steady = std::polar(5e-5, 0.01 * seed);
    const auto found = order_one(pulses_of(spinner, random), marks);
    if (!found)
      return false;
    re2 += std::pow(found->vector.re.rad() - spinner.steady.real(), 2);
    im2 += std::pow(found->vector.im.rad() - (marks == 2 ? 0.0 : spinner.steady.imag()), 2);
    const double rounding = spinner.tick_s * spinner.motion.omega(1.0);
    const double noise2 = spinner.noise_rad * spinner.noise_rad + rounding * rounding / 12.0;
    bound2 += (marks == 2 ? 1.0 : 2.0) * noise2 / static_cast<double>(found->counts.used);
  }
  const double re = std::sqrt(re2 / bound2);
  const double im = std::sqrt(im2 / bound2);
  const double doubt = 3.0 / std::sqrt(2.0 * seeds); // of a counted standard deviation
  const bool met = re < 1.10 + doubt && im < 1.10 + doubt;
  if (marks == 2)
    std::printf("%5d  re %.3f  im   -    of the bound  %s\n", marks, re, met ? "met" : "missed");
  else
    std::printf("%5d  re %.3f  im %.3f  of the bound  %s\n", marks, re, im, met ? "met" : "missed");
  return met;
}

bool count_alarms(int marks, int seeds) {
  Spinner spinner = dwelling(marks);
  bool met = true;
  int below5 = 0;
  int below1 = 0;
  for (int seed = 1; seed <= seeds; ++seed) {
    std::mt19937_64 random(static_cast<std::uint64_t>(seed) + 100000);
    const auto found = order_one(pulses_of(spinner, random), marks);
    below5 += found && found->p_value < 0.05 ? 1 : 0;
    below1 += found && found->p_value < 0.01 ? 1 : 0;
  }
  const auto within = [&](int count, double share) {
    return std::abs(count - share * seeds) <= 3.0 * std::sqrt(share * (1.0 - share) * seeds);
  };
  met = within(below5, 0.05) && within(below1, 0.01);
  std::printf("%5d  p < 0.05: %.3f  p < 0.01: %.3f  %s\n", marks,
              static_cast<double>(below5) / seeds, static_cast<double>(below1) / seeds,
              met ? "met" : "missed");
  return met;
}

/// A ramp that passes the mount's natural speed within two or three turns shows too little of it:
/// in the plain set such a run is watched with the mount named, as a machine's file may; in the
/// hard set it is not.
bool is_steep(std::uint64_t seed) { return seed % 3 == 0; }

/// 500 rpm, then 3000: as a coat runs, with marks, mount, tilt and hunting that change with the
/// seed.
Spinner coat(double unbalance_g_mm, std::uint64_t seed) {
  constexpr int kMarks[] = {3, 6, 12, 24};
  constexpr double kNatural[] = {10, 15, 20, 30, 60};
  std::mt19937_64 random(seed + 500);
  Spinner spinner = coated(kMarks[seed % 4], unbalance_g_mm, kNatural[seed / 5 % 5],
                           0.03 + 0.01 * static_cast<double>(seed % 12), seed, random);
  spinner.motion.go_to(500, 500, 2).go_to(3000, is_steep(seed) ? 2500 : 500, 3);
  return spinner;
}

/// All that is hard at once: 2500 rpm/s through a soft mount that nobody named, no index.
Spinner hard_coat(double unbalance_g_mm, std::uint64_t seed) {
  Spinner spinner = coat(unbalance_g_mm, 3 * seed); // a steep one
  spinner.marks = 3 << seed % 4;
  std::mt19937_64 random(seed + 500);
  spinner.pattern = random_pattern(spinner.marks, 8e-3, random);
  spinner.mount.natural_hz = 10.0;
  spinner.with_index = false;
  return spinner;
}

double limit_at_half(const Spinner& off) {
  return 0.5 * steady_amplitude_rad(off.mount, off.mount.unbalance_kg_m, 3000);
}

bool says_yes(const Spinner& spinner, Angle stop, std::uint64_t seed, bool mount_named) {
  std::mt19937_64 random(seed);
  const auto train = pulses_of(spinner, random);
  SpinnerModel model;
  model.marks_per_turn = spinner.marks;
  model.limits.stop_angle = stop;
  model.inertia = kg_m2(1.3e-4);
  if (mount_named)
    model.natural = hertz(spinner.mount.natural_hz);
  LiveWatch watch(model, train.tick);
  return feed_in_tens(watch, train, [&](double t) {
    return watch.over_stop_limit() || watch.will_be_over(rpm(t < 2.9 ? 500.0 : 3000.0));
  });
}

bool count_stops(int runs) {
  int stopped = 0;
  int missed = 0;
  for (std::uint64_t seed = 1; seed <= static_cast<std::uint64_t>(runs); ++seed) {
    stopped += says_yes(coat(0.0, seed), milliradians(0.3), seed, is_steep(seed)) ? 1 : 0;
    if (seed % 5 != 0)
      continue;
    const Spinner off = coat(24.0, seed);
    missed += says_yes(off, radians(limit_at_half(off)), seed, is_steep(seed)) ? 0 : 1;
  }
  std::printf("%d even runs: %d stopped; %d runs at twice the limit: %d missed  %s\n", runs,
              stopped, runs / 5, missed, stopped + missed == 0 ? "met" : "missed");
  return stopped + missed == 0;
}

bool count_hard_stops(int runs) {
  int stopped = 0;
  int missed = 0;
  for (std::uint64_t seed = 1; seed <= static_cast<std::uint64_t>(runs); ++seed) {
    stopped += says_yes(hard_coat(0.0, seed), milliradians(0.3), seed, false) ? 1 : 0;
    const Spinner off = hard_coat(24.0, seed);
    missed += says_yes(off, radians(limit_at_half(off)), seed, false) ? 0 : 1;
  }
  std::printf("the hard set: %d even runs: %d stopped; %d at twice the limit: %d missed  %s\n",
              runs, stopped, runs, missed, stopped + missed == 0 ? "met" : "missed");
  return stopped + missed == 0;
}

} // namespace

int main(int argc, char** argv) {
  const int seeds = argc > 1 ? std::max(400, std::atoi(argv[1])) : 1000;
  bool met = true;
  std::printf("scatter over %d seeds (goal: 1.10)\n", seeds);
  for (const int marks : {2, 3, 4, 6, 7, 12, 13, 24, 60})
    met = count_scatter(marks, seeds) && met;
  std::printf("noise alone over %d seeds (goal: the stated share)\n", seeds);
  for (const int marks : {2, 3, 4, 6, 12, 24, 60})
    met = count_alarms(marks, seeds) && met;
  met = count_stops(seeds) && met;
  met = count_hard_stops(seeds / 5) && met;
  return met ? 0 : 1;
}
