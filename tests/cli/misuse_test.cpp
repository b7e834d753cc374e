// What belongs to no command: words that make none, and output that goes nowhere.
#include "run_program.hpp"

#include <cstdlib>
#include <sstream>
#include <vector>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

const std::string kTree = WHIRLER_SOURCE_DIR;
const std::string kProfile = kTree + "/profiles/thin.json";
const std::string kMachine = kTree + "/profiles/machines/bench_simulated.json";

/// The status of a whole shell command.
int status_of(const std::string& command) {
  const int ended = std::system(command.c_str());
  return WIFEXITED(ended) ? WEXITSTATUS(ended) : -1;
}

/// The names under "Subcommands:" of the program's help.
std::vector<std::string> commands_in_help() {
  std::istringstream lines(run_program("--help").out);
  std::vector<std::string> found;
  bool reached = false;
  for (std::string line; std::getline(lines, line);) {
    std::string word;
    if (reached && line.starts_with("  ") && std::istringstream(line) >> word)
      found.push_back(word);
    reached = reached || line.starts_with("Subcommands:") || line.starts_with("SUBCOMMANDS:");
  }
  return found;
}

} // namespace

TEST_CASE("words: a command that there is not is named, with those that there are") {
  const auto said = run_program("sped --target 1um");
  CHECK(said.status == 2);
  CHECK_THAT(said.err, ContainsSubstring("'sped' is no command"));
  CHECK_THAT(said.err, ContainsSubstring("speed"));
  const auto json = run_program("sped --json");
  CHECK(json.status == 2);
  CHECK(json.json().at("fault").at("kind") == "command_line");
}

TEST_CASE("words: no command at all is a wrong command line") {
  CHECK(run_program("").status == 2);
  CHECK(run_program("--json").status == 2);
}

TEST_CASE("words: every command explains itself with examples, of files that are there") {
  const auto commands = commands_in_help();
  REQUIRE(commands.size() >= 8);
  for (const std::string& command : commands) {
    CAPTURE(command);
    const auto said = run_program(command + " --help");
    CHECK(said.status == 0);
    CHECK_THAT(said.out, ContainsSubstring("xamples:") && ContainsSubstring("whirler " + command));
    std::istringstream words(said.out);
    for (std::string word; words >> word;)
      if (word.starts_with("profiles/") && word.find('*') == std::string::npos) {
        CAPTURE(word);
        CHECK(std::filesystem::exists(kTree + "/" + word));
      }
  }
}

TEST_CASE("words: times that cannot be are refused and not taken for none") {
  const std::string run = "run " + kProfile + " --machine " + kMachine;
  CHECK(run_program(run + " --patience -1s").status == 2);
  CHECK(run_program(run + " --patience 0s").status == 2);
  CHECK(run_program("simulate --for -1s").status == 2);
  CHECK(run_program("speed --target 1um --known 1um@3000rpm --dwell -3s").status == 3);
  CHECK(run_program("speed --target 1um --known 1um@3000rpm --dwell 0s").status == 3);
}

TEST_CASE("words: sizes beyond all sense give a fault and no answer with holes") {
  CHECK(
      run_program("blank " + kTree + "/profiles/blanks/rain_gauge.json --speed 1e200rpm").status ==
      3);
  const auto exposure = run_program("exposure --json --thickness 18000um --lamp 8mW/cm2 --resist " +
                                    kTree + "/profiles/resists/umber.json");
  CHECK(exposure.status == 3);
  CHECK(exposure.json().at("fault").at("kind") == "input");
}

TEST_CASE("output: an answer that could not be written is not called done") {
  const std::string check = std::string(WHIRLER_PROGRAM) + " check " + kProfile;
  CHECK(status_of(check + " >/dev/full 2>/dev/null") == 1);
  CHECK(status_of(check + " >&- 2>/dev/null") == 1);
  CHECK(status_of(check + " --json 2>&- >/dev/null") == 0);
}

TEST_CASE(
    "output: with all streams closed a run still ends, and nothing is written into its notebook") {
  const TestFolder folder;
  const std::string run = std::string(WHIRLER_PROGRAM) + " run " + kProfile + " --machine " +
                          kMachine + " --speed-up 50 --fault lid@1s --notebook ";
  CHECK(status_of(run + folder.path("a.sqlite") + " <&- >&- 2>&-") == 5);
  CHECK(folder.read("a.sqlite").substr(0, 15) == "SQLite format 3");
}

TEST_CASE("input: what has no end is given up") {
  CHECK(run_program("check /dev/zero").status == 3);
  CHECK(run_program("check " + kTree).status == 3);
}

TEST_CASE("words: a value of the wrong form is a fault like every other, with the command's help") {
  for (const auto* words : {"jitter abc", "jitter --pulses p.csv --marks 0",
                            "jitter --pulses p.csv --tick-bits x", "run --no-such-option"}) {
    CAPTURE(words);
    const auto said = run_program(words);
    const std::string command = std::string(words).substr(0, std::string(words).find(' '));
    CHECK(said.status == 2);
    CHECK_THAT(said.err, ContainsSubstring("whirler: "));
    CHECK_THAT(said.err, ContainsSubstring("see whirler " + command + " --help"));
    CHECK_THAT(said.err, !ContainsSubstring("Could not convert"));
  }
}

TEST_CASE("words: a room that is none is refused before anything turns") {
  const TestFolder folder;
  const std::string book = folder.path("n.db");
  for (const char* room : {"--temperature 900C", "--temperature -300C", "--humidity 150%"}) {
    CAPTURE(room);
    CHECK(run_program("run " + kProfile + " --machine " + kMachine +
                      " --simulate --lid-closed --notebook " + book + " " + room)
              .status == 3);
  }
  CHECK_FALSE(std::filesystem::exists(book)); // not begun, so nothing kept
}

TEST_CASE("words: a notebook without a name is not the person's own") {
  const auto said = run_program("log --notebook ''");
  CHECK(said.status == 2);
  CHECK_THAT(said.err, ContainsSubstring("an empty name"));
}

TEST_CASE("words: a page and a JSON document do not share one output") {
  const auto said = run_program("report 1 --output - --json");
  CHECK(said.status == 2);
  CHECK(said.json().at("fault").at("what") == "the page and the JSON both want stdout");
}
