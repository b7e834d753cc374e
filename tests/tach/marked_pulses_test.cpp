#include "whirler/tach/marked_pulses.hpp"

#include "catch.hpp"
#include "pulse_faults.hpp"
#include "pulse_maker.hpp"

#include <limits>
#include <map>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using Catch::Matchers::ContainsSubstring;

namespace {

/// Slots whose pulse is another mark's than their number says, less a constant shift a stretch.
std::size_t slips(const MarkedPulses& marked, const PulseTrain& truth) {
  std::map<std::int64_t, long> order;
  for (std::size_t i = 0; i < truth.size(); ++i)
    order[truth.ticks[i]] = static_cast<long>(i);
  std::size_t found = 0;
  for (const Stretch& stretch : marked.stretches) {
    long before = -1;
    bool seen = false;
    for (std::size_t n = 0; n < stretch.size(); ++n) {
      const auto at = order.find(stretch.ticks[n]);
      if (stretch.ticks[n] == kHole || at == order.end())
        continue;
      const long shift = at->second - static_cast<long>(n);
      found += seen && shift != before ? 1U : 0U;
      before = shift;
      seen = true;
    }
  }
  return found;
}

Spinner uneven(int marks, std::uint64_t seed) {
  Spinner spinner;
  spinner.marks = marks;
  spinner.whirls = false;
  spinner.noise_rad = std::min(2e-4, 0.01 * 2.0 * kPi / marks);
  std::mt19937_64 random(seed);
  spinner.pattern = random_pattern(marks, std::min(8e-3, 0.05 * 2.0 * kPi / marks), random);
  return spinner;
}

} // namespace

TEST_CASE("pulses: missing, doubled and swapped ones are put right and counted") {
  const int marks = GENERATE(1, 2, 3, 6, 24, 100);
  CAPTURE(marks);
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    CAPTURE(seed);
    Spinner spinner = uneven(marks, seed);
    spinner.motion = Motion::dwell(1500, marks < 3 ? 20 : 4);
    spinner.with_index = false;
    std::mt19937_64 random(seed);
    const auto good = pulses_of(spinner, random);
    const auto bad = with_faults(good, {0.008, 0.004, 0.002}, random);
    const auto marked = by_mark(bad.train, marks);
    REQUIRE(marked.ok());
    CHECK(slips(*marked, good) == 0);
    CHECK(marked->counts.pulses == bad.train.size());
    CHECK(marked->counts.breaks == 0);
    // A pulse doubled where its neighbour is missing cannot be told from one that came early.
    const auto near = [](std::size_t a, std::size_t b) { return a + 3 >= b && b + 3 >= a; };
    CHECK(near(marked->counts.missing, bad.missing));
    CHECK(near(marked->counts.doubled, bad.doubled));
    CHECK(near(marked->counts.out_of_order, bad.swapped));
  }
}

TEST_CASE("pulses: a ramp from rest and back raises no fault, whatever its steepness") {
  const int marks = GENERATE(1, 2, 3, 4, 6, 12, 100);
  const double ramp = GENERATE(100.0, 500.0, 1000.0, 2000.0);
  CAPTURE(marks, ramp);
  Spinner spinner = uneven(marks, 5);
  spinner.motion = {{0.0}, {0.0}};
  spinner.motion.go_to(600, ramp, 1).go_to(3000, ramp, 1).go_to(30, ramp, 0);
  std::mt19937_64 random(6);
  const auto good = pulses_of(spinner, random);
  const auto marked = by_mark(good, marks);
  REQUIRE(marked.ok());
  CHECK(marked->counts.faults() == 0);
  CHECK(marked->counts.breaks == 0);
  CHECK(slips(*marked, good) == 0);
  REQUIRE(marked->stretches.size() == 1);
  CHECK(marked->stretches[0].aligned);
}

TEST_CASE("pulses: more than a few per cent of faults are refused with the counts") {
  Spinner spinner = uneven(6, 1);
  spinner.motion = Motion::dwell(1500, 4);
  spinner.with_index = false;
  std::mt19937_64 random(2);
  const auto bad = with_faults(pulses_of(spinner, random), {0.08, 0.02, 0.0}, random);
  const auto marked = by_mark(bad.train, 6);
  REQUIRE_FALSE(marked.ok());
  CHECK(marked.fault().kind == FaultKind::input);
  CHECK_THAT(marked.fault().what, ContainsSubstring("missing"));
}

TEST_CASE("pulses: mark numbers place the index though the source miscounts after a lost pulse") {
  Spinner spinner = uneven(6, 1);
  spinner.motion = Motion::dwell(1500, 4);
  spinner.first_mark = 4;
  std::mt19937_64 random(2);
  auto train = pulses_of(spinner, random);
  // A counter that starts at the index and counts what it sees: wrong until the next index.
  PulseTrain seen;
  seen.tick = train.tick;
  int count = 4;
  for (std::size_t i = 0; i < train.size(); ++i) {
    if (i % 97 == 50)
      continue;
    count = train.marks[i] == 0 ? 0 : std::min(count + 1, 5);
    seen.ticks.push_back(train.ticks[i]);
    seen.marks.push_back(static_cast<std::int16_t>(count));
  }
  const auto marked = by_mark(seen, 6);
  REQUIRE(marked.ok());
  REQUIRE(marked->stretches.size() == 1);
  CHECK(marked->stretches[0].aligned);
  // The first pulse is mark 5: the first within the motion after 0.1 rad is psi of mark 4.
  CHECK(marked->stretches[0].first_mark == 4);
  CHECK(slips(*marked, train) == 0);
}

TEST_CASE("pulses: a wrong number of marks is found out by the index") {
  Spinner spinner = uneven(5, 1);
  spinner.motion = Motion::dwell(1500, 4);
  std::mt19937_64 random(2);
  const auto marked = by_mark(pulses_of(spinner, random), 6);
  REQUIRE_FALSE(marked.ok());
  CHECK_THAT(marked.fault().what, ContainsSubstring("every 5"));
}

TEST_CASE("pulses: what cannot be pulses is refused in words") {
  PulseTrain train;
  train.tick = microseconds(1);
  train.ticks = {0, 10, 20, 30};
  CHECK_FALSE(by_mark(train, 0).ok());
  CHECK_FALSE(by_mark(train, 1025).ok());
  train.marks = {0, 1, 2, 7};
  CHECK_FALSE(by_mark(train, 6).ok());
  train.marks = {0, 1};
  CHECK_FALSE(by_mark(train, 6).ok());
  train.marks.clear();
  train.ticks.push_back(std::numeric_limits<std::int64_t>::max());
  CHECK_FALSE(by_mark(train, 6).ok());
  train.ticks.back() = std::numeric_limits<std::int64_t>::min();
  CHECK_FALSE(by_mark(train, 6).ok());
  train.ticks.clear();
  CHECK(by_mark(train, 6).ok()); // nothing, and nothing wrong with it
  train.tick = seconds(0);
  CHECK_FALSE(by_mark(train, 6).ok());
}

TEST_CASE("pulses: any heap of numbers ends in stretches or a fault, never in a crash") {
  std::mt19937_64 random(11);
  for (int round = 0; round < 400; ++round) {
    PulseTrain train;
    train.tick = microseconds(1);
    const int marks = 1 + static_cast<int>(random() % 30);
    const std::size_t size = random() % 300;
    std::int64_t at = 0;
    for (std::size_t i = 0; i < size; ++i) {
      const auto kind = random() % 20;
      at += kind == 0 ? -static_cast<std::int64_t>(random() % 5000)
                      : static_cast<std::int64_t>(random() % (kind == 1 ? 100000000 : 1000));
      train.ticks.push_back(at);
      if (round % 2 == 0)
        train.marks.push_back(static_cast<std::int16_t>(random() % static_cast<unsigned>(marks)));
    }
    const auto marked = by_mark(train, marks);
    if (marked)
      for (const Stretch& stretch : marked->stretches) {
        std::int64_t before = std::numeric_limits<std::int64_t>::min();
        for (const std::int64_t tick : stretch.ticks)
          if (tick != kHole) {
            CHECK(tick >= before);
            before = tick;
          }
      }
  }
}

TEST_CASE("pulses: a hard ramp out of slow running raises no fault, with an index or without") {
  const int marks = GENERATE(3, 6, 12, 24);
  const double ramp = GENERATE(200.0, 400.0, 800.0, 1500.0);
  const bool index = GENERATE(true, false);
  CAPTURE(marks, ramp, index);
  for (std::uint64_t seed = 1; seed <= 5; ++seed) {
    CAPTURE(seed);
    Spinner spinner = uneven(marks, seed);
    spinner.with_index = index;
    spinner.motion = Motion::dwell(60.0 + 10.0 * static_cast<double>(seed), 2.5);
    spinner.motion.go_to(3000, ramp, 1.0);
    std::mt19937_64 random(seed);
    const auto marked = by_mark(pulses_of(spinner, random), marks);
    REQUIRE(marked.ok());
    CHECK(marked->counts.missing == 0);
    CHECK(marked->counts.doubled == 0);
    CHECK(marked->counts.breaks == 0);
  }
}

TEST_CASE("pulses: faults after a hard ramp out of slow running are still found") {
  const int marks = GENERATE(3, 6, 24);
  const bool index = GENERATE(true, false);
  CAPTURE(marks, index);
  for (std::uint64_t seed = 1; seed <= 8; ++seed) {
    CAPTURE(seed);
    Spinner spinner = uneven(marks, seed);
    spinner.with_index = index;
    spinner.motion = Motion::dwell(80, 2.5);
    spinner.motion.go_to(2400, 400, 3.0);
    std::mt19937_64 random(seed);
    PulseTrain train = pulses_of(spinner, random);
    const auto at = static_cast<std::ptrdiff_t>(train.size() * 3 / 4 + seed);
    train.ticks.erase(train.ticks.begin() + at);
    if (index)
      train.marks.erase(train.marks.begin() + at);
    const auto marked = by_mark(train, marks);
    REQUIRE(marked.ok());
    CHECK(marked->counts.missing == 1);
    CHECK(marked->counts.doubled == 0);
    CHECK(marked->counts.breaks == 0);
  }
}
