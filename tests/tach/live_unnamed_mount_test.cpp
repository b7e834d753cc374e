// A mount that the machine file does not name: either the watch stops a plate at twice the limit,
// or it never calls it even and says what to add. Both are counted.
#include "catch.hpp"
#include "watched_coat.hpp"

#include <algorithm>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using namespace whirler::test;
using Catch::Matchers::ContainsSubstring;

namespace {

struct Run {
  bool stopped = false;
  std::optional<LiveFigure> figure;
};

/// 500 rpm, then 3000; the stop limit is half of what 24 g mm do there.
Run run(double unbalance_g_mm, double natural_hz, double ramp, std::uint64_t seed) {
  constexpr int kMarks[] = {3, 6, 12, 24};
  std::mt19937_64 random(seed + 500);
  Spinner s = coated(kMarks[seed % 4], unbalance_g_mm, natural_hz,
                     0.03 + 0.03 * static_cast<double>(seed % 5), seed, random);
  s.motion.go_to(500, std::min(ramp, 500.0), 2).go_to(3000, ramp, 3);
  const auto train = pulses_of(s, random);
  SpinnerModel model;
  model.marks_per_turn = s.marks;
  model.inertia = kg_m2(1.3e-4);
  model.limits.stop_angle = radians(0.5 * steady_amplitude_rad(s.mount, 24e-6, 3000));
  LiveWatch watch(model, train.tick);
  Run out;
  out.stopped = feed_in_tens(watch, train, [&](double t) {
    return watch.over_stop_limit() ||
           watch.will_be_over(rpm(t < s.motion.at_s[2] ? 500.0 : 3000.0));
  });
  out.figure = watch.figure();
  return out;
}

} // namespace

TEST_CASE("live: on a mount nobody named a plate at twice the limit is stopped, or not called even "
          "and the reason says what to add") {
  int runs = 0;
  int stopped = 0;
  int told = 0;
  for (const double natural : {6.0, 7.5, 9.0, 12.0, 16.0, 30.0})
    for (const double ramp : {300.0, 1000.0, 4000.0})
      for (std::uint64_t seed = 1; seed <= 10; ++seed) {
        CAPTURE(natural, ramp, seed);
        const Run off = run(24.0, natural, ramp, seed);
        ++runs;
        stopped += off.stopped ? 1 : 0;
        REQUIRE(off.figure);
        CHECK_FALSE(off.figure->reason.empty());
        if (off.stopped)
          continue;
        CHECK(off.figure->verdict != Verdict::even);
        told += off.figure->verdict != Verdict::even ? 1 : 0;
        if (off.figure->verdict == Verdict::cannot_tell)
          CHECK_THAT(off.figure->reason, ContainsSubstring("mount.natural_hz"));
      }
  CAPTURE(runs, stopped, told);
  CHECK(stopped >= runs * 75 / 100);
  CHECK(stopped + told == runs);
}

TEST_CASE("live: an even plate on any of these mounts is stopped nowhere, and mostly called even "
          "under a generous limit") {
  int runs = 0;
  int even = 0;
  for (const double natural : {6.0, 12.0, 30.0})
    for (const double ramp : {300.0, 1000.0, 4000.0})
      for (std::uint64_t seed = 1; seed <= 5; ++seed) {
        CAPTURE(natural, ramp, seed);
        const Run plate = run(0.0, natural, ramp, seed);
        ++runs;
        CHECK_FALSE(plate.stopped);
        even += plate.figure && plate.figure->verdict == Verdict::even ? 1 : 0;
      }
  CAPTURE(runs, even);
  CHECK(even >= runs / 2);
}

namespace {

/// Of 15 Hz, named otherwise: slowly through the natural speed to 3000 rpm; the limit is what 12 g
/// mm do there.
bool stopped_by_name(double unbalance_g_mm, double named_hz, std::uint64_t seed,
                     std::string* reason = nullptr) {
  std::mt19937_64 random(seed + 900);
  Spinner s =
      coated(6, unbalance_g_mm, 15.0, 0.03 + 0.03 * static_cast<double>(seed % 4), seed, random);
  s.motion.go_to(350, 500, 3).go_to(3000, 200.0 + 300.0 * static_cast<double>(seed % 3), 4);
  const auto train = pulses_of(s, random);
  SpinnerModel model = calibrated_bench();
  model.natural = hertz(named_hz);
  model.damping = 0.08;
  model.inertia = kg_m2(1.3e-4);
  model.limits.stop_force = newtons(12e-6 * std::pow(3000.0 * kRpm, 2));
  LiveWatch watch(model, train.tick);
  const bool stopped = feed_in_tens(watch, train, [&](double t) {
    return watch.over_stop_limit() ||
           watch.will_be_over(rpm(t < s.motion.at_s[2] ? 350.0 : 3000.0));
  });
  if (reason != nullptr)
    *reason = watch.reason();
  return stopped;
}

} // namespace

TEST_CASE("live: a mount whose name is wrong stops no even plate, and lets none at twice the limit "
          "run") {
  int said = 0; // where the plate is stopped by what the pulses say of the mount
  for (const double named_hz : {7.5, 11.0, 15.0, 20.0, 30.0, 45.0})
    for (std::uint64_t seed = 1; seed <= 8; ++seed) {
      CAPTURE(named_hz, seed);
      CHECK_FALSE(stopped_by_name(0.0, named_hz, seed));
      CHECK_FALSE(stopped_by_name(4.0, named_hz, seed));
      std::string reason;
      CHECK(stopped_by_name(24.0, named_hz, seed, &reason));
      said += reason.find("not of the 30 Hz") != std::string::npos ? 1 : 0;
    }
  CHECK(said >= 4);
}
