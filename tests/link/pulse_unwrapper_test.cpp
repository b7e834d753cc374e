#include "catch.hpp"
#include "whirler/link/pulse_unwrapper.hpp"

#include <random>

using namespace whirler;
using namespace whirler::link;

namespace {

HelloReply driver(std::uint8_t bits, std::uint16_t marks) {
  HelloReply reply;
  reply.tick_denominator = 2000000; // 0.5 us
  reply.tick_bits = bits;
  reply.marks_per_turn = marks;
  return reply;
}

/// Batches as a driver makes them of pulses at `true_ticks`, up to `per_batch` pulses each.
std::vector<Pulses> batches(const std::vector<std::int64_t>& true_ticks, std::uint8_t bits,
                            std::uint16_t marks, std::size_t per_batch) {
  const std::int64_t wrap = std::int64_t{1} << bits;
  std::vector<Pulses> made;
  for (std::size_t i = 0; i < true_ticks.size(); ++i) {
    const bool fresh = made.empty() || made.back().count() >= per_batch ||
                       true_ticks[i] - true_ticks[i - 1] >= wrap / 2;
    if (!fresh) {
      made.back().deltas.push_back(static_cast<std::uint32_t>(true_ticks[i] - true_ticks[i - 1]));
      continue;
    }
    Pulses batch;
    batch.batch = static_cast<std::uint16_t>(made.size());
    batch.pulses_before = static_cast<std::uint32_t>(i);
    batch.first_tick = static_cast<std::uint32_t>(true_ticks[i] % wrap);
    batch.clock_ms = static_cast<std::uint32_t>(true_ticks[i] / 2000);
    batch.first_mark = static_cast<std::uint16_t>(i % marks);
    made.push_back(batch);
  }
  return made;
}

/// A spindle that starts slowly (many wraps of a 16-bit counter between marks) and gets fast.
std::vector<std::int64_t> run_up(std::int64_t start) {
  std::vector<std::int64_t> ticks{start};
  for (double gap = 700000; gap > 800; gap *= 0.985)
    ticks.push_back(ticks.back() + static_cast<std::int64_t>(gap));
  return ticks;
}

} // namespace

TEST_CASE("exact: wrapped ticks come back as they were, whatever the counter's width") {
  const int bits = GENERATE(16, 17, 20, 24, 32);
  const auto ticks = run_up(bits == 32 ? 4290000000 : 1234);
  PulseUnwrapper unwrapper(driver(static_cast<std::uint8_t>(bits), 6));
  std::vector<std::int64_t> got;
  std::vector<std::int16_t> marks;
  for (const Pulses& batch : batches(ticks, static_cast<std::uint8_t>(bits), 6, 24)) {
    const auto part = unwrapper.add(batch);
    CHECK(part.missing_before == 0);
    got.insert(got.end(), part.ticks.begin(), part.ticks.end());
    marks.insert(marks.end(), part.marks.begin(), part.marks.end());
  }
  CHECK(got == ticks);
  REQUIRE(marks.size() == ticks.size());
  for (std::size_t i = 0; i < marks.size(); ++i)
    REQUIRE(marks[i] == static_cast<int>(i % 6));
  PulseLosses expected;
  const std::int64_t wrap = std::int64_t{1} << bits;
  expected.wraps = static_cast<std::uint64_t>(ticks.back() / wrap - ticks.front() / wrap);
  CHECK(unwrapper.losses() == expected);
  CHECK(expected.wraps > 0);
}

TEST_CASE("a clock that is wrong by its allowed 2 ms still places every wrap") {
  std::mt19937 random(9);
  const auto ticks = run_up(99);
  PulseUnwrapper unwrapper(driver(16, 6));
  std::vector<std::int64_t> got;
  for (Pulses batch : batches(ticks, 16, 6, 10)) {
    batch.clock_ms +=
        static_cast<std::uint32_t>(random() % 4); // 1 ms of it is the clock's own step
    const auto part = unwrapper.add(batch);
    got.insert(got.end(), part.ticks.begin(), part.ticks.end());
  }
  CHECK(got == ticks);
  CHECK(unwrapper.losses().clock_disagrees == 0);
}

TEST_CASE("lost batches are counted, and the pulses after them stay in place") {
  const auto ticks = run_up(5);
  const auto all = batches(ticks, 16, 6, 10);
  PulseUnwrapper unwrapper(driver(16, 6));
  std::mt19937 random(31);
  std::uint64_t lost_batches = 0;
  std::uint64_t lost_pulses = 0;
  std::uint64_t pending = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (i != 0 && i + 1 != all.size() && random() % 3 == 0) {
      ++lost_batches;
      pending += all[i].count();
      continue;
    }
    const auto part = unwrapper.add(all[i]);
    CHECK(part.missing_before == pending);
    lost_pulses += pending;
    pending = 0;
    for (std::size_t k = 0; k < part.ticks.size(); ++k)
      REQUIRE(part.ticks[k] == ticks[all[i].pulses_before + k]);
  }
  CHECK(lost_batches > 10);
  CHECK(unwrapper.losses().batches == lost_batches);
  CHECK(unwrapper.losses().pulses == lost_pulses);
  CHECK(unwrapper.losses().mark_slips == 0);
}

TEST_CASE("a mark that the driver missed shows as a slip, not as a loss") {
  PulseUnwrapper unwrapper(driver(32, 6));
  Pulses first{0, 0, 1000, 0, std::uint16_t{0}, {10, 10}};
  Pulses second{1, 3, 1050, 0, std::uint16_t{4}, {10}}; // mark 3 never came
  (void)unwrapper.add(first);
  CHECK(unwrapper.add(second).missing_before == 0);
  CHECK(unwrapper.losses().mark_slips == 1);
  CHECK(unwrapper.losses().pulses == 0);
}

TEST_CASE("counts and numbers that wrap are no losses") {
  PulseUnwrapper unwrapper(driver(32, 6));
  (void)unwrapper.add({0xffff, 0xfffffffe, 0xfffffff0, 0xfffffffe, {}, {5, 5}});
  const auto part = unwrapper.add({0, 1, 0x10, 2, {}, {}});
  CHECK(part.missing_before == 0);
  CHECK(part.ticks[0] == 0x100000010);
  CHECK(part.marks[0] == -1);
  CHECK(unwrapper.losses().batches == 0);
  CHECK(unwrapper.losses().restarts == 0);
  CHECK(unwrapper.losses().wraps == 1);
}

TEST_CASE("a driver that was reset unseen is noticed, and time still does not run backwards") {
  PulseUnwrapper unwrapper(driver(16, 6));
  const auto before = unwrapper.add({500, 9000, 60000, 700000, std::uint16_t{3}, {1000}}).ticks[1];
  const auto part = unwrapper.add({0, 0, 100, 3000, std::uint16_t{0}, {1000}});
  CHECK(unwrapper.losses().restarts == 1);
  CHECK(unwrapper.losses().pulses == 0);
  CHECK(part.missing_before == 0);
  CHECK(part.ticks[0] >= before);
}
