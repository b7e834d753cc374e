// A long record is read in pieces: what that must not change, and what it is for.
#include "whirler/tach/order_one.hpp"
#include "whirler/tach/recording.hpp"

#include "catch.hpp"

#include <atomic>
#include <cmath>
#include <cstdlib>
#include <malloc.h>
#include <new>
#include <random>

using namespace whirler;

namespace {

std::atomic<std::size_t> in_use{0};
std::atomic<std::size_t> most_in_use{0};

void note_taken(void* room) {
  const std::size_t now = in_use += malloc_usable_size(room);
  std::size_t most = most_in_use;
  while (now > most && !most_in_use.compare_exchange_weak(most, now)) {
  }
}

} // namespace

void* operator new(std::size_t size) {
  void* room = std::malloc(size > 0 ? size : 1);
  if (room == nullptr)
    throw std::bad_alloc();
  note_taken(room);
  return room;
}
void operator delete(void* room) noexcept {
  in_use -= room != nullptr ? malloc_usable_size(room) : 0;
  std::free(room);
}
void operator delete(void* room, std::size_t) noexcept { operator delete(room); }

namespace {

constexpr double kSpeed = 300.0; // rad/s
constexpr double kTick = 1e-7;   // s

/// `whirl` (rad, in phase with mark 0) and noise of 0.1 mrad at an even speed.
tach::PulseTrain even_run(std::size_t marks, std::size_t turns, double whirl) {
  std::mt19937_64 random(5);
  std::normal_distribution<double> noise(0.0, 1e-4);
  tach::PulseTrain train;
  train.tick = seconds(kTick);
  for (std::size_t i = 0; i <= turns * marks; ++i) {
    const double angle = kRadPerTurn * static_cast<double>(i) / static_cast<double>(marks);
    const double late = whirl * std::cos(angle) + noise(random);
    train.ticks.push_back(std::llround((angle + late) / kSpeed / kTick));
    train.marks.push_back(static_cast<std::int16_t>(i % marks));
  }
  return train;
}

/// Most room taken at a time, in bytes a pulse, beside what there was before.
double room_a_pulse(const tach::Recording& recording) {
  const std::size_t before = in_use;
  most_in_use = before;
  REQUIRE(tach::analyse(recording));
  return static_cast<double>(most_in_use - before) / static_cast<double>(recording.pulses.size());
}

} // namespace

TEST_CASE("long record: its analysis takes room for a copy of the pulses and little more") {
  // A pulse is 10 bytes, stamp and mark. Fresh memory costs more time than all sums over it.
  const std::size_t marks = GENERATE(1U, 2U, 3U, 6U, 24U);
  tach::Recording recording;
  recording.pulses = even_run(marks, 400000 / marks, 1e-3);
  recording.model.marks_per_turn = static_cast<int>(marks);
  const double room = room_a_pulse(recording);
  CAPTURE(marks, room);
  CHECK(room > 9.0); // the count counts
  CHECK(room < 15.0);
}

TEST_CASE("long record: a bad stamp is found wherever it stands, and does no harm") {
  constexpr std::size_t kMarks = 6;
  const std::size_t turns = GENERATE(255U, 256U, 257U, 1100U);
  auto train = even_run(kMarks, turns, 1e-3);
  const auto good = tach::order_one(train, kMarks);
  REQUIRE(good);
  std::size_t bad = 0;
  for (const std::size_t turn : {2U, 127U, 128U, 220U, 252U, 256U, 275U, 288U, 549U, 560U, 1097U})
    if (turn + 2 < turns) { // a twentieth of the interval between marks
      train.ticks[turn * kMarks + 2] += std::llround(0.05 * kRadPerTurn / kMarks / kSpeed / kTick);
      ++bad;
    }
  const auto mended = tach::order_one(train, kMarks);
  REQUIRE(mended);
  CHECK(mended->counts.outliers == bad);
  const tach::OnceVector off = mended->vector - good->vector;
  // Their share of the pulses is lost to the figure, and no more.
  CHECK(off.amplitude().rad() <
        1e-4 * 3.0 * std::sqrt(static_cast<double>(bad)) / static_cast<double>(3 * turns));
}

TEST_CASE("exact: a long record's figure is that of white noise in all its turns") {
  // Rife and Boorstyn, IEEE Trans. IT-20, 591 (1974), from memory: 2 s^2/M in each component.
  constexpr std::size_t kMarks = 6;
  constexpr std::size_t kTurns = 3000;
  const auto figure = tach::order_one(even_run(kMarks, kTurns, 1e-3), kMarks);
  REQUIRE(figure);
  const double bound = std::sqrt(2.0 / (kTurns * kMarks)) * 1e-4;
  CHECK(std::sqrt(figure->covariance.re_re) == Approx(bound).epsilon(0.03));
  CHECK(std::sqrt(figure->covariance.im_im) == Approx(bound).epsilon(0.03));
  CHECK(std::abs(figure->vector.re.rad() - 1e-3) < 4.0 * bound);
  CHECK(std::abs(figure->vector.im.rad()) < 4.0 * bound);
}
