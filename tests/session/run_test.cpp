#include "bench.hpp"

#include <algorithm>
#include <csignal>

using namespace whirler;
using run::Ending;
using whirler::test::Bench;

namespace {

/// However a run ended, the motor has no command and no enable.
void check_off(const Bench& bench) {
  const auto truth = bench.spinner->truth();
  CHECK(truth.command == 0.0);
  CHECK_FALSE(truth.enabled);
}

Ending ending_of(const session::RunResult& result) {
  REQUIRE(result.summary.has_value());
  CAPTURE(result.summary->cause);
  return result.summary->ending;
}

} // namespace

TEST_CASE("session: a profile is run to its end, on its speeds, and ends at rest") {
  Bench bench;
  const auto result = bench.run();
  CHECK(result.faults.empty());
  CHECK(ending_of(result) == Ending::completed);
  CHECK(result.coat == 7);
  CHECK(result.summary->standstill_seen);
  CHECK(result.summary->steps == 2);
  CHECK(result.summary->top_speed.rpm() == Approx(2000).epsilon(0.02));
  REQUIRE(result.summary->peak_error.has_value());
  CHECK(result.summary->peak_error->rpm() < 0.01 * 2000);
  CHECK(result.summary->pulses_lost == 0);
  check_off(bench);
  // [math] 6 marks x turns: (0.5 s x 250 + 3.0 x 500 + 1.5 x 1250 + 6 x 2000 + 2 x 1000 rpm s)/60,
  // and the start up to the first plausible intervals.
  CHECK(static_cast<double>(bench.kept.pulses) == Approx(6 * 17500 / 60.0).epsilon(0.03));
  CHECK(bench.kept.pulses == result.summary->pulses);
  REQUIRE(bench.kept.finished.has_value());
}

TEST_CASE("session: progress shows every step, the target, and time that runs down") {
  Bench bench({}, 4.0);
  bench.run();
  REQUIRE(bench.shown.size() > 10);
  CHECK(std::any_of(bench.shown.begin(), bench.shown.end(),
                    [](const auto& shown) { return shown.step_name == "spread"; }));
  CHECK(std::any_of(bench.shown.begin(), bench.shown.end(), [](const auto& shown) {
    return shown.step_name == "thin" && shown.target == rpm(2000);
  }));
  CHECK(std::is_sorted(bench.shown.begin(), bench.shown.end(),
                       [](const auto& a, const auto& b) { return a.left > b.left; }));
  CHECK_FALSE(bench.shown.back().may_be_turning);
}

TEST_CASE("session: each fault of the bench ends the run with its own word and the motor off") {
  struct Case {
    const char* fault;
    std::vector<Ending> endings; ///< any of these: which of two is seen first may differ
  };
  const Case cases[] = {
      {"lid@2s", {Ending::lid}},
      {"lid@6s", {Ending::lid}},
      {"stall@5s", {Ending::stall, Ending::tach_lost, Ending::tach_implausible}},
      {"tach@5s", {Ending::tach_lost}},
      {"cable@5s", {Ending::link_lost}},
      {"silent@5s", {Ending::link_lost}},
      {"deaf@5s", {Ending::link_lost}},
      {"reset@5s", {Ending::drive_fault, Ending::link_lost}},
      {"hang@5s", {Ending::link_lost, Ending::drive_fault}},
      {"estop@5s", {Ending::tach_implausible, Ending::stall, Ending::tach_lost}},
  };
  for (const auto& each : cases) {
    CAPTURE(each.fault);
    Bench bench({each.fault}, 10.0);
    const auto ending = ending_of(bench.run());
    CAPTURE(run::word(ending));
    CHECK(std::find(each.endings.begin(), each.endings.end(), ending) != each.endings.end());
    // A line that is dead leaves the stop to the driver's dead-man, 250 ms after the last word.
    for (int i = 0; i < 200 && bench.spinner->truth().enabled; ++i)
      usleep(5000);
    check_off(bench);
  }
}

TEST_CASE("session: one byte in a thousand damaged does not stop a run or change its speeds") {
  Bench bench({"corrupt=1e-4@0s"}, 4.0);
  const auto result = bench.run();
  CHECK(ending_of(result) == Ending::completed);
  CHECK(result.summary->top_speed.rpm() == Approx(2000).epsilon(0.02));
}

TEST_CASE("session: Ctrl-C runs the stop ramp, and the run ends at rest by the operator") {
  Bench bench({}, 4.0);
  const auto result = bench.run(seconds(6), [] { std::raise(SIGINT); });
  CHECK(ending_of(result) == Ending::operator_stop);
  CHECK(result.summary->standstill_seen);
  CHECK(bench.spinner->truth().latch == link::Latch::operator_stop);
  check_off(bench);
}

TEST_CASE("session: a second Ctrl-C commands the motor off at once") {
  Bench bench({}, 4.0);
  const auto result = bench.run(seconds(6), [] {
    std::raise(SIGINT);
    std::raise(SIGINT);
  });
  CHECK(ending_of(result) == Ending::operator_stop);
  CHECK(bench.spinner->truth().latch == link::Latch::operator_cut);
  check_off(bench);
}

TEST_CASE("session: SIGTERM, SIGHUP and the terminal's stop key all end with the motor off") {
  for (const int number : {SIGTERM, SIGHUP, SIGTSTP}) {
    CAPTURE(number);
    Bench bench({}, 8.0);
    const auto result = bench.run(seconds(6), [number] { std::raise(number); });
    CHECK(ending_of(result) == (number == SIGTSTP ? Ending::operator_stop : Ending::terminated));
    CHECK(result.summary->standstill_seen);
    check_off(bench);
  }
}

TEST_CASE("session: a record that cannot be written any longer stops the run, and says so") {
  Bench bench;
  bench.kept.fails_after = 200;
  const auto result = bench.run();
  CHECK(ending_of(result) == Ending::record);
  CHECK_THAT(result.summary->cause, Catch::Matchers::ContainsSubstring("the disk is full"));
  CHECK(result.summary->standstill_seen);
  check_off(bench);
}

TEST_CASE("session: an open lid at the start is refused and nothing turns") {
  Bench bench({"lid@0s"});
  const auto result = bench.run();
  REQUIRE(result.faults.size() == 1);
  CHECK(result.faults[0].what == "the lid is open");
  CHECK_FALSE(result.summary.has_value());
  CHECK(bench.spinner->truth().turns == 0.0);
}

TEST_CASE("session: a plan over a limit is refused before anything turns, and keeps no record") {
  Bench bench;
  bench.order.plan.profile.steps[1].speed = rpm(7000);
  const auto result = bench.run();
  CHECK_FALSE(result.faults.empty());
  CHECK(bench.kept.events.empty());
  CHECK(bench.spinner->truth().turns == 0.0);
}

TEST_CASE("session: a driver that says nothing is given up in the time stated") {
  Bench bench({"silent@0s"});
  bench.order.patience = milliseconds(400);
  const auto begin = std::chrono::steady_clock::now();
  const auto result = bench.run();
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
  REQUIRE(result.faults.size() == 1);
  CHECK(result.faults[0].kind == FaultKind::link);
  CHECK(took.count() < 3.0); // patience, and whatever a busy test machine adds
}

TEST_CASE(
    "session: a plate bolted off centre is stopped before it reaches the speed of the limit") {
  // [math] 28.5 g x 2 mm over 328.5 g, at 2000 rpm: 36 mm/s; the bare hub's 0.5 g mm beside it.
  Bench bench;
  bench.bolt_on(millimetres(2), millimetres_per_s(6), millimetres_per_s(20));
  const auto result = bench.run();
  CHECK(ending_of(result) == Ending::imbalance);
  CHECK_THAT(result.summary->cause, Catch::Matchers::ContainsSubstring("20 mm/s"));
  CHECK(result.summary->top_speed < rpm(1990));
  REQUIRE(result.summary->jitter.has_value()); // what it was stopped for, and what stays shown
  CHECK(result.summary->jitter->verdict == tach::Verdict::stop);
  CHECK(bench.shown.back().jitter->verdict == "stop");
  CHECK(result.summary->standstill_seen);
  check_off(bench);
}

TEST_CASE("session: a plate within the limit runs to its end, and its figure is the plate's") {
  // [math] 28.5 g x 0.5 mm over 328.5 g, at 2000 rpm: 9.1 mm/s, give or take the hub's 0.3.
  Bench bench;
  bench.bolt_on(millimetres(0.5), millimetres_per_s(6), millimetres_per_s(20));
  const auto result = bench.run();
  CHECK(ending_of(result) == Ending::completed);
  REQUIRE(result.summary->jitter.has_value());
  CHECK(result.summary->jitter->verdict == tach::Verdict::watch);
  // Jeffcott at 2000 rpm on 15 Hz, damping 0.08: U/(M R) r^2/|1 - r^2 + 2 j z r| = 1.98 mrad.
  const double moving_kg = bench.machine.mount->moving.kg();
  const double expected_mrad =
      28.5e-6 * 0.5 / (moving_kg * bench.machine.tach.mark_radius.m()) * 1.2488 * 1e3;
  CHECK(result.summary->jitter->amplitude.mrad() == Approx(expected_mrad).epsilon(0.12));
}

TEST_CASE("session: a plate that shook at speed is not called even for slowing down") {
  Bench bench;
  bench.bolt_on(millimetres(0.5), millimetres_per_s(6), millimetres_per_s(20));
  bench.order.plan.profile.steps.push_back({"settle", rpm(500), rpm_per_s(1000), seconds(4)});
  const auto result = bench.run();
  CHECK(ending_of(result) == Ending::completed);
  REQUIRE(result.summary->jitter.has_value());
  CHECK(result.summary->jitter->verdict == tach::Verdict::watch);
  CHECK(result.summary->jitter->speed.rpm() == Approx(2000).epsilon(0.02));
  // [math] at 500 rpm it is 2.3 mm/s: even. What stays on the screen at the end is the plate's.
  REQUIRE(bench.shown.back().jitter.has_value());
  CHECK(bench.shown.back().jitter->verdict == "watch");
}
