#include "conversation.hpp"

#include "catch.hpp"
#include "whirler/link/stop_sequence.hpp"

#include <algorithm>

namespace conversation {

using link::DriverState;
using link::Latch;
using link::NakCode;
using link::Phase;
using whirler::milliseconds;
using whirler::rpm;
using whirler::rpm_per_s;
using whirler::seconds;

namespace {

const link::Segment kStep{0, rpm(600), rpm_per_s(1000), milliseconds(500.0)};

void greeting(Wire& wire) {
  Talk talk(wire);
  SECTION("a driver says nothing before it has heard a hello") {
    talk.pass(milliseconds(300.0));
    CHECK(talk.bytes == 0);
  }
  SECTION("hello is answered with the nonce, and reports follow every 20 ms") {
    const auto reply = talk.greet({1, 1, 0xC07E7DFC});
    REQUIRE(reply);
    CHECK(reply->nonce == 0xC07E7DFC);
    CHECK(link::common_version({1, 1, 0}, *reply) == 1);
    CHECK(reply->max_segments >= 32);
    CHECK(reply->marks_per_turn >= 1);
    const std::size_t before = talk.statuses.size();
    talk.pass(seconds(1.0));
    CHECK(talk.statuses.size() - before >= 45);
    CHECK(talk.statuses.size() - before <= 55);
    for (std::size_t i = 1; i < talk.statuses.size(); ++i)
      CHECK(talk.statuses[i].status.report ==
            static_cast<std::uint16_t>(talk.statuses[i - 1].status.report + 1));
    CHECK(talk.last().state == DriverState::latched);
    CHECK(talk.last().latch == Latch::power_up);
    CHECK_FALSE(talk.last().enabled);
    CHECK(talk.bad_frames == 0);
  }
  SECTION("without a hello every command is refused, keep-alives too") {
    CHECK(talk.refused(link::Clear{}) == NakCode::no_hello);
    CHECK(talk.refused(kStep) == NakCode::no_hello);
    CHECK(talk.refused(link::Start{}) == NakCode::no_hello);
    CHECK(talk.refused(link::KeepAlive{0}) == NakCode::no_hello);
  }
  SECTION("with no version in common it answers hello and refuses all else") {
    REQUIRE(talk.greet({2, 9, 5}));
    CHECK(talk.refused(link::Clear{}) == NakCode::no_hello);
    REQUIRE(talk.greet({0, 4, 6}));
    CHECK(talk.refused(kStep) == NakCode::bad_state);
  }
  SECTION("a longer hello of a later version is a hello") {
    const std::vector<std::uint8_t> later{1, 3, 9, 0, 0, 0, 0x7E, 0xC0, 1, 2, 3};
    talk.send(link::encode_frame(0x01, 0, later));
    talk.pass(milliseconds(200.0));
    CHECK(talk.driver().nonce == 9);
  }
}

void commands(Wire& wire) {
  Talk talk(wire);
  SECTION("what it does not know, or of another length, is refused with its name") {
    REQUIRE(talk.greet());
    const auto unknown =
        talk.ask(link::encode_frame(0x44, 77, std::vector<std::uint8_t>(64, 0xFC)));
    REQUIRE(unknown);
    const auto* nak = std::get_if<link::Nak>(&*unknown);
    REQUIRE(nak);
    CHECK(nak->code == NakCode::unknown_type);
    CHECK(nak->type == 0x44);
    CHECK(nak->seq == 77);
    const auto wrong = talk.ask(link::encode_frame(0x03, 78, std::vector<std::uint8_t>(12, 0)));
    REQUIRE(wrong);
    nak = std::get_if<link::Nak>(&*wrong);
    REQUIRE(nak);
    CHECK(nak->code == NakCode::bad_length);
    CHECK(nak->asked == 12);
    CHECK(nak->allowed == 13);
  }
  SECTION("segments are taken in ready only, and held against the driver's limits") {
    REQUIRE(talk.greet());
    CHECK(talk.refused(kStep) == NakCode::bad_state);
    talk.make_ready();
    const auto& driver = talk.driver();
    CHECK_FALSE(talk.refused(kStep));
    CHECK(talk.refused(link::Segment{driver.max_segments, kStep.target, kStep.slope, {}}) ==
          NakCode::bad_index);
    CHECK(talk.refused(link::Segment{0, driver.max_speed + rpm(1), kStep.slope, {}}) ==
          NakCode::speed_high);
    CHECK(talk.naks.back().allowed ==
          static_cast<std::uint32_t>(driver.max_speed.rpm() * 1000.0 + 0.5));
    CHECK(talk.refused(link::Segment{0, driver.min_speed - rpm(1), kStep.slope, {}}) ==
          NakCode::speed_low);
    CHECK(talk.refused(link::Segment{0, kStep.target, {}, {}}) == NakCode::slope_zero);
    CHECK(talk.refused(link::Segment{0, kStep.target, driver.max_slope + rpm_per_s(1), {}}) ==
          NakCode::slope_high);
  }
  SECTION("clear in ready does nothing, and clear after a latch empties the program") {
    const link::Start start = talk.upload();
    CHECK_FALSE(talk.refused(link::Clear{}));
    REQUIRE(talk.greet());
    CHECK(talk.refused(start) == NakCode::bad_state);
    CHECK_FALSE(talk.refused(link::Clear{}));
    CHECK(talk.refused(start) == NakCode::segment_missing);
  }
  SECTION("a hello in ready takes it back to latched, by another host") {
    talk.make_ready();
    REQUIRE(talk.greet());
    REQUIRE(talk.reach(DriverState::latched, milliseconds(200.0)));
    CHECK(talk.last().latch == Latch::new_host);
  }
}

void refused_starts(Wire& wire) {
  Talk talk(wire);
  SECTION("a start that differs from what the driver holds turns nothing") {
    const link::Start good = talk.upload();
    const auto with = [&good](auto change) {
      link::Start start = good;
      change(start);
      return start;
    };
    CHECK(talk.refused(with([](auto& s) { s.segments = 0; })) == NakCode::no_segments);
    CHECK(talk.refused(with([](auto& s) { s.segments = 255; })) == NakCode::too_many_segments);
    CHECK(talk.refused(with([](auto& s) { s.segments = 2; })) == NakCode::segment_missing);
    CHECK(talk.naks.back().asked == 1);
    CHECK(talk.refused(with([](auto& s) { s.program_crc ^= 0x80; })) == NakCode::program_differs);
    CHECK(talk.naks.back().allowed == good.program_crc);
    CHECK(talk.refused(with([](auto& s) { s.ceiling = rpm(599); })) == NakCode::speed_high);
    CHECK(talk.refused(with([](auto& s) { s.stop_slope = {}; })) == NakCode::slope_zero);
    CHECK(talk.refused(with([](auto& s) { s.stop_slope = rpm_per_s(4e6); })) ==
          NakCode::slope_high);
    CHECK(talk.refused(with([](auto& s) { s.token = 0; })) == NakCode::token_used);
    talk.pass(milliseconds(50.0));
    CHECK(talk.last().state == DriverState::ready);
    CHECK_FALSE(talk.last().enabled);
  }
  SECTION("an open lid takes it out of ready, and clear waits for the lid") {
    const link::Start start = talk.upload();
    wire.lid(true);
    REQUIRE(talk.reach(DriverState::latched, milliseconds(200.0)));
    CHECK(talk.last().latch == Latch::lid_open);
    CHECK(talk.last().lid == link::LidState::open);
    CHECK(talk.refused(start) == NakCode::bad_state);
    CHECK(talk.refused(link::Clear{}) == NakCode::lid_open);
    wire.lid(false);
    talk.pass(milliseconds(100.0));
    CHECK(talk.last().latch == Latch::lid_open);
    CHECK_FALSE(talk.refused(link::Clear{}));
  }
}

/// Runs the program of `upload` until `state` or phase, with keep-alives.
link::Start turn(Talk& talk) {
  const link::Start start = talk.upload({kStep, {1, rpm(1000), rpm_per_s(1000), seconds(5.0)}});
  talk.keep_alive(true);
  REQUIRE_FALSE(talk.refused(start));
  REQUIRE(talk.reach(Phase::dwell, seconds(10.0)));
  return start;
}

void a_whole_run(Wire& wire) {
  Talk talk(wire);
  SECTION("a program runs through its states to done, and does not run again by itself") {
    const link::Start start = talk.upload({kStep, {1, rpm(900), rpm_per_s(1500), seconds(0.4)}});
    talk.statuses.clear();
    talk.keep_alive(true);
    REQUIRE_FALSE(talk.refused(start));
    CHECK_FALSE(talk.refused(start)); // the acknowledgement might have been lost
    REQUIRE(talk.reach(DriverState::stopping, seconds(12.0)));
    REQUIRE(talk.reach(DriverState::latched, seconds(5.0)));
    std::vector<DriverState> states;
    for (const auto& heard : talk.statuses)
      if (states.empty() || states.back() != heard.status.state)
        states.push_back(heard.status.state);
    if (states.front() == DriverState::ready)
      states.erase(states.begin());
    CHECK(states == std::vector{DriverState::starting, DriverState::running, DriverState::stopping,
                                DriverState::latched});
    CHECK(talk.last().latch == Latch::done);
    CHECK(talk.last().token == start.token);
    CHECK_FALSE(talk.last().enabled);
    CHECK(talk.refused(start) == NakCode::bad_state);
    REQUIRE(talk.wait_for([&talk] { return talk.last().still; }, seconds(20.0)));
    CHECK_FALSE(talk.refused(link::Clear{}));
    CHECK_FALSE(talk.refused(kStep));
    link::Start again = start;
    again.segments = 1;
    again.program_crc = link::program_crc(std::vector{kStep});
    CHECK(talk.refused(again) == NakCode::token_used);
  }
  SECTION(
      "the dwell is reached, is as long as asked for, and the target never leaves the program") {
    turn(talk);
    REQUIRE(talk.wait_for([&talk] { return talk.last().segment == 1; }, seconds(5.0)));
    const auto began = [](const link::Status& status) { return status.clock_ms - status.phase_ms; };
    std::uint32_t dwell_began = 0;
    for (const auto& heard : talk.statuses)
      if (heard.status.segment == 0 && heard.status.phase == Phase::dwell)
        dwell_began = began(heard.status);
    const double length = static_cast<double>(began(talk.last()) - dwell_began);
    CHECK(length == Approx(500.0).margin(20.0));
    for (const auto& heard : talk.statuses)
      CHECK(heard.status.target.rpm() <= 1000.0);
  }
}

void pulses(Wire& wire) {
  Talk talk(wire);
  SECTION("pulses come as ticks: counted, in order, of known marks, and in step with the clock") {
    turn(talk);
    REQUIRE(talk.wait_for([&talk] { return talk.last().segment == 1; }, seconds(5.0)));
    REQUIRE(talk.pulses.size() > 10);
    const auto& driver = talk.driver();
    for (std::size_t i = 1; i < talk.pulses.size(); ++i) {
      const link::Pulses& before = talk.pulses[i - 1];
      const link::Pulses& batch = talk.pulses[i];
      CHECK(batch.batch == static_cast<std::uint16_t>(before.batch + 1));
      CHECK(batch.pulses_before == before.pulses_before + before.count());
      double ticks = 0.0;
      for (const auto delta : before.deltas)
        ticks += delta;
      const double last_ms = before.clock_ms + ticks * driver.tick().ms();
      CHECK(batch.clock_ms >= last_ms - 4.0);
      if (before.first_mark && batch.first_mark)
        CHECK(*batch.first_mark == (*before.first_mark + before.count()) % driver.marks_per_turn);
    }
    CHECK(talk.pulses.back().first_mark.has_value() == driver.index);
  }
}

void stops(Wire& wire) {
  Talk talk(wire);
  const auto cut = link::stop_sequence(link::StopKind::cut);
  const auto stop = link::stop_sequence(link::StopKind::stop);
  SECTION("cut takes the motor off at once and latches") {
    turn(talk);
    talk.send(cut);
    talk.pass(milliseconds(50.0));
    CHECK(talk.last().state == DriverState::latched);
    CHECK(talk.last().latch == Latch::operator_cut);
    CHECK_FALSE(talk.last().enabled);
    CHECK(talk.refused(link::Clear{}) == NakCode::turning);
  }
  SECTION("stop runs the stop ramp, then latches; the motor stays on until its end") {
    turn(talk);
    talk.send(stop);
    talk.pass(milliseconds(60.0));
    CHECK(talk.last().state == DriverState::stopping);
    CHECK(talk.last().latch == Latch::operator_stop);
    CHECK(talk.last().enabled);
    talk.send(stop);
    REQUIRE(talk.reach(DriverState::latched, seconds(3.0)));
    CHECK(talk.last().latch == Latch::operator_stop);
  }
  SECTION("single stop bytes, and the two in turn, are nothing") {
    turn(talk);
    talk.send(std::vector<std::uint8_t>{0xC0, 0xFC, 0xC0, 0xFC, 0x55, 0xC0, 0x55, 0xFC});
    talk.pass(milliseconds(60.0));
    CHECK(talk.last().state == DriverState::running);
  }
  SECTION("a cut in the middle of a frame acts, and the frame still arrives") {
    talk.make_ready();
    auto bytes = link::encode(link::HostMessage{kStep}, 9);
    bytes.insert(bytes.begin() + 7, cut.begin(), cut.end());
    const auto answer = talk.ask(bytes);
    REQUIRE(answer);
    const auto* nak = std::get_if<link::Nak>(&*answer); // the cut came first: no longer ready
    REQUIRE(nak);
    CHECK(nak->code == NakCode::bad_state);
    CHECK(nak->seq == 9);
    talk.pass(milliseconds(60.0));
    CHECK(talk.last().latch == Latch::operator_cut);
  }
}

void silence_and_damage(Wire& wire) {
  Talk talk(wire);
  SECTION("without keep-alives it stops by itself within 250 ms and some") {
    turn(talk);
    talk.keep_alive(false);
    const Duration quiet = wire.now();
    REQUIRE(talk.reach(DriverState::latched, seconds(1.0)));
    CHECK((wire.now() - quiet).ms() < 300.0);
    CHECK(talk.last().latch == Latch::link_lost);
  }
  SECTION("keep-alives that name an old report do not count") {
    turn(talk);
    talk.keep_alive(false);
    const std::uint16_t old = talk.last().report;
    for (int i = 0; i < 40 && talk.last().state == DriverState::running; ++i) {
      talk.send(link::KeepAlive{old});
      talk.pass(milliseconds(20.0));
    }
    CHECK(talk.last().latch == Latch::link_lost);
  }
  SECTION("another hello while turning takes the motor off") {
    turn(talk);
    REQUIRE(talk.greet());
    talk.pass(milliseconds(60.0));
    CHECK(talk.last().latch == Latch::new_host);
    CHECK_FALSE(talk.last().enabled);
  }
  SECTION("damaged frames are counted and the next one is understood") {
    REQUIRE(talk.greet());
    talk.pass(milliseconds(60.0));
    const std::uint16_t before = talk.last().frames_discarded;
    auto damaged = link::encode(link::HostMessage{kStep}, 3);
    damaged[6] ^= 0x04;
    talk.send(damaged);
    talk.send(std::vector<std::uint8_t>{0x7E, 0x01, 0x02, 0x7D, 0x7E}); // cut short in an escape
    CHECK(talk.refused(kStep) == NakCode::bad_state);
    talk.pass(milliseconds(60.0));
    CHECK(talk.last().frames_discarded == static_cast<std::uint16_t>(before + 2));
  }
  SECTION("a lid that opens at speed takes the motor off, and shutting it starts nothing") {
    turn(talk);
    wire.lid(true);
    talk.pass(milliseconds(60.0));
    CHECK(talk.last().latch == Latch::lid_open);
    CHECK_FALSE(talk.last().enabled);
    wire.lid(false);
    talk.pass(milliseconds(500.0));
    CHECK(talk.last().state == DriverState::latched);
    CHECK(talk.last().latch == Latch::lid_open);
  }
}

} // namespace

void hold(Wire& wire) {
  greeting(wire);
  commands(wire);
  refused_starts(wire);
  a_whole_run(wire);
  pulses(wire);
  stops(wire);
  silence_and_damage(wire);
}

} // namespace conversation
