// The firmware's plain modules, on this machine: marks, speed, the target's course, batches.
#include "catch.hpp"

#include "whirler/link/messages.hpp"

extern "C" {
#include "batch.h"
#include "clock.h"
#include "marks.h"
#include "program.h"
#include "speed.h"
}

#include <cmath>
#include <vector>

namespace wire = whirler::link;

namespace {

constexpr std::uint32_t ticks_of(double rpm, int marks) {
  return static_cast<std::uint32_t>(60.0 * TICKS_PER_S / (rpm * marks) + 0.5);
}

/// Six marks a turn, passing at one speed from some tick on.
struct Tach {
  struct speed speed {};
  std::uint32_t now;

  explicit Tach(std::uint32_t begin = 0) : now(begin) { speed_begin(&speed, 6); }
  void pass(double rpm, int count) {
    for (int i = 0; i < count; ++i) {
      now += ticks_of(rpm, 6);
      speed_mark(&speed, now);
    }
  }
};

} // namespace

TEST_CASE("a speed is known after three intervals that agree, and not before") {
  Tach tach;
  tach.pass(1000, 3); // two intervals
  CHECK_FALSE(speed_known(&tach.speed));
  CHECK(speed_rpm(&tach.speed, tach.now) == 0.0F);
  tach.pass(1000, 1);
  CHECK(speed_known(&tach.speed));
  CHECK(speed_rpm(&tach.speed, tach.now) == Approx(1000.0).epsilon(1e-4));
}

TEST_CASE("exact: the speed reads the same across the wrap of the 32-bit tick") {
  Tach tach(0xFFFFFFFFU - 5 * ticks_of(1000, 6));
  tach.pass(1000, 12);
  CHECK(tach.now < 0x80000000U);
  CHECK(speed_rpm(&tach.speed, tach.now) == Approx(1000.0).epsilon(1e-4));
}

TEST_CASE("marks that are spaced unevenly do not show in a speed whose turn is short") {
  Tach tach;
  const double late[6] = {0.03, -0.01, 0.02, -0.04, 0.0, 0.0}; // of an interval
  double worst = 0.0;
  for (int i = 0; i < 120; ++i) {
    const auto at = static_cast<std::uint32_t>((i + late[i % 6]) * ticks_of(4000, 6) + 1e6);
    speed_mark(&tach.speed, at);
    const double shown = static_cast<double>(speed_rpm(&tach.speed, at));
    if (i > 20)
      worst = std::max(worst, std::abs(shown - 4000.0));
  }
  CHECK(worst < 4.0);
}

TEST_CASE(
    "limit: with no mark coming the speed falls as one interval in the time that has passed") {
  Tach tach;
  tach.pass(1000, 10);
  const std::uint32_t later = tach.now + 10 * ticks_of(1000, 6);
  CHECK(speed_rpm(&tach.speed, later) == Approx(100.0).epsilon(1e-3));
}

TEST_CASE("one lost mark leaves the speed as it was, and is forgiven") {
  Tach tach;
  tach.pass(1000, 10);
  tach.now += ticks_of(1000, 6); // a mark that nobody saw
  tach.pass(1000, 1);
  CHECK(speed_rpm(&tach.speed, tach.now) == Approx(1000.0).epsilon(1e-3));
  CHECK_FALSE(speed_implausible(&tach.speed, tach.now));
  tach.pass(1000, 3);
  tach.now += ticks_of(1000, 6);
  tach.pass(1000, 4);
  CHECK_FALSE(speed_implausible(&tach.speed, tach.now));
}

TEST_CASE("every second mark lost is not believed: three intervals, and it is out") {
  for (const double slope : {0.0, 1500.0}) {
    CAPTURE(slope);
    Tach tach;
    tach.speed.slope = 0.0F;
    tach.pass(600, 10);
    tach.speed.slope = static_cast<float>(slope);
    double rpm = 600.0;
    for (int i = 0; i < 3; ++i) {
      CHECK_FALSE(speed_implausible(&tach.speed, tach.now));
      const double dt = 2.0 * ticks_of(rpm, 6) / TICKS_PER_S;
      tach.now += 2 * ticks_of(rpm + slope * dt / 2.0, 6);
      rpm += slope * dt;
      speed_mark(&tach.speed, tach.now);
    }
    CHECK(speed_implausible(&tach.speed, tach.now));
  }
}

TEST_CASE("a rotor that climbs as steeply as the driver allows is believed from 100 rpm on") {
  Tach tach;
  tach.pass(100, 4);
  tach.speed.slope = 3000.0F;
  double rpm = 100.0;
  double mark = 1.0 / 6.0; // turns to the next
  constexpr double kStep = 1e-5;
  for (double t = 0.0; t < 1.5; t += kStep) {
    mark -= rpm / 60.0 * kStep;
    rpm += 3000.0 * kStep;
    if (mark <= 0.0) {
      mark += 1.0 / 6.0;
      speed_mark(&tach.speed, tach.now + static_cast<std::uint32_t>(t * TICKS_PER_S));
    }
  }
  CHECK_FALSE(speed_implausible(&tach.speed, tach.now));
  CHECK(speed_rpm(&tach.speed, tach.speed.ticks[tach.speed.newest]) == Approx(rpm).epsilon(0.02));
}

TEST_CASE("marks are numbered from the index, and a wrong number of them is told") {
  marks count{};
  marks_begin(&count, 6, 1);
  CHECK(marks_pass(&count, 0, 0) == MARK_UNKNOWN);
  for (int turn = 0; turn < 3; ++turn)
    for (std::uint16_t mark = 0; mark < 6; ++mark)
      CHECK(marks_pass(&count, mark == 0, 0) == mark);
  CHECK_FALSE(marks_miscount(&count));
  SECTION("one short turn is forgiven, two in a row are not") {
    for (int turn = 0; turn < 2; ++turn) {
      CHECK_FALSE(marks_miscount(&count));
      for (int mark = 0; mark < 5; ++mark)
        marks_pass(&count, mark == 0, 0);
    }
    marks_pass(&count, 1, 0);
    CHECK(marks_miscount(&count));
  }
  SECTION("an index that never comes again is a miscount too") {
    for (int mark = 0; mark < 13; ++mark)
      marks_pass(&count, 0, 0);
    CHECK(marks_miscount(&count));
  }
  SECTION("pulses lost in the chip are not held against the tach") {
    marks_pass(&count, 1, 0);
    CHECK(marks_pass(&count, 0, 3) == MARK_UNKNOWN);
    for (int mark = 0; mark < 3; ++mark)
      marks_pass(&count, 0, 0);
    CHECK(marks_pass(&count, 1, 0) == 0);
    CHECK_FALSE(marks_miscount(&count));
  }
}

namespace {

struct Walked {
  std::vector<double> dwell_from_ms;
  double ended_ms = 0.0;
  double highest = 0.0;
};

/// Walks a program whose rotor is `lag` behind the target, or climbs no steeper than `most`.
Walked walk(const program& held, std::uint8_t segments, double most_rpm_s) {
  course at{};
  double rotor = 200.0;
  course_begin(&at, segments, 200.0F);
  Walked walked;
  int phase = PHASE_RAMP;
  for (int ms = 0; ms < 60000; ms += 4) {
    if (course_step(&at, &held, static_cast<float>(rotor), 4)) {
      walked.ended_ms = ms;
      break;
    }
    rotor += std::max(-most_rpm_s * 0.004,
                      std::min(most_rpm_s * 0.004, static_cast<double>(at.target) - rotor));
    walked.highest = std::max(walked.highest, static_cast<double>(at.target));
    if (at.phase == PHASE_DWELL && phase == PHASE_RAMP)
      walked.dwell_from_ms.push_back(ms);
    phase = at.phase;
  }
  return walked;
}

program two_steps() {
  program held{};
  held.segments[0] = {1000000, 800000, 500};
  held.segments[1] = {400000, 1200000, 1000};
  held.present = 3;
  return held;
}

} // namespace

TEST_CASE("exact: the target walks ramps and dwells as the program's timeline has them") {
  const Walked walked = walk(two_steps(), 2, 1e9);
  REQUIRE(walked.dwell_from_ms.size() == 2);
  CHECK(walked.dwell_from_ms[0] == Approx(1000.0).margin(4.1));
  CHECK(walked.dwell_from_ms[1] == Approx(1000.0 + 500.0 + 500.0).margin(8.1));
  CHECK(walked.ended_ms == Approx(3000.0).margin(12.1));
  CHECK(walked.highest == Approx(1000.0));
}

TEST_CASE("a dwell begins when a slow rotor is there, not before") {
  const Walked walked = walk(two_steps(), 2, 400.0);
  REQUIRE(walked.dwell_from_ms.size() == 2);
  CHECK(walked.dwell_from_ms[0] >= 1000.0 * (990.0 - 200.0) / 400.0 - 10.0);
  CHECK(walked.dwell_from_ms[1] - walked.dwell_from_ms[0] >= 500.0 + 1000.0 * 590.0 / 400.0);
}

TEST_CASE("exact: a batch of the firmware is a PULSES message to the host") {
  batch filling{};
  batch_begin(&filling);
  filling.number = 65535;
  const std::vector<std::uint32_t> deltas{1, 127, 128, 16383, 16384, 2097152, 4294967295U, 833};
  batch_pulse pulse{0xFFFFFF00U, 123456, 77, 4, 0};
  REQUIRE_FALSE(batch_closed_to(&filling, &pulse));
  batch_add(&filling, &pulse, 6);
  for (const auto delta : deltas) {
    pulse.tick += delta;
    pulse.mark = static_cast<std::uint16_t>((pulse.mark + 1) % 6);
    REQUIRE_FALSE(batch_closed_to(&filling, &pulse));
    batch_add(&filling, &pulse, 6);
  }
  wire::Frame frame;
  frame.type = static_cast<std::uint8_t>(wire::MessageType::pulses);
  frame.size = filling.size;
  std::copy_n(filling.payload, filling.size, frame.bytes.begin());
  const auto decoded = wire::decode_driver(frame);
  const auto* message = std::get_if<wire::DriverMessage>(&decoded);
  REQUIRE(message);
  const auto& pulses = std::get<wire::Pulses>(*message);
  CHECK(pulses.batch == 65535);
  CHECK(pulses.pulses_before == 77);
  CHECK(pulses.first_tick == 0xFFFFFF00U);
  CHECK(pulses.clock_ms == 123456);
  CHECK(pulses.first_mark == 4);
  CHECK(pulses.deltas == deltas);
  SECTION("it is closed to a pulse after a hole, and to a mark out of turn") {
    batch_pulse next = pulse;
    next.mark = static_cast<std::uint16_t>((pulse.mark + 1) % 6);
    CHECK_FALSE(batch_closed_to(&filling, &next));
    next.gap = 1;
    CHECK(batch_closed_to(&filling, &next));
    next.gap = 0;
    next.mark = pulse.mark;
    CHECK(batch_closed_to(&filling, &next));
  }
  SECTION("it is closed before a pulse might not fit") {
    int more = 0;
    pulse.mark = filling.next_mark;
    for (; !batch_closed_to(&filling, &pulse) && more < 1000; ++more) {
      pulse.tick += 4294967295U;
      pulse.mark = filling.next_mark;
      batch_add(&filling, &pulse, 6);
      pulse.mark = filling.next_mark;
    }
    CHECK(more > 5);
    CHECK(filling.size <= BATCH_ROOM);
  }
}
