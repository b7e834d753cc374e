// Pulses missing, doubled, out of order and wrapped, in tables as a logger writes them, read by the
// program: what is counted, and what of it reaches the figure.
#include "catch.hpp"
#include "run_program.hpp"
#include "tach/pulse_faults.hpp"
#include "tach/pulse_maker.hpp"

#include <cstdio>
#include <random>
#include <string>

using namespace whirler;
using namespace whirler::cli;
using namespace pulse_maker;
using Catch::Matchers::ContainsSubstring;

namespace {

enum class Time { seconds, ticks_24_bits };

std::string table_of(const tach::PulseTrain& train, Time time) {
  const bool numbered = !train.marks.empty();
  std::string text = time == Time::seconds ? "t_s" : "ticks";
  text += numbered ? ",mark\n" : "\n";
  for (std::size_t i = 0; i < train.size(); ++i) {
    char row[64];
    if (time == Time::seconds)
      std::snprintf(row, sizeof row, "%.9f", static_cast<double>(train.ticks[i]) * train.tick.s());
    else
      std::snprintf(row, sizeof row, "%lld", static_cast<long long>(train.ticks[i] & 0xffffff));
    text += row;
    if (numbered)
      text += "," + std::to_string(train.marks[i]);
    text += "\n";
  }
  return text;
}

nlohmann::json read_by_program(const tach::PulseTrain& train, int marks, Time time) {
  const TestFolder folder;
  const auto said = run_program(
      "jitter --json --pulses " + folder.write("p.csv", table_of(train, time)) + " --marks " +
      std::to_string(marks) + (time == Time::seconds ? "" : " --tick 0.5us --tick-bits 24"));
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  return said.json();
}

Spinner dwelling(int marks, bool numbered) {
  Spinner spinner;
  const double pitch = 2.0 * kPi / marks;
  spinner.marks = marks;
  spinner.whirls = false;
  spinner.steady = std::polar(1.5e-3, 1.0);
  spinner.noise_rad = std::min(2e-4, 0.03 * pitch);
  spinner.with_index = numbered;
  spinner.motion = Motion::dwell(marks > 200 ? 600 : 3000, 9);
  spinner.motion.hunting = 0.002;
  std::mt19937_64 random(9);
  spinner.pattern = random_pattern(marks, std::min(8e-3, 0.05 * pitch), random);
  return spinner;
}

/// The shipped profile on the simulated bench with this shipped plate.
Said run_of(const std::string& blank, const std::string& more) {
  const std::string tree = WHIRLER_SOURCE_DIR + std::string("/profiles/");
  return run_program("run " + tree + "thin.json --machine " + tree +
                     "machines/bench_simulated.json --blank " + tree + "blanks/" + blank +
                     " --simulate --lid-closed --seed 1 --speed-up 10 --json" + more);
}

} // namespace

TEST_CASE("jitter: a run that its watch stopped is a stop in its answer, the log and jitter") {
  const TestFolder folder;
  const std::string book = " --notebook " + folder.path("n.db");
  const auto ran = run_of("rain_gauge_misdrilled.json", book);
  REQUIRE(ran.status == 5);
  REQUIRE(ran.json()["outcome"] == "imbalance");
  CHECK(ran.json()["jitter"]["verdict"] == "stop");
  CHECK(run_program("log --verdict stop --json" + book).json()["coats"].size() == 1);
  const auto said = run_program("jitter 1 --json" + book);
  CHECK(said.status == 6);
  CHECK(said.json()["verdict"] == "stop");
  CHECK_THAT(said.json()["reason"].get<std::string>(),
             ContainsSubstring(ran.json()["cause"].get<std::string>()));
  // By limits of one's own the pulses are asked, and the end of the run is said beside them.
  const auto own = run_program("jitter 1 --watch 100mm/s --stop 200mm/s --json" + book);
  CHECK(own.status == 0);
  CHECK_THAT(own.json()["reason"].get<std::string>(), ContainsSubstring("was stopped"));
}

TEST_CASE("jitter: a run cut short at speed is not called even for its slow dwell") {
  // [math] the plate's e times omega is six times as much at 3000 rpm as in the dwell at 500.
  const TestFolder folder;
  const std::string book = " --notebook " + folder.path("n.db");
  const auto ran = run_of("rain_gauge.json", book + " --fault lid@8s");
  REQUIRE(ran.status == 5);
  const auto said = run_program("jitter 1 --json" + book).json();
  CHECK(said["speed_rpm"].get<double>() < 600.0);
  CHECK(said["verdict"] == "watch");
  CHECK_THAT(said["reason"].get<std::string>(), ContainsSubstring("rpm, which the run reached"));
}

TEST_CASE(
    "faults: one in fifty pulses wrong is counted and changes nothing, from 1 to 1024 marks") {
  const int marks = GENERATE(1, 2, 3, 6, 24, 360, 1024);
  const bool numbered = GENERATE(true, false);
  const Time time = GENERATE(Time::seconds, Time::ticks_24_bits);
  CAPTURE(marks, numbered, static_cast<int>(time));
  std::mt19937_64 random(3);
  const auto good = pulses_of(dwelling(marks, numbered), random);
  const auto bad = with_faults(good, {0.01, 0.005, 0.005}, random);
  const auto clean = read_by_program(good, marks, time);
  const auto mended = read_by_program(bad.train, marks, time);
  const auto& counts = mended.at("pulses");
  const auto close =
      [](std::size_t truth) { // 2 %: of two faults in a row one may look like another
        return Approx(static_cast<double>(truth)).epsilon(0.02).margin(2.5);
      };
  CHECK(counts.at("missing").get<double>() == close(bad.missing));
  CHECK(counts.at("doubled").get<double>() == close(bad.doubled));
  CHECK(counts.at("out_of_order").get<double>() == close(bad.swapped));
  // Of a counter that wraps, a step back right behind a doubled pulse looks like a whole turn of
  // it.
  CHECK(counts.at("breaks").get<int>() <= (time == Time::seconds ? 0 : 1));
  CHECK((counts.at("counter_wraps").get<int>() > 0) == (time == Time::ticks_24_bits));
  CHECK(clean.at("pulses").at("missing") == 0);
  CHECK(clean.at("pulses").at("doubled") == 0);
  if (marks == 1)
    return;
  const double was = clean.at("once_per_turn").at("amplitude_mrad").get<double>();
  CHECK(mended.at("once_per_turn").at("amplitude_mrad").get<double>() == Approx(was).margin(4e-3));
}

TEST_CASE("faults: a run-up with 1024 marks from rest keeps its count, index or not") {
  const bool numbered = GENERATE(true, false);
  Spinner spinner = dwelling(1024, numbered);
  spinner.whirls = true;
  spinner.mount.unbalance_kg_m = 20e-6;
  spinner.motion = {{0.0}, {0.0}};
  spinner.motion.go_to(400, 300, 2).go_to(1500, 300, 2);
  std::mt19937_64 random(9);
  const auto read = read_by_program(pulses_of(spinner, random), 1024, Time::ticks_24_bits);
  CHECK(read.at("pulses").at("breaks") == 0);
  CHECK(read.at("pulses").at("missing").get<int>() <= 2); // of some 60 000
  CHECK(read.at("mount").at("far_above_mrad").get<double>() == Approx(2.22).epsilon(0.06));
}

TEST_CASE("jitter: a tick that the table does not count in is refused, and a counter of 70 bits") {
  const TestFolder folder;
  std::mt19937_64 random(3);
  const auto train = pulses_of(dwelling(6, true), random);
  const std::string jitter = "jitter --marks 6 --pulses ";
  const std::string seconds = jitter + folder.write("s.csv", table_of(train, Time::seconds));
  CHECK(run_program(seconds).status == 0);
  const auto beside = run_program(seconds + " --tick 0.5us");
  CHECK(beside.status == 3);
  CHECK_THAT(beside.err, ContainsSubstring("t_s, in seconds"));
  const std::string ticks = jitter + folder.write("t.csv", table_of(train, Time::ticks_24_bits));
  const auto wide = run_program(ticks + " --tick 0.5us --tick-bits 70");
  CHECK(wide.status == 2);
  CHECK_THAT(wide.err, ContainsSubstring("a counter of 70 bits"));
  CHECK(run_program(ticks + " --tick-bits 24").status == 2);
  CHECK(run_program(ticks + " --tick 0.5us --tick-bits 24").status == 0);
}
