// One judgement of a run, whoever tells it: the words, the JSON, the log, the page, the trend.
#include "board_bench.hpp"
#include "catch.hpp"
#include "run_program.hpp"

#include <string>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

/// A board's file that asks for a shipped plate on the shipped bench.
std::string board_on(const TestFolder& folder, const std::string& blank) {
  const std::string tree = WHIRLER_SOURCE_DIR + std::string("/profiles/");
  return folder.write("board.json", R"({"kind":"board","format":1,"name":"sleet 2","resist":")" +
                                        tree + R"(resists/amber.json","blank":")" + tree +
                                        "blanks/" + blank + R"(","machine":")" + tree +
                                        R"(machines/bench_simulated.json","profile":")" + tree +
                                        R"(thin.json","sides":["lee"]})");
}

std::string in_words(std::string verdict) {
  for (char& c : verdict)
    c = c == '_' ? ' ' : static_cast<char>(std::toupper(c));
  return verdict;
}

} // namespace

TEST_CASE("verdict: of a side cut short, words, JSON, log, show, page and trend say the same") {
  const auto [blank, fault, outcome] = GENERATE(table<std::string, std::string, std::string>(
      {{"rain_gauge.json", "lid@8s", "lid"},
       {"rain_gauge.json", "lid@6.5s", "lid"},
       {"rain_gauge.json", "", "done"},
       {"rain_gauge_misdrilled.json", "", "imbalance"}}));
  CAPTURE(blank, fault);
  const TestFolder folder;
  const std::string book = " --notebook " + folder.path("n.db");
  const auto ran = run_program("coat " + board_on(folder, blank) +
                               " --seed 1 --speed-up 10 --yes --no-weighing --json" +
                               (fault.empty() ? "" : " --fault " + fault) + book);
  const auto side = ran.json().at("sides").at(0);
  REQUIRE(side.at("outcome") == outcome);
  const std::string verdict = side.at("jitter").at("verdict");
  if (outcome == "imbalance")
    CHECK(verdict == "stop");
  CHECK_THAT(ran.err, ContainsSubstring("VIBRATION " + in_words(verdict) + ":"));
  CHECK(run_program("log --json" + book).json()["coats"][0]["verdict"] == verdict);
  const auto shown = run_program("show 1 --json" + book).json();
  CHECK(shown["end"]["verdict"] == verdict);
  CHECK(shown["end"]["summary"]["jitter"]["verdict"] == verdict);
  const auto trend = run_program("report --trend --json --output " + folder.path("t.html") + book);
  CHECK(trend.json()["coats"][0]["verdict"] == verdict);
  REQUIRE(run_program("report 1 --output " + folder.path("c.html") + book).status == 0);
  CHECK_THAT(folder.read("c.html"), !ContainsSubstring("The log says"));
  if (outcome == "imbalance") // stopped on the way: the limits drawn are for where it was going
    CHECK_THAT(folder.read("c.html"), ContainsSubstring("stop limit at 3000 rpm"));
}
