// Every way in which a run is ended from the driver's side, and how long it takes. The rules are in
// PROTOCOL.md, section 6.
#include "catch.hpp"
#include "scripted_host.hpp"

#include <algorithm>
#include <cmath>
#include <random>

using namespace whirler;
using namespace whirler::plant;
using link::DriverState;
using link::Latch;
using link::NakCode;

namespace {

bool running(const ScriptedHost& host) {
  return !host.reports.empty() && host.reports.back().state == DriverState::running;
}

/// Lets time pass until nothing drives the motor any more; how long that took.
Duration time_to_off(ScriptedHost& host, Duration most = seconds(20)) {
  const Duration from = host.driver.truth().at;
  host.wait_until([&] { return !host.turning(); }, most);
  REQUIRE_FALSE(host.turning());
  return host.driver.truth().at - from;
}

/// A run of one long step at 3000 rpm, up to speed, with a fault in store.
ScriptedHost at_speed(const Setup& setup, const Program& program = {}) {
  ScriptedHost host(setup);
  REQUIRE(host.begin(program));
  REQUIRE(host.wait_until(
      [&] { return running(host) && host.reports.back().phase == link::Phase::dwell; },
      seconds(9)));
  return host;
}

Program long_program() {
  Program program;
  program.segments = {segment(0, 3000, 1500, 60)};
  return program;
}

/// Nothing but hello, clear, program and start turns it again.
void stays_off(ScriptedHost& host) {
  const link::Nak refused = host.refusal(long_program().start()).value();
  CHECK((refused.code == NakCode::bad_state || refused.code == NakCode::no_hello));
  CHECK(host.refusal(segment(0, 1000, 1000, 1)).has_value());
  host.wait(seconds(3));
  CHECK_FALSE(host.turning());
}

} // namespace

TEST_CASE("each fault on request latches its own word within its time, and stays off") {
  struct Case {
    const char* fault;
    std::vector<Latch> latches;
    double worst_ms; ///< from the fault's time to enable off
  };
  // A jam may show as either: the marks slow down and end, or just end. Two ms are the step.
  const auto c = GENERATE(values<Case>({
      {"lid@4s", {Latch::lid_open}, 2},
      {"tach@4s", {Latch::tach_lost}, 260},
      {"stall@4s", {Latch::stall, Latch::tach_lost}, 320},
      {"drop@4s", {Latch::tach_implausible}, 310},
      {"marks@4s", {Latch::tach_implausible}, 310},
      {"marks=5@4s", {Latch::tach_implausible}, 310},
      {"marks=7@4s", {Latch::tach_implausible}, 310},
      {"runaway@4s", {Latch::overspeed}, 2500},
      {"deaf@4s", {Latch::link_lost}, 272},
      {"cable@4s", {Latch::link_lost}, 272},
      {"silent@4s", {Latch::link_lost}, 520}, // the host still writes: names an old report
      {"reset@4s", {Latch::external_reset}, 2},
      {"brownout@4s", {Latch::brown_out_reset}, 2},
      {"hang@4s", {Latch::watchdog_reset}, 252},
  }));
  CAPTURE(c.fault);
  ScriptedHost host(plain_setup(c.fault));
  REQUIRE(host.begin(long_program()));
  const Duration began = host.driver.truth().at;
  REQUIRE(host.wait_until([&] { return host.driver.truth().at - began >= milliseconds(3990); },
                          seconds(5)));
  REQUIRE(host.turning());
  const Duration off = time_to_off(host) - milliseconds(10);
  CHECK(off.ms() < c.worst_ms);
  const Latch latch = host.driver.truth().latch;
  CAPTURE(to_text(latch));
  CHECK(std::count(c.latches.begin(), c.latches.end(), latch) == 1);
  CHECK(host.driver.truth().command == 0.0);
}

TEST_CASE("after a fault the driver says why, and only a whole new beginning turns it again") {
  const char* fault = GENERATE("lid@4s+1s", "estop@4s+2s", "deaf@4s+1s", "reset@4s");
  CAPTURE(fault);
  ScriptedHost host(plain_setup(fault));
  REQUIRE(host.begin(long_program()));
  host.wait(seconds(4));
  REQUIRE(host.wait_until([&] { return !host.turning(); }, seconds(10)));
  host.wait(seconds(3));
  stays_off(host);
  REQUIRE(host.greet());
  CHECK(host.refusal(long_program().start()).value().code == NakCode::bad_state);
  Program again = long_program();
  again.token = 78;
  // The emergency stop made the tach suspect: standstill is believed only after a minute.
  REQUIRE(host.wait_until([&] { return host.reports.back().still; }, seconds(100)));
  CHECK(host.accepts(link::Clear{}));
  CHECK(host.refusal(again.start()).value().code == NakCode::segment_missing);
  CHECK(host.upload(again));
  CHECK(host.accepts(again.start()));
  CHECK(host.wait_until([&] { return running(host); }, seconds(3)));
}

TEST_CASE("an emergency stop pressed while running latches; releasing it starts nothing") {
  ScriptedHost host(plain_setup("estop@4s+3s"));
  REQUIRE(host.begin(long_program()));
  host.wait(seconds(4));
  const Duration off = time_to_off(host);
  CHECK(host.driver.truth().latch == Latch::tach_implausible);
  CHECK(off.s() < 3.0); // before it was released
  const Speed then = host.driver.truth().speed;
  host.wait(seconds(10));
  CHECK(host.driver.truth().speed < then);
  CHECK_FALSE(host.turning());
}

TEST_CASE("a tach that is dead at the start lets no more than the capped command through") {
  for (const char* fault : {"tach@0s", "stall@0s", "estop@0s"}) {
    CAPTURE(fault);
    ScriptedHost host(plain_setup(fault));
    REQUIRE(host.begin(long_program()));
    double most = 0.0;
    const Duration began = host.driver.truth().at;
    host.wait_until(
        [&] {
          most = std::max(most, host.driver.truth().command);
          return !host.turning();
        },
        seconds(5));
    CHECK(host.driver.truth().latch == Latch::tach_lost);
    CHECK((host.driver.truth().at - began).s() < 1.01);
    CHECK(most < 0.03);
    CHECK(host.driver.truth().speed < rpm(220)); // the lowest speed is 200
  }
}

TEST_CASE("every second mark lost from the start never lets the speed past its ceiling by half") {
  Setup setup = plain_setup("drop@0s");
  const bool index = GENERATE(true, false);
  setup.controller.driver.index = index;
  ScriptedHost host(setup);
  Program program = long_program();
  program.ceiling = rpm(3000);
  REQUIRE(host.begin(program));
  double fastest = 0.0;
  host.wait_until(
      [&] {
        fastest = std::max(fastest, host.driver.truth().speed.rpm());
        return !host.turning();
      },
      seconds(20));
  CHECK_FALSE(host.turning());
  CHECK(host.driver.truth().latch == Latch::tach_implausible);
  CHECK(fastest < (index ? 1500 : 4500)); // with an index three miscounted turns are enough
}

TEST_CASE("a mark lost now and then ends nothing, and the host sees it") {
  ScriptedHost host(plain_setup("drop=97@1s"));
  REQUIRE(host.begin({}));
  REQUIRE(host.wait_until([&] { return host.reports.back().state == DriverState::latched; },
                          seconds(30)));
  CHECK(host.reports.back().latch == Latch::done);
  link::PulseUnwrapper unwrapper(*host.hello);
  for (const auto& batch : host.batches)
    (void)unwrapper.add(batch);
  CHECK(unwrapper.losses().mark_slips > 5);
}

TEST_CASE("the dead-man: no keep-alive for 250 ms and the motor is off, in every turning state") {
  const auto silence_after = [](Duration run_for, Program program) {
    ScriptedHost host(plain_setup());
    REQUIRE(host.begin(program));
    host.wait(run_for);
    REQUIRE(host.turning());
    host.keeps_alive = false;
    const Duration off = time_to_off(host);
    CHECK(host.driver.truth().latch == Latch::link_lost);
    return off.ms();
  };
  CHECK(silence_after(milliseconds(1), long_program()) <= 252); // starting
  CHECK(silence_after(seconds(1), long_program()) <= 252);      // ramping
  CHECK(silence_after(seconds(6), long_program()) <= 252);      // dwelling
  CHECK(silence_after(seconds(6), long_program()) > 229);       // a host may be slow for so long
  Program slow_stop;
  slow_stop.segments = {segment(0, 3000, 3000, 1)};
  slow_stop.stop_slope = rpm_per_s(300);
  CHECK(silence_after(seconds(5), slow_stop) <= 252); // stopping
}

TEST_CASE("a host that writes but no longer reads loses the link too") {
  ScriptedHost host = at_speed(plain_setup(), long_program());
  host.keeps_alive = false;
  const auto stuck = host.last_report;
  for (int i = 0; i < 30 && host.turning(); ++i) {
    host.say(link::KeepAlive{stuck});
    host.wait(milliseconds(20));
  }
  CHECK_FALSE(host.turning());
  CHECK(host.driver.truth().latch == Latch::link_lost);
}

TEST_CASE("keep-alives with a report that was never sent do not feed the dead-man") {
  ScriptedHost host = at_speed(plain_setup(), long_program());
  host.keeps_alive = false;
  for (int i = 0; i < 14; ++i) {
    host.say(link::KeepAlive{static_cast<std::uint16_t>(host.last_report + 500)});
    host.wait(milliseconds(20));
  }
  CHECK_FALSE(host.turning());
}

TEST_CASE("a stop runs the stop ramp and then is off; a cut is off at once") {
  ScriptedHost host = at_speed(plain_setup(), long_program());
  SECTION("stop") {
    host.stop(link::StopKind::stop);
    host.wait(milliseconds(2));
    CHECK(host.reports.back().state == DriverState::stopping);
    CHECK(host.reports.back().latch == Latch::operator_stop);
    const Duration off = time_to_off(host);
    CHECK(off.s() == Approx(3.0).margin(0.1)); // 3000 rpm at 1000 rpm/s
    CHECK(host.driver.truth().latch == Latch::operator_stop);
    CHECK(host.driver.truth().speed < rpm(150));
  }
  SECTION("cut") {
    host.stop(link::StopKind::cut);
    CHECK_FALSE(host.turning()); // before any time has passed
    CHECK(host.driver.truth().latch == Latch::operator_cut);
    host.wait(milliseconds(2));
    CHECK(host.reports.back().latch == Latch::operator_cut);
  }
  SECTION("cut while stopping") {
    host.stop(link::StopKind::stop);
    host.wait(milliseconds(500));
    host.stop(link::StopKind::cut);
    CHECK_FALSE(host.turning());
    CHECK(host.driver.truth().latch == Latch::operator_cut);
  }
  SECTION("a stop cut into a frame") {
    auto bytes = link::encode(link::KeepAlive{host.last_report}, 9);
    const auto stop = link::stop_sequence(link::StopKind::cut);
    bytes.insert(bytes.begin() + 5, stop.begin(), stop.end());
    host.say_raw(std::span(bytes).first(7)); // two of the four bytes are enough
    CHECK_FALSE(host.turning());
  }
  SECTION("one stray byte is no stop") {
    const std::uint8_t stray[] = {link::kCutByte, 0x00, link::kCutByte, link::kStopByte};
    host.say_raw(stray);
    host.wait(seconds(1));
    CHECK(host.turning());
    return;
  }
  host.wait(seconds(5));
  CHECK_FALSE(host.turning());
  CHECK(host.refusal(long_program().start()).value().code == NakCode::bad_state);
}

TEST_CASE("the lid opening while a stop ramp runs is a cut, and is what the driver says") {
  ScriptedHost host(plain_setup("lid@6s"));
  REQUIRE(host.begin(long_program()));
  host.wait(milliseconds(5500));
  host.stop(link::StopKind::stop);
  host.wait(milliseconds(300));
  CHECK(host.driver.truth().state == DriverState::stopping);
  host.wait(milliseconds(300));
  CHECK_FALSE(host.turning());
  CHECK(host.driver.truth().latch == Latch::lid_open);
}

TEST_CASE("a hello while turning is a new host: cut") {
  ScriptedHost host = at_speed(plain_setup(), long_program());
  CHECK(host.greet());
  CHECK_FALSE(host.turning());
  CHECK(host.driver.truth().latch == Latch::new_host);
}

TEST_CASE("standstill is not said before it is so, and after a doubted tach not for a minute") {
  ScriptedHost host(plain_setup("tach@4s"));
  REQUIRE(host.begin(long_program()));
  host.wait(seconds(5));
  REQUIRE(host.driver.truth().latch == Latch::tach_lost);
  for (int i = 0; i < 590; ++i) {
    host.wait(milliseconds(100));
    const bool said = host.reports.back().still;
    REQUIRE_FALSE((said && host.driver.truth().speed > rpm(0)));
    if (i < 580)
      REQUIRE_FALSE(said);
  }
  host.wait(seconds(3));
  CHECK(host.reports.back().still);
}

TEST_CASE("no report ever says standstill while the plate turns faster than 10 rpm") {
  for (const char* fault : {"lid@3s", "deaf@3s+1s", "brownout@3s"}) {
    CAPTURE(fault);
    ScriptedHost host(plain_setup(fault));
    REQUIRE(host.begin(long_program()));
    bool greeted_again = false;
    for (int ms = 0; ms < 40000; ++ms) {
      host.wait(milliseconds(1));
      if (!greeted_again && ms > 6000)
        greeted_again = host.greet(); // a driver that was reset is silent before
      REQUIRE_FALSE((host.reports.back().still && host.driver.truth().speed > rpm(10)));
    }
    CHECK(host.reports.back().still);
  }
}

TEST_CASE("on a line that damages bytes a run ends well or ends off, and never runs wild") {
  const double share = GENERATE(1e-4, 1e-3, 1e-2);
  int done = 0;
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    CAPTURE(share, seed);
    Setup setup = plain_setup({ScriptedFault{FaultWord::corrupt, share, seconds(0), {}}});
    setup.seed = seed;
    ScriptedHost host(setup);
    if (!host.begin({})) {
      CHECK(share > 5e-3); // a good line gets through within the five repeats
      continue;
    }
    double fastest = 0.0;
    host.wait_until(
        [&] {
          fastest = std::max(fastest, host.driver.truth().speed.rpm());
          return !host.turning();
        },
        seconds(30));
    CHECK_FALSE(host.turning());
    CHECK(fastest < 3060);
    const Latch latch = host.driver.truth().latch;
    CHECK((latch == Latch::done || latch == Latch::link_lost || latch == Latch::operator_cut ||
           latch == Latch::operator_stop));
    done += latch == Latch::done ? 1 : 0;
    if (share > 5e-4)
      CHECK(host.reports.back().frames_discarded > 0);
  }
  if (share < 5e-3)
    CHECK(done == 12);
}
