#include "catch.hpp"
#include "whirler/files/pulses_csv.hpp"

#include <cmath>
#include <string>

using namespace whirler;
using namespace whirler::files;
using Catch::Matchers::ContainsSubstring;

namespace {

using Ticks = std::vector<std::int64_t>;
using Marks = std::vector<std::int16_t>;

const PulsesFormat kCounter{microseconds(0.5), 16};

std::vector<FileFault> faults_in(const std::string& text, const PulsesFormat& format = {}) {
  const auto read = read_pulses(text, "p.csv", format);
  if (read)
    return {};
  return read.faults();
}

/// The readings of a 16-bit counter for true ticks, as a table.
std::string wrapped(const Ticks& ticks) {
  std::string text = "ticks\n";
  for (const std::int64_t tick : ticks)
    text += std::to_string(((tick % 65536) + 65536) % 65536) + "\n";
  return text;
}

} // namespace

TEST_CASE("exact: times become ticks of a nanosecond, digit by digit") {
  const auto read =
      read_pulses("t_s,mark\n0.1,0\n0.100000003,1\n12.5,2\n-0.25,3\n1.5e-3,4\n+2,5\n", "p", {});
  REQUIRE(read.ok());
  CHECK(read->tick.s() == 1e-9);
  CHECK(read->ticks ==
        Ticks{100'000'000, 100'000'003, 12'500'000'000, -250'000'000, 1'500'000, 2'000'000'000});
  CHECK(read->marks == Marks{0, 1, 2, 3, 4, 5});
}

TEST_CASE("exact: digits below the nanosecond make the tick a picosecond") {
  const auto read = read_pulses("t_s\n0.000000000001\n3600.0166666666666666\n", "p", {});
  REQUIRE(read.ok());
  CHECK(read->tick.s() == 1e-12);
  CHECK(read->ticks == Ticks{1, 3'600'016'666'666'667});
  CHECK(read->marks.empty());
}

TEST_CASE("exact: times of day counted from 1970 still fit, to the nanosecond") {
  const auto read = read_pulses("t_s\n1709217000.0000000014\n1709217000.25\n", "p", {});
  REQUIRE(read.ok());
  CHECK(read->tick.s() == 1e-9);
  CHECK(read->ticks == Ticks{1'709'217'000'000'000'001, 1'709'217'000'250'000'000});
}

TEST_CASE("pulses: CR LF, blanks, quotes, a byte order mark and empty lines at the end are fine") {
  const auto read =
      read_pulses("\xEF\xBB\xBF\"mark\" , \"t_s\"\r\n 1 ,\t0.5\r\n2,0.75\r\n\r\n \r\n", "p", {});
  REQUIRE(read.ok());
  CHECK(read->ticks == Ticks{500'000'000, 750'000'000});
  CHECK(read->marks == Marks{1, 2});
  CHECK(read_pulses("t_s\n1\n2", "p", {}).ok()); // no end to the last line
}

TEST_CASE("pulses: order and repeats are handed on as they stand") {
  const auto read = read_pulses("t_s\n3\n1\n1\n2\n", "p", {});
  REQUIRE(read.ok());
  CHECK(read->ticks == Ticks{3'000'000'000, 1'000'000'000, 1'000'000'000, 2'000'000'000});
}

TEST_CASE("pulses: a counter that never wraps is taken as it is") {
  const auto read = read_pulses("ticks\n70000\n5\n9000000000\n", "p", {microseconds(0.5), {}});
  REQUIRE(read.ok());
  CHECK(read->tick == microseconds(0.5));
  CHECK(read->ticks == Ticks{70000, 5, 9'000'000'000});
}

TEST_CASE("pulses: a counter's wraps are undone, at fast and at slow turning") {
  const auto interval = GENERATE(400, 6'667, 30'000, 50'000, 65'000);
  Ticks ticks;
  for (int i = 0; i < 300; ++i)
    ticks.push_back(1234 + std::int64_t{interval} * i + (i * 7919) % 300);
  const auto read = read_pulses(wrapped(ticks), "p", kCounter);
  REQUIRE(read.ok());
  CHECK(read->ticks == ticks);
}

TEST_CASE("pulses: wraps are undone through a run-up from slow to fast and back") {
  Ticks ticks{0};
  for (int i = 1; i < 2000; ++i) {
    const double speed_rpm = 310 + 2690 * std::sin(3.14159 * i / 2000.0); // with six marks
    ticks.push_back(ticks.back() + std::llround(60.0 / speed_rpm / 6 / 0.5e-6));
  }
  const auto read = read_pulses(wrapped(ticks), "p", kCounter);
  REQUIRE(read.ok());
  CHECK(read->ticks == ticks);
}

TEST_CASE("pulses: two that came in the wrong order are a step back, not a turn of the counter") {
  Ticks ticks;
  for (int i = 0; i < 50; ++i)
    ticks.push_back(6'667 * i);
  std::swap(ticks[20], ticks[21]);
  std::swap(ticks[1], ticks[2]);
  const auto read = read_pulses(wrapped(ticks), "p", kCounter);
  REQUIRE(read.ok());
  CHECK(read->ticks == ticks);
}

TEST_CASE("pulses: missing and doubled ones do not disturb the count of wraps") {
  Ticks ticks;
  for (int i = 0; i < 200; ++i)
    if (i % 37 != 5 && i % 53 != 7)
      ticks.push_back(6'667 * i);
  ticks.insert(ticks.begin() + 60, ticks[60] - 30);
  ticks.insert(ticks.begin() + 90, ticks[90]);
  const auto read = read_pulses(wrapped(ticks), "p", kCounter);
  REQUIRE(read.ok());
  CHECK(read->ticks == ticks);
}

TEST_CASE("pulses: every mistake has its line and column") {
  struct Hurt {
    const char* text;
    std::size_t line;
    std::size_t column;
    const char* found;
  };
  const auto hurt = GENERATE(
      Hurt{"", 1, 1, "no header"}, Hurt{"\n1\n2\n", 1, 1, "no header"},
      Hurt{"t_s;mark\n1;0\n2;1\n", 1, 1, "t_s;mark"}, Hurt{"mark\n0\n1\n", 1, 1, "no column"},
      Hurt{"t_s,t_s\n1,1\n2,2\n", 1, 5, "t_s a second"}, Hurt{"t_s,rpm\n1,1\n2,2\n", 1, 5, "rpm"},
      Hurt{"t_s,ticks\n1,1\n2,2\n", 1, 1, "both"}, Hurt{"0.1\n0.2\n0.3\n", 1, 1, "0.1"},
      Hurt{"t_s,\n1,1\n2,2\n", 1, 5, "without a name"}, Hurt{"t_s\n1\nx\n3\n", 3, 1, "x"},
      Hurt{"t_s\n1\n2,5\n", 3, 3, "5"}, Hurt{"t_s,mark\n1,0\n2\n", 3, 1, "ends early"},
      Hurt{"t_s,mark\n1,0\n2,\n", 3, 3, "nothing"}, Hurt{"t_s,mark\n1,0\n2,1024\n", 3, 3, "1024"},
      Hurt{"t_s,mark\n1,0\n2,-1\n", 3, 3, "-1"}, Hurt{"t_s,mark\n1,0\n 2, 1.5\n", 3, 5, "1.5"},
      Hurt{"t_s\n1\n\n2\n", 3, 1, "empty line"}, Hurt{"t_s\n1\nnan\n", 3, 1, "nan"},
      Hurt{"t_s\n1\ninf\n", 3, 1, "inf"}, Hurt{"t_s\n1\n1e30\n", 3, 1, "1e30"},
      Hurt{"t_s\n1\n99999999999\n", 3, 1, "99999999999"}, Hurt{"t_s\n1\n1,5,7\n", 3, 3, "5,7"},
      Hurt{"t_s\n1\n0x10\n", 3, 1, "0x10"}, Hurt{"t_s\n1\n.\n", 3, 1, "."},
      Hurt{"t_s\n1\n--2\n", 3, 1, "--2"}, Hurt{"t_s\n1\n+-2\n", 3, 1, "+-2"},
      Hurt{"t_s\n1\n\"\n", 3, 1, "\""}, Hurt{"t_s\n5\n", 1, 1, "1 pulse"},
      Hurt{"ticks\n1\n2\n", 1, 1, "no length of a tick"});
  CAPTURE(hurt.text);
  const auto faults = faults_in(hurt.text);
  REQUIRE_FALSE(faults.empty());
  CHECK(faults[0].line == hurt.line);
  CHECK(faults[0].column == hurt.column);
  CHECK_THAT(faults[0].found, ContainsSubstring(hurt.found));
}

TEST_CASE("pulses: a reading past the counter's width is a mistake, as is an odd width") {
  CHECK(faults_in("ticks\n1\n65536\n", kCounter).at(0).line == 3);
  CHECK(faults_in("ticks\n1\n-1\n", kCounter).at(0).line == 3);
  CHECK(faults_in("ticks\n1\n2\n", {microseconds(1), 7}).size() == 1);
  CHECK(faults_in("ticks\n1\n2\n", {microseconds(1), 63}).size() == 1);
  CHECK(faults_in("ticks\n1\n2\n", {microseconds(0), 16}).size() == 1);
  CHECK_FALSE(read_pulses("ticks\n650\n10\n50\n650\n10\n", "p", {microseconds(1), 62}).ok());
  CHECK(read_pulses("ticks\n1\n2\n", "p", {microseconds(1), 62}).ok());
}

TEST_CASE("pulses: all bad rows come in one go, up to a hundred") {
  CHECK(faults_in("t_s\nx\n1\ny\n2\nz\n").size() == 3);
  std::string text = "t_s\n";
  for (int i = 0; i < 1000; ++i)
    text += "x\n";
  CHECK(faults_in(text).size() == 100);
}
