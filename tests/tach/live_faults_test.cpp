// The watch of a run whose sensor misses marks or whose line loses pulses. A loop that misses marks
// surges in step with them, and turns that surge alike look like a plate: the simulated driver
// shows it.
#include "catch.hpp"
#include "plant_run.hpp"
#include "watched_coat.hpp"

using namespace whirler;
using namespace whirler::tach;
using namespace whirler::test;
using Catch::Matchers::ContainsSubstring;

namespace {

constexpr double kOff = 60e-6;   // kg m, twice the limit
constexpr double kRotor = 0.324; // kg

struct Seen {
  bool stopped = false;
  std::optional<LiveFigure> figure;
};

SpinnerModel watched_bench(int marks) {
  SpinnerModel model = calibrated_bench(marks);
  model.damping = 0.08;
  model.inertia = kg_m2(1.1e-4);
  model.limits.stop_velocity =
      metres_per_s(0.5 * kOff / kRotor * 3000 * pulse_maker::kRpm); // 29 mm/s
  return model;
}

/// 500 rpm and 3000, one mark in `drop` missing.
Seen surging(int marks, int drop, double unbalance_kg_m) {
  auto machine = plant::plain_machine();
  machine.tach.marks_per_turn = marks;
  machine.mount = machine::Mount{hertz(15), 0.08, grams(600)};
  auto setup = plant::make_setup(machine, std::nullopt).value();
  setup.faults = {plant::parse_fault("drop=" + std::to_string(drop) + "@0s").value()};
  setup.spinner.unbalance = kilogram_metres(unbalance_kg_m);
  const auto train = plant_run::pulses_of(
      setup, {plant::segment(0, 500, 500, 5), plant::segment(1, 3000, 2500, 4)}, rpm_per_s(3000));
  REQUIRE(train.size() > 200);
  LiveWatch watch(watched_bench(marks), train.tick);
  const double begins = static_cast<double>(train.ticks.front()) * train.tick.s();
  Seen out;
  out.stopped = feed_in_tens(watch, train, [&](double t) {
    return watch.over_stop_limit() || watch.will_be_over(rpm(t - begins < 5.5 ? 500.0 : 3000.0));
  });
  out.figure = watch.figure();
  return out;
}

} // namespace

TEST_CASE("live: a loop that surges because it misses marks makes no even plate stop, and hides "
          "none at twice the limit up to one mark in thirty-six") {
  struct Fault {
    int marks;
    int drop;
  };
  // 12 in 24, 33 and 48, 24 in 72 and 90: such even plates were stopped.
  for (const Fault fault :
       {Fault{3, 36}, Fault{6, 36}, Fault{6, 50}, Fault{12, 18}, Fault{12, 20}, Fault{12, 24},
        Fault{12, 30}, Fault{12, 33}, Fault{12, 48}, Fault{24, 72}, Fault{24, 90}}) {
    CAPTURE(fault.marks, fault.drop);
    CHECK_FALSE(surging(fault.marks, fault.drop, 0.0).stopped);
  }
  for (const Fault fault : {Fault{3, 36}, Fault{6, 36}, Fault{6, 50}, Fault{12, 100}}) {
    CAPTURE(fault.marks, fault.drop);
    CHECK(surging(fault.marks, fault.drop, kOff).stopped);
  }
}

TEST_CASE("live: with one mark in ten missing nothing is stopped or judged, and that is said") {
  for (const double unbalance : {0.0, kOff}) {
    const Seen seen = surging(3, 10, unbalance);
    CHECK_FALSE(seen.stopped);
    REQUIRE(seen.figure);
    CHECK(seen.figure->verdict == Verdict::cannot_tell);
    CHECK_THAT(seen.figure->reason, ContainsSubstring("one mark in") &&
                                        ContainsSubstring("is missing") &&
                                        ContainsSubstring("sensor"));
  }
}

TEST_CASE("live: pulses that the line lost are counted on where no mark is numbered") {
  // A batch of nine in a hundred and twenty pulses, one in five or so turns at six marks.
  for (std::uint64_t seed = 1; seed <= 6; ++seed)
    for (const double unbalance_g_mm : {0.0, 24.0}) {
      CAPTURE(seed, unbalance_g_mm);
      std::mt19937_64 random(seed + 500);
      auto spinner = coated(6, unbalance_g_mm, 15, 0.08, seed, random);
      spinner.with_index = false;
      spinner.motion.go_to(500, 500, 3).go_to(3000, 500, 4);
      const auto train = pulse_maker::pulses_of(spinner, random);
      SpinnerModel model;
      model.marks_per_turn = 6;
      model.limits.stop_angle = radians(0.5 * steady_amplitude_rad(spinner.mount, 24e-6, 3000));
      LiveWatch watch(model, train.tick);
      bool stopped = false;
      for (std::size_t i = 0; i < train.size(); ++i) {
        if (i % 120 == 70) {
          watch.lost(9);
          i += 9;
        }
        if (i >= train.size())
          break;
        watch.feed(std::span(train.ticks).subspan(i, 1), {});
        const double t = static_cast<double>(train.ticks[i]) * train.tick.s();
        stopped =
            stopped || watch.over_stop_limit() || watch.will_be_over(rpm(t < 3.9 ? 500.0 : 3000.0));
      }
      CHECK(stopped == (unbalance_g_mm > 0.0));
    }
}
