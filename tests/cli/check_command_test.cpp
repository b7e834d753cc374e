#include "catch.hpp"
#include "run_program.hpp"

#include <fstream>
#include <iterator>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

constexpr auto kGood = R"({"kind":"profile","format":1,"name":"Fünf","steps":[
  {"name":"spread","speed_rpm":500,"ramp_rpm_s":500,"dwell_s":5},
  {"name":"thin","speed_rpm":3000,"ramp_s":2,"dwell_s":45}],"stop":{"ramp_rpm_s":1000}})";
constexpr auto kBad = R"({"kind":"blank","format":1,
 "outline":{"disc_mm":-4},"thickness_mm":"1.6","copper_um":[35,35],"hole":{"diameter_mm":4}})";

} // namespace

TEST_CASE("check: a good profile is named and drawn, and nothing is at fault") {
  const TestFolder folder;
  const std::string path = folder.write("p.json", kGood);
  const auto said = run_program("check " + path);
  CHECK(said.status == 0);
  CHECK_THAT(said.out, ContainsSubstring("profile \"Fünf\": good"));
  CHECK_THAT(said.out, ContainsSubstring("3000 rpm"));
  CHECK_THAT(said.out, ContainsSubstring("56 s in all"));
  const auto json = run_program("check --json " + path).json();
  CHECK(json["faults"].empty());
  CHECK(json["files"][0]["kind"] == "profile");
  CHECK(json["files"][0]["total_s"] == 56.0);
  CHECK(json["files"][0]["top_speed_rpm"] == 3000.0);
}

TEST_CASE("check: every mistake of every file, in text and in JSON, and status 3") {
  const TestFolder folder;
  const std::string bad = folder.write("bad.json", kBad);
  const std::string all = bad + " " + folder.path("none.json") + " " +
                          folder.write("p.json", kGood) + " " + folder.path("");
  const auto text = run_program("check " + all);
  CHECK(text.status == 3);
  CHECK_THAT(text.out, ContainsSubstring("bad.json:2:23: /outline/disc_mm: found -4"));
  CHECK_THAT(text.out, ContainsSubstring("bad.json:2:42: /thickness_mm"));
  CHECK_THAT(text.out, ContainsSubstring("p.json: profile"));
  const auto said = run_program("check --json " + all);
  CHECK(said.status == 3);
  const auto faults = said.json()["faults"];
  REQUIRE(faults.size() == 5);
  CHECK(faults[0]["file"] == bad);
  CHECK(faults[0]["line"] == 2);
  CHECK(faults[0]["column"] == 23);
  CHECK(faults[0]["pointer"] == "/outline/disc_mm");
  CHECK(faults[0]["found"] == "-4");
  CHECK_THAT(faults[0]["allowed"].get<std::string>(), ContainsSubstring("above 0"));
  CHECK(faults[2]["pointer"] == "/hole");
  CHECK(faults[3]["file"] == folder.path("none.json"));
  CHECK(faults[3]["line"] == 0);
  CHECK(faults[4]["file"] == folder.path(""));
}

TEST_CASE("check: a table of pulses is checked by its name's end") {
  const TestFolder folder;
  CHECK(run_program("check " + folder.write("p.csv", "ticks\n1\n2\n")).status == 0);
  const auto said = run_program("check --json " + folder.write("q.csv", "t_s\n1\nx\n"));
  CHECK(said.status == 3);
  CHECK(said.json()["faults"][0]["line"] == 3);
}

TEST_CASE("check: no file is a mistake of the command line") {
  CHECK(run_program("check").status == 2);
}

TEST_CASE("check: what a board and a machine name is looked at too, once") {
  const TestFolder folder;
  const std::string tree = WHIRLER_SOURCE_DIR;
  const std::string board =
      folder.write("board.json", R"({"kind": "board", "format": 1, "name": "b", "target_um": 2.4,
  "resist": "gone.json", "blank": "p.json", "machine": "m.json"})");
  folder.write("p.json", kGood); // a profile where a blank should be
  const auto machine = run_program("check " + tree + "/profiles/machines/inverter_modbus.json");
  CHECK(machine.status == 0);
  std::string modbus;
  {
    std::ifstream file(tree + "/profiles/machines/inverter_modbus.json");
    modbus.assign(std::istreambuf_iterator<char>(file), {});
  }
  folder.write("m.json", modbus); // its drive's file is not beside it here
  const auto said = run_program("check --json " + board);
  REQUIRE(said.status == 3);
  const auto faults = said.json()["faults"];
  REQUIRE(faults.size() == 3);
  CHECK(faults[0]["file"] == folder.path("gone.json"));
  CHECK(faults[1]["file"] == folder.path("p.json"));
  CHECK(faults[1]["pointer"] == "/kind");
  CHECK_THAT(faults[2]["file"].get<std::string>(), ContainsSubstring("drives/"));
  CHECK(
      run_program("check --json " + board + " " + folder.path("m.json")).json()["faults"].size() ==
      3);
}

TEST_CASE("check: a least speed at which marks pass too seldom is cautioned, with one that works") {
  const TestFolder folder;
  std::string simulated;
  {
    std::ifstream file(std::string(WHIRLER_SOURCE_DIR) + "/profiles/machines/bench_simulated.json");
    simulated.assign(std::istreambuf_iterator<char>(file), {});
  }
  const auto with = [&](const std::string& marks, const std::string& least) {
    std::string text = simulated;
    text.replace(text.find("\"marks_per_turn\": 6"), 19, "\"marks_per_turn\": " + marks);
    text.replace(text.find("\"speed_min_rpm\": 200"), 20, "\"speed_min_rpm\": " + least);
    return run_program("check --json " + folder.write("m.json", text));
  };
  const auto seldom = with("1", "40");
  CHECK(seldom.status == 0);
  const auto cautions = seldom.json()["files"][0]["cautions"];
  REQUIRE(cautions.size() == 1);
  CHECK_THAT(cautions[0].get<std::string>(), ContainsSubstring("at least 120 rpm"));
  CHECK(with("1", "120").json()["files"][0].count("cautions") == 0);
  CHECK(with("6", "20").json()["files"][0].count("cautions") == 0);
}
