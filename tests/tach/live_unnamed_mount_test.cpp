// A mount that the machine file does not name: either the watch stops a plate at twice the limit,
// or it never calls it even and says what to add. Both are counted.
#include "catch.hpp"
#include "pulse_maker.hpp"
#include "whirler/tach/live_watch.hpp"

#include <algorithm>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using Catch::Matchers::ContainsSubstring;

namespace {

struct Run {
  bool stopped = false;
  std::optional<LiveFigure> figure;
};

/// 500 rpm, then 3000; the stop limit is half of what 24 g mm do there.
Run run(double unbalance_g_mm, double natural_hz, double ramp, std::uint64_t seed) {
  constexpr int kMarks[] = {3, 6, 12, 24};
  Spinner s;
  s.marks = kMarks[seed % 4];
  s.motion = {{0.0}, {0.0}};
  s.motion.go_to(500, std::min(ramp, 500.0), 2).go_to(3000, ramp, 3);
  s.motion.hunting = 0.002;
  s.noise_rad = 2e-4;
  s.with_index = seed % 2 == 0;
  std::mt19937_64 random(seed + 500);
  s.pattern = random_pattern(s.marks, 8e-3, random);
  s.tilt = std::polar(1.0, 0.3 * static_cast<double>(seed));
  s.mount.unbalance_kg_m = unbalance_g_mm * 1e-6;
  s.mount.natural_hz = natural_hz;
  s.mount.damping = 0.03 + 0.03 * static_cast<double>(seed % 5);
  const auto train = pulses_of(s, random);
  const double r = 50.0 / natural_hz;
  SpinnerModel model;
  model.marks_per_turn = s.marks;
  model.inertia = kg_m2(1.3e-4);
  model.limits.stop_angle = radians(0.5 * 24e-6 / s.mount.moving_kg / s.mount.mark_radius_m * r *
                                    r / std::hypot(1.0 - r * r, 2.0 * s.mount.damping * r));
  LiveWatch watch(model, train.tick);
  Run out;
  const double ramp_at_s = s.motion.at_s[2];
  for (std::size_t i = 0; i < train.size() && !out.stopped; i += 10) {
    const std::size_t n = std::min<std::size_t>(10, train.size() - i);
    watch.feed(std::span(train.ticks).subspan(i, n), s.with_index
                                                         ? std::span(train.marks).subspan(i, n)
                                                         : std::span<const std::int16_t>());
    const bool slow = static_cast<double>(train.ticks[i]) * s.tick_s < ramp_at_s;
    out.stopped = watch.over_stop_limit() || watch.will_be_over(rpm(slow ? 500.0 : 3000.0));
  }
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
