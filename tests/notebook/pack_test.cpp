#include "catch.hpp"
#include "notebook_scene.hpp"
#include "whirler/notebook/pack.hpp"

#include <limits>
#include <random>

using namespace whirler;
using namespace whirler::notebook;

namespace {

PulseChunk there_and_back(const PulseChunk& chunk, int marks_per_turn) {
  const auto read = unpack_pulses(pack(chunk, marks_per_turn));
  REQUIRE(read);
  CHECK(read->ticks == chunk.ticks);
  CHECK(read->gaps == chunk.gaps);
  return *read;
}

} // namespace

TEST_CASE("exact: any ticks, marks and gaps come back, the extremes of their types too") {
  constexpr auto kLow = std::numeric_limits<std::int64_t>::min();
  constexpr auto kHigh = std::numeric_limits<std::int64_t>::max();
  const int lag = GENERATE(-1, 0, 1, 6, 1024);
  std::mt19937_64 random(7);
  for (int round = 0; round < 50; ++round) {
    PulseChunk chunk;
    for (std::uint64_t i = random() % 40; i > 0; --i) {
      chunk.ticks.push_back(i % 3 == 0 ? static_cast<std::int64_t>(random())
                                       : static_cast<std::int64_t>(i));
      chunk.marks.push_back(static_cast<std::int16_t>(static_cast<int>(random() % 1025) - 1));
    }
    chunk.ticks.insert(chunk.ticks.end(), {kLow, kHigh, kLow, 0});
    chunk.marks.insert(chunk.marks.end(), {-1, 0, 1, 32767});
    chunk.gaps = {{0, random()}, {chunk.ticks.size(), 1}};
    CHECK(there_and_back(chunk, lag).marks == chunk.marks);
  }
  CHECK(there_and_back({}, lag).marks.empty());
}

TEST_CASE("pack: marks that nobody knew are no marks") {
  CHECK(there_and_back({{1, 2, 3}, {-1, -1, -1}, {}}, 6).marks.empty());
  CHECK(there_and_back({{1, 2, 3}, {}, {}}, 6).marks.empty());
}

TEST_CASE("pack: steady turning with uneven marks takes under two bytes a pulse") {
  PulseChunk chunk;
  const auto train = train_of(20);
  chunk.ticks = train.ticks;
  chunk.marks = train.marks;
  CHECK(pack(chunk, 6).size() < 2 * chunk.ticks.size());
}

TEST_CASE("exact: samples come back on the notebook's grid, and a second time the same") {
  const std::vector<Sample> samples{
      {seconds(0.0200004), rpm(2999.9996), rpm(3000), seconds(0.02), 0.4321, 2},
      {seconds(-1), rpm(-20.5), rpm(0), seconds(4000), -1.0, -1},
      {seconds(std::numeric_limits<double>::quiet_NaN()), rpm(1e300), {}, {}, 1e300, 7}};
  const auto once = unpack_samples(pack(samples));
  REQUIRE(once);
  CHECK((*once)[0].at.s() == 0.02);
  CHECK((*once)[0].speed == rpm(3000));
  CHECK((*once)[0].command == 0.432);
  CHECK((*once)[1].speed == rpm(-20.5));
  CHECK((*once)[2].at == Duration{});
  CHECK(pack(*once) == pack(samples));
}

TEST_CASE("pack: no bytes but whole chunks are taken, cut or lengthened at any place") {
  PulseChunk chunk;
  const auto train = train_of(1);
  chunk.ticks = train.ticks;
  chunk.marks = train.marks;
  chunk.gaps = {{3, 9}};
  const Blob whole = pack(chunk, 6);
  for (std::size_t length = 0; length < whole.size(); ++length)
    CHECK_FALSE(unpack_pulses(std::span(whole).first(length)));
  Blob longer = whole;
  longer.push_back(0);
  CHECK_FALSE(unpack_pulses(longer));
  const Blob samples = pack(std::vector<Sample>(9));
  for (std::size_t length = 0; length < samples.size(); ++length)
    CHECK_FALSE(unpack_samples(std::span(samples).first(length)));
}

TEST_CASE("pack: a count that the bytes cannot hold asks for no memory") {
  const Blob huge{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x7F, 1, 0};
  CHECK_FALSE(unpack_pulses(huge));
  CHECK_FALSE(unpack_samples(huge));
  const Blob too_long(11, 0xFF); // a number of over 64 bits
  CHECK_FALSE(unpack_pulses(too_long));
}
