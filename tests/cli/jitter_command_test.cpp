// `whirler jitter` as a person meets it: tables in, verdict and page out.
#include "catch.hpp"
#include "run_program.hpp"

#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>

using namespace whirler::cli;

namespace {

const std::string kTree = WHIRLER_SOURCE_DIR;

std::string text_of(const std::string& path) {
  std::ifstream file(path);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

/// One mark a turn at 3000 rpm, and an accelerometer that shakes by so much once a turn.
void write_tables(const std::string& pulses, const std::string& shake, double m_s2) {
  std::ofstream marks(pulses);
  marks << "t_s\n";
  for (int turn = 0; turn < 300; ++turn)
    marks << turn / 50 << "." << (turn % 50 < 5 ? "0" : "") << turn % 50 * 2 << "\n";
  std::ofstream samples(shake);
  samples << "t_s,accel_m_s2\n";
  for (int i = 0; i < 5900; ++i)
    samples << i * 1e-3 << ","
            << 0.1 + m_s2 * std::cos(2.0 * std::numbers::pi * 50.0 * i * 1e-3 - 1.0) +
                   0.01 * ((i * 7919) % 13 - 6)
            << "\n";
}

} // namespace

TEST_CASE("jitter: an accelerometer's table makes one mark a turn enough") {
  const TestFolder folder;
  const std::string pulses = folder.path("p.csv");
  const std::string shake = folder.path("a.csv");
  const std::string machine = folder.path("m.json");
  std::string one_mark = text_of(kTree + "/profiles/machines/bench_simulated.json");
  one_mark.replace(one_mark.find("\"marks_per_turn\": 6"), 19, "\"marks_per_turn\": 1");
  std::ofstream(machine) << one_mark;
  const std::string jitter =
      "jitter --json --pulses " + pulses + " --machine " + machine + " --accel " + shake;
  write_tables(pulses, shake, 4.2); // 25 g mm on 600 g
  const auto off = run_program(jitter + " --stop 16mm/s");
  CHECK(off.status == 6);
  CHECK(off.json().at("verdict") == "stop");
  CHECK(off.json().at("acceleration").at("amplitude_m_s2").get<double>() ==
        Approx(4.2).epsilon(0.01));
  CHECK(off.json().at("unbalance_g_mm").at("estimate").get<double>() == Approx(23.2).epsilon(0.02));
  write_tables(pulses, shake, 0.2);
  CHECK(run_program(jitter).json().at("verdict") == "even");
  const auto without = run_program("jitter --json --pulses " + pulses + " --machine " + machine);
  CHECK(without.json().at("verdict") == "cannot_tell");
  std::ofstream(shake) << "t_s,accel\n0,1\n";
  CHECK(run_program(jitter).status == 3);
}

TEST_CASE("jitter: one limit of one's own leaves the machine's other one in force") {
  const TestFolder folder;
  const std::string pulses = folder.path("p.csv");
  const std::string shake = folder.path("a.csv");
  std::string text = text_of(kTree + "/profiles/machines/bench_simulated.json"); // 6.3 and 40 mm/s
  text.replace(text.find("\"marks_per_turn\": 6"), 19, "\"marks_per_turn\": 1");
  const std::string machine = folder.write("m.json", text);
  const std::string jitter =
      "jitter --json --pulses " + pulses + " --machine " + machine + " --accel " + shake;
  write_tables(pulses, shake, 10.0); // 58 mm/s, 5.4 N
  CHECK(run_program(jitter + " --watch 30mm/s").status == 6);
  CHECK(run_program(jitter + " --stop 100mm/s").json().at("verdict") == "watch");
  CHECK(run_program(jitter + " --watch 60mm/s").status == 2); // over the machine's stop limit
  for (const char* other_unit : {" --watch 8mrad", " --stop 8mrad", " --watch 1N", " --stop 1N"}) {
    CAPTURE(other_unit);
    const auto refused = run_program(jitter + other_unit);
    CHECK(refused.status == 2);
    CHECK_THAT(refused.err, Catch::Matchers::ContainsSubstring("another unit"));
  }
  const auto force = run_program(jitter + " --watch 1N --stop 4N");
  CHECK(force.status == 6);
  CHECK(force.json().at("force_N").at("estimate").get<double>() == Approx(5.43).epsilon(0.02));
}

TEST_CASE("jitter: slow turns, soft and fast runs of an even plate all end well on the simulator") {
  const TestFolder folder;
  struct Case {
    const char* profile;
    const char* machine;
  };
  for (const Case c : {Case{"slow_turn", "bench_simulated"},
                       {"thick", "bench_simulated"},
                       {"slow_turn", "large"},
                       {"thick", "large"}}) {
    CAPTURE(c.profile, c.machine);
    const std::string notebook = " --notebook " + folder.path("n.db");
    const auto ran = run_program("run " + kTree + "/profiles/" + c.profile + ".json --machine " +
                                 kTree + "/profiles/machines/" + c.machine +
                                 ".json --simulate --speed-up 100 --seed 7 --json" + notebook);
    CHECK(ran.status == 0);
    const auto coat = std::to_string(ran.json().at("coat").get<int>());
    const auto read = run_program("jitter " + coat + " --json" + notebook);
    const bool one_speed = std::string(c.profile) == "slow_turn";
    CHECK(read.json().at("verdict") == (one_speed ? "cannot_tell" : "even"));
    CHECK(run_program("report " + coat + " --output " + folder.path("c.html") + notebook).status ==
          0);
    const std::string page = text_of(folder.path("c.html"));
    CHECK(page.find("Once per turn") != std::string::npos);
  }
}

namespace {

/// `turns` turns of six even marks at `rpm`, as a table of ticks of 0.5 us modulo 16 bits.
std::string wrapping_table(double rpm, int turns) {
  std::ostringstream table;
  table << "ticks\n";
  for (int mark = 0; mark < 6 * turns; ++mark)
    table << std::llround(mark * 20e6 / rpm) % 65536 << "\n";
  return table.str();
}

} // namespace

TEST_CASE("jitter: limits that cross, and a run that is its own baseline, are refused") {
  const TestFolder folder;
  const std::string run = folder.write("run.csv", wrapping_table(3000.0, 200));
  const std::string jitter = "jitter --marks 6 --tick 0.5us --tick-bits 16 --pulses " + run;
  CHECK(run_program(jitter + " --watch 10mrad --stop 1mrad").status == 2);
  CHECK(run_program(jitter + " --watch 7mm/s --stop 6.9mm/s").status == 2);
  CHECK(run_program(jitter + " --watch 1mrad --stop 1mrad").status == 0);
  const auto itself = run_program(jitter + " --baseline " + run);
  CHECK(itself.status == 3);
  CHECK_THAT(itself.err, Catch::Matchers::ContainsSubstring("the very pulses of the run"));
}

TEST_CASE("jitter: a timer that wraps within a slow mark says below which speed it misreads") {
  const TestFolder folder;
  const std::string run = folder.write("run.csv", wrapping_table(3000.0, 200));
  const std::string jitter = "jitter --json --marks 6 --tick 0.5us --pulses " + run;
  const auto narrow = run_program(jitter + " --tick-bits 16");
  REQUIRE(narrow.status == 0);
  // 65536 half microseconds a mark of six: 60 / (6 * 0.032768)
  CHECK(narrow.json().at("slowest_rpm").get<double>() == Approx(305.176).epsilon(1e-4));
  CHECK(narrow.json().at("speed_rpm").get<double>() == Approx(3000.0).epsilon(1e-4));
  CHECK_THAT(narrow.err, Catch::Matchers::ContainsSubstring("wraps within a mark under 305 rpm"));
}
