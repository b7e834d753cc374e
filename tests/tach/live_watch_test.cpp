#include "whirler/tach/live_watch.hpp"

#include "catch.hpp"
#include "watched_coat.hpp"

#include <algorithm>
#include <functional>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using namespace whirler::test;

namespace {

struct Watched {
  bool over = false;
  bool foreseen = false;
  double first_yes_rpm = 0.0;
  Verdict last = Verdict::cannot_tell;
};

/// A coat as a run would feed it: 500 rpm, then `top`, batches of ten pulses.
Watched watch_run(const Spinner& spinner, const SpinnerModel& model, double ramp_at_s, double top,
                  std::uint64_t seed) {
  std::mt19937_64 random(seed);
  const auto train = pulses_of(spinner, random);
  LiveWatch watch(model, train.tick);
  Watched out;
  feed_in_tens(watch, train, [&](double t) {
    const bool over = watch.over_stop_limit();
    const bool foreseen = watch.will_be_over(rpm(t < ramp_at_s ? 500.0 : top));
    if ((over || foreseen) && out.first_yes_rpm == 0.0) {
      out.first_yes_rpm = spinner.motion.omega(t) / kRpm;
      CHECK_FALSE(watch.reason().empty());
    }
    out.over = out.over || over;
    out.foreseen = out.foreseen || foreseen;
    return false;
  });
  if (const auto figure = watch.figure())
    out.last = figure->verdict;
  return out;
}

Spinner coat(int marks, double unbalance_g_mm, double natural_hz, double damping,
             std::uint64_t seed) {
  std::mt19937_64 random(seed + 500);
  Spinner spinner = coated(marks, unbalance_g_mm, natural_hz, damping, seed, random);
  spinner.motion.go_to(500, 500, 3).go_to(3000, 500, 4);
  return spinner;
}

SpinnerModel model_of(int marks, Angle stop) {
  SpinnerModel model;
  model.marks_per_turn = marks;
  model.limits.stop_angle = stop;
  return model;
}

double steady_amplitude_rad(const Mount& m, double rpm_value) {
  return whirler::test::steady_amplitude_rad(m, m.unbalance_kg_m, rpm_value);
}

} // namespace

TEST_CASE("live: no even run is stopped, whatever pattern, plumb and marks") {
  // The benchmark runs a thousand; these are the test's share.
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    CAPTURE(seed);
    const int marks = seed % 3 == 0 ? 3 : 6;
    const auto seen = watch_run(coat(marks, 0.0, 15, 0.08, seed),
                                model_of(marks, milliradians(0.3)), 3.9, 3000, seed);
    CHECK_FALSE(seen.over);
    CHECK_FALSE(seen.foreseen);
  }
}

TEST_CASE("live: one slow speed is neither stopped nor judged, on a stiff mount or a soft one") {
  // All that changes at one speed is the loop's hunting: no mount and no growth can be seen in it.
  for (const double natural : {8.0, 15.0}) {
    CAPTURE(natural);
    Spinner spinner = coat(24, 3.0, natural, 0.1, 6);
    spinner.motion = {{0.0}, {0.0}};
    spinner.motion.go_to(220, 100, 20);
    spinner.motion.hunting = 0.003;
    spinner.noise_rad = 5e-5;
    SpinnerModel model = calibrated_bench(24);
    model.limits.watch_velocity = millimetres_per_s(6.3);
    model.limits.stop_velocity = millimetres_per_s(25);
    model.natural = hertz(natural);
    const auto seen = watch_run(spinner, model, 0.0, 220, 3);
    CHECK_FALSE(seen.over);
    CHECK_FALSE(seen.foreseen);
    CHECK(seen.last == Verdict::cannot_tell);
  }
}

TEST_CASE("live: an even plate is called even once the ramp has told, whatever the marks") {
  const int marks = GENERATE(3, 6, 24, 60);
  CAPTURE(marks);
  const Spinner spinner = coat(marks, 0.0, 15, 0.08, 8);
  SpinnerModel model = model_of(marks, milliradians(2));
  model.limits.watch_angle = milliradians(1);
  CHECK(watch_run(spinner, model, 3.9, 3000, 8).last == Verdict::even);
  model = calibrated_bench(marks);
  model.limits.watch_velocity = millimetres_per_s(6.3);
  model.limits.stop_velocity = millimetres_per_s(40);
  CHECK(watch_run(spinner, model, 3.9, 3000, 8).last == Verdict::even);
}

TEST_CASE("live: no run at twice the limit is missed, and it is foreseen below its speed") {
  const double natural = GENERATE(10.0, 15.0, 30.0, 80.0);
  CAPTURE(natural);
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    CAPTURE(seed);
    const Spinner spinner = coat(6, 24.0, natural, 0.03 + 0.02 * static_cast<double>(seed), seed);
    const double amplitude = steady_amplitude_rad(spinner.mount, 3000);
    const auto seen = watch_run(spinner, model_of(6, radians(0.5 * amplitude)), 3.9, 3000, seed);
    CHECK((seen.over || seen.foreseen));
    CHECK(seen.first_yes_rpm < 2950);
  }
}

TEST_CASE(
    "live: a steep ramp through a soft mount that nobody named, without an index, hides nothing") {
  // The benchmark counts 200 of each, with other patterns.
  for (std::uint64_t seed = 1; seed <= 24; ++seed) {
    CAPTURE(seed);
    constexpr int kMarks[] = {3, 6, 12, 24};
    const auto hard = [&](double unbalance_g_mm) {
      Spinner spinner = coat(kMarks[seed % 4], unbalance_g_mm, 10,
                             0.03 + 0.01 * static_cast<double>(seed % 12), seed);
      spinner.motion = {{0.0}, {0.0}};
      spinner.motion.go_to(500, 500, 2).go_to(3000, 2500, 3);
      spinner.motion.hunting = 0.002;
      spinner.with_index = false;
      return spinner;
    };
    SpinnerModel model = model_of(kMarks[seed % 4], milliradians(0.3));
    model.inertia = kg_m2(1.3e-4);
    const auto even = watch_run(hard(0.0), model, 2.9, 3000, seed);
    CHECK_FALSE(even.over);
    CHECK_FALSE(even.foreseen);
    const Spinner off = hard(24.0);
    model.limits.stop_angle = radians(0.5 * steady_amplitude_rad(off.mount, 3000));
    const auto seen = watch_run(off, model, 2.9, 3000, seed);
    CHECK((seen.over || seen.foreseen));
  }
}

TEST_CASE("live: the corner in which a steep ramp ends hides no plate on a mount nobody named") {
  // 3000 rpm/s into 3000 rpm. At 10 Hz and a damping of 0.2 three marks are too few for it.
  for (const double natural : {10.0, 12.0, 18.0})
    for (std::uint64_t seed = 1; seed <= 8; ++seed) {
      CAPTURE(natural, seed);
      Spinner spinner = coat(12, 24.0, natural, 0.03 + 0.01 * static_cast<double>(seed), seed);
      spinner.motion = {{0.0}, {0.0}};
      spinner.motion.go_to(500, 500, 2).go_to(3000, 3000, 3);
      spinner.motion.hunting = 0.002;
      SpinnerModel model = model_of(12, radians(0.5 * steady_amplitude_rad(spinner.mount, 3000)));
      model.inertia = kg_m2(1.3e-4);
      const auto seen = watch_run(spinner, model, 2.9, 3000, seed);
      CHECK((seen.over || seen.foreseen));
    }
}

TEST_CASE("live: with mount and masses known the limit is the rotor's e times omega, or a force") {
  const double w = 3000 * kRpm;
  struct Measure {
    const char* name;
    std::function<void(FigureLimits&, double)> allow; ///< this share of what the plate does
  };
  const Measure measure =
      GENERATE_COPY(Measure{"e times omega",
                            [w](FigureLimits& limits, double share) {
                              limits.stop_velocity = metres_per_s(share * 24e-6 / 0.324 * w);
                            }},
                    Measure{"force", [w](FigureLimits& limits, double share) { // of 2.37 N
                              limits.stop_force = newtons(share * 24e-6 * w * w);
                            }});
  SpinnerModel model = calibrated_bench();
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    CAPTURE(measure.name, seed);
    const Spinner spinner = coat(6, 24.0, 15, 0.08, seed);
    measure.allow(model.limits, 0.5);
    const auto twice = watch_run(spinner, model, 3.9, 3000, seed);
    CHECK((twice.over || twice.foreseen));
    CHECK(twice.first_yes_rpm < 2000);
    measure.allow(model.limits, 2.0);
    const auto half = watch_run(spinner, model, 3.9, 3000, seed);
    CHECK_FALSE(half.over);
    CHECK_FALSE(half.foreseen);
  }
}

TEST_CASE("live: wherever between two marks a shaft leaves rest, its turns are counted") {
  // A motor that jumps to its least speed within the first interval makes the second half as long.
  // It was once left out as too early, and so was every other pulse of the run.
  constexpr double kTop = 30.0; // rad/s
  constexpr double kTick = 5e-7;
  for (const int marks : {2, 3, 4, 6, 7, 12, 24})
    for (const double share : {1e-6, 0.01, 0.1, 0.3, 0.6, 0.95})
      for (const bool index : {true, false}) {
        CAPTURE(marks, share, index);
        SpinnerModel model;
        model.marks_per_turn = marks;
        LiveWatch watch(model, seconds(kTick));
        for (int k = 0; k < 60 * marks; ++k) {
          const double angle = kRadPerTurn * (share + k) / marks;
          const double gain = kTop * kTop * marks / (2.0 * kRadPerTurn); // in one interval
          const double gained = kRadPerTurn / marks;
          const double t = angle < gained ? std::sqrt(2.0 * angle / gain)
                                          : kTop / gain + (angle - gained) / kTop;
          const std::int64_t tick = std::llround(t / kTick);
          const auto mark = static_cast<std::int16_t>(k % marks);
          watch.feed(std::span(&tick, 1),
                     index ? std::span(&mark, 1) : std::span<const std::int16_t>());
        }
        REQUIRE(watch.figure());
        CHECK(watch.figure()->turns >= 45); // 55 where no count was begun anew
      }
}

TEST_CASE("live: with one mark in fifteen missing a plate at twice the limit is stopped still") {
  // Two turns in five are left out. With one mark in nine it is two in three, and nothing is told.
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    CAPTURE(seed);
    const auto stops = [&](double unbalance_g_mm) {
      const Spinner spinner = coat(6, unbalance_g_mm, 15, 0.08, seed);
      std::mt19937_64 random(seed);
      const auto whole = pulses_of(spinner, random);
      PulseTrain seen;
      seen.tick = whole.tick;
      for (std::size_t i = 0; i < whole.size(); ++i) {
        if (i % 15 == 7)
          continue;
        seen.ticks.push_back(whole.ticks[i]);
        if (spinner.with_index)
          seen.marks.push_back(whole.marks[i]);
      }
      const Mount mount = coat(6, 24.0, 15, 0.08, seed).mount;
      LiveWatch watch(model_of(6, radians(0.5 * steady_amplitude_rad(mount, 3000))), seen.tick);
      return feed_in_tens(watch, seen, [&](double t) {
        return watch.over_stop_limit() || watch.will_be_over(rpm(t < 3.9 ? 500.0 : 3000.0));
      });
    };
    CHECK(stops(24.0));
    CHECK_FALSE(stops(0.0));
  }
}

TEST_CASE("live: a baseline lies on numbered marks alone, and stops no even plate where none are") {
  // Its vector is from the index: on a count that began at any mark it is turned by some of them,
  // and the difference of twice the marks' own pattern is no plate.
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    CAPTURE(seed);
    const Spinner even = coat(8, 0.0, 15, 0.08, seed);
    Spinner bare = even;
    bare.motion = Motion::dwell(500, 5);
    bare.with_index = true;
    std::mt19937_64 random(seed);
    const auto baseline = order_one(pulses_of(bare, random), 8);
    REQUIRE(baseline);
    auto train = pulses_of(even, random);
    train.ticks.erase(train.ticks.begin(), train.ticks.begin() + 3); // it begins at mark 3
    train.marks.clear();
    for (const bool numbered : {false, true}) {
      CAPTURE(numbered);
      for (std::size_t i = 0; numbered && i < train.size(); ++i)
        train.marks.push_back(static_cast<std::int16_t>(i < 5 ? -1 : (i + 3) % 8));
      LiveWatch watch(model_of(8, milliradians(2)), train.tick, baseline->vector);
      CHECK_FALSE(feed_in_tens(watch, train, [&](double t) {
        return watch.over_stop_limit() || watch.will_be_over(rpm(t < 3.9 ? 500.0 : 3000.0));
      }));
      LiveWatch slow(model_of(8, milliradians(2)), train.tick, baseline->vector);
      feed_in_tens(slow, train, [](double t) { return t > 3.85; });
      REQUIRE(slow.figure());
      CHECK(slow.figure()->pattern_known == numbered);
    }
  }
}

TEST_CASE("live: a plate that comes loose late in a long dwell is seen") {
  Spinner spinner = coat(6, 0.0, 15, 0.08, 4);
  spinner.with_index = true;
  std::mt19937_64 random(5);
  auto train = pulses_of(spinner, random);
  // From 12 s on the once-per-turn is 1.5 mrad, well above the mount's natural speed.
  for (std::size_t i = 0; i < train.size(); ++i)
    if (static_cast<double>(train.ticks[i]) * spinner.tick_s > 12.0)
      train.ticks[i] += std::llround(1.5e-3 * std::cos(kPi / 3.0 * train.marks[i]) / (3000 * kRpm) /
                                     spinner.tick_s);
  LiveWatch watch(model_of(6, milliradians(0.5)), train.tick);
  double seen_s = 0.0;
  for (std::size_t i = 0; i < train.size() && seen_s == 0.0; ++i) {
    watch.feed(std::span(train.ticks).subspan(i, 1), std::span(train.marks).subspan(i, 1));
    if (watch.over_stop_limit())
      seen_s = static_cast<double>(train.ticks[i]) * spinner.tick_s;
  }
  CHECK(seen_s > 12.0);
  CHECK(seen_s < 13.5);
}

TEST_CASE("live: lost, doubled and missing pulses break nothing and stop nothing") {
  Spinner spinner = coat(6, 0.0, 15, 0.08, 2);
  std::mt19937_64 random(6);
  const auto train = pulses_of(spinner, random);
  LiveWatch watch(model_of(6, milliradians(0.3)), train.tick);
  std::uniform_real_distribution<double> share(0.0, 1.0);
  for (std::size_t i = 0; i < train.size(); ++i) {
    if (share(random) < 0.01)
      continue;
    if (i == 900) {
      watch.lost();
      i += 17;
    }
    watch.feed(std::span(train.ticks).subspan(i, 1), std::span(train.marks).subspan(i, 1));
    if (share(random) < 0.005)
      watch.feed(std::span(train.ticks).subspan(i, 1), std::span(train.marks).subspan(i, 1));
  }
  CHECK_FALSE(watch.over_stop_limit());
  CHECK_FALSE(watch.will_be_over(rpm(3000)));
  const auto figure = watch.figure();
  REQUIRE(figure);
  CHECK(figure->speed.rpm() == Approx(3000).epsilon(0.01));
}

TEST_CASE("live: a count that began wrong, without an index, is begun anew") {
  Spinner spinner = coat(24, 24.0, 15, 0.08, 3);
  spinner.with_index = false;
  std::mt19937_64 random(3);
  auto train = pulses_of(spinner, random);
  // From rest: one mark that never passed, amid intervals that still shrink by halves.
  train.ticks.insert(train.ticks.begin() + 3, (train.ticks[2] + train.ticks[3]) / 2);
  train.ticks.erase(train.ticks.begin() + 8);
  LiveWatch watch(model_of(24, milliradians(1.4)), train.tick);
  watch.feed(train.ticks, {});
  CHECK((watch.over_stop_limit() || watch.will_be_over(rpm(3000))));
}

TEST_CASE("live: one mark and a sensor on the sprung body stop nothing and show no figure") {
  SpinnerModel model = model_of(1, milliradians(0.1));
  const Spinner spinner = coat(1, 240.0, 15, 0.08, 2);
  const auto seen = watch_run(spinner, model, 3.9, 3000, 1);
  CHECK_FALSE(seen.over);
  model = model_of(6, milliradians(0.1));
  model.sensor_on = SensorOn::sprung;
  LiveWatch watch(model, microseconds(0.5));
  std::mt19937_64 random(1);
  const auto train = pulses_of(coat(6, 240.0, 15, 0.08, 2), random);
  watch.feed(train.ticks, train.marks);
  CHECK_FALSE(watch.over_stop_limit());
  CHECK_FALSE(watch.figure());
}
