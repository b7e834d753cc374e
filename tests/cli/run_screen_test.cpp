#include "../../src/cli/run_screen.hpp"
#include "catch.hpp"

#include <regex>

using namespace whirler;
using namespace whirler::cli;

namespace {

session::Progress dwelling() {
  session::Progress progress;
  progress.state = run::State::dwelling;
  progress.step = 2;
  progress.steps = 3;
  progress.step_name = "thin";
  progress.speed = rpm(2998.4);
  progress.target = rpm(3000);
  progress.elapsed = seconds(21.04);
  progress.left = seconds(92);
  progress.lid = run::LidState::closed;
  progress.jitter = session::LiveJitter{milliradians(0.421), milliradians(0.06), {}, "watch"};
  return progress;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string all;
  for (const auto& line : lines)
    all += line + "\n";
  return all;
}

} // namespace

TEST_CASE("screen: figures stand five lines high, and every digit looks different") {
  std::vector<std::string> seen;
  for (char digit = '0'; digit <= '9'; ++digit) {
    const auto rows = large(std::string(1, digit));
    REQUIRE(rows.size() == 5);
    const auto all = joined(rows);
    CHECK(std::find(seen.begin(), seen.end(), all) == seen.end());
    seen.push_back(all);
  }
  CHECK(large("12")[0].size() > large("1")[0].size());
}

TEST_CASE("screen: it says step, target, time left, once-per-turn figure, lid, and to keep out") {
  const auto text = joined(screen_lines(dwelling(), false));
  for (const char* words : {"step 2/3 thin", "dwelling", "target 3000", "0.42 ± 0.06 mrad", "watch",
                            "lid closed", "KEEP THE LID SHUT"}) {
    CAPTURE(words, text);
    CHECK(text.find(words) != std::string::npos);
  }
  CHECK(text.find("\x1b") == std::string::npos);
}

TEST_CASE("screen: what cannot be told is said in words, not by the answer's key") {
  auto progress = dwelling();
  progress.jitter->verdict = "cannot_tell";
  for (const std::string& text : {joined(screen_lines(progress, false)), plain_line(progress)}) {
    CAPTURE(text);
    CHECK(text.find("mrad  cannot tell") != std::string::npos);
  }
}

TEST_CASE("screen: no interval stands beside a figure that still holds the marks' unevenness") {
  auto progress = dwelling();
  progress.jitter->pattern_known = false;
  const auto text = joined(screen_lines(progress, false));
  CHECK(text.find("0.42 mrad, marks and plate") != std::string::npos);
  CHECK(text.find("±") == std::string::npos);
}

TEST_CASE("screen: only when standstill was seen does it say that nothing turns") {
  auto progress = dwelling();
  progress.may_be_turning = false;
  const auto text = joined(screen_lines(progress, false));
  CHECK(text.find("KEEP THE LID SHUT") == std::string::npos);
  CHECK(text.find("at rest") != std::string::npos);
}

TEST_CASE("screen: its colours are red and amber only, and every line ends plain") {
  auto progress = dwelling();
  progress.lid = run::LidState::open;
  progress.jitter->verdict = "stop";
  const std::regex colour("\x1b\\[([0-9;]*)m");
  for (const auto& line : screen_lines(progress, true)) {
    CHECK(line.ends_with("\x1b[0m"));
    for (std::sregex_iterator at(line.begin(), line.end(), colour), end; at != end; ++at) {
      const std::string code = (*at)[1];
      CHECK((code == "33" || code == "1;31" || code == "0"));
    }
  }
}

TEST_CASE("screen: without a terminal the same stands in one plain line") {
  CHECK(plain_line(dwelling()) ==
        "21 s  step 2/3 thin  dwelling  2998 of 3000 rpm  left 01:32  lid closed  "
        "once per turn: 0.42 ± 0.06 mrad  watch");
}

TEST_CASE("screen: a film's thickness stands large, with its point and its unit") {
  const auto rows = film_lines(micrometres(2.414), false);
  REQUIRE(rows.size() == 6);
  const auto figures = large("2.41");
  for (std::size_t i = 0; i < figures.size(); ++i)
    CHECK(rows[i] == figures[i]);
  CHECK(rows[5] == "um, dry");
  CHECK(large(".")[4] != large(".")[0]);
  for (const auto& row : film_lines(micrometres(2.414), true)) {
    CHECK(row.starts_with("\x1b[33m"));
    CHECK(row.ends_with("\x1b[0m"));
  }
}

TEST_CASE("screen: the live line says plainly that a plate is not watched, and why not") {
  session::Progress progress = dwelling();
  progress.jitter->limit = milliradians(4);
  progress.jitter->verdict = "cannot_tell";
  CHECK_THAT(plain_line(progress),
             Catch::Matchers::ContainsSubstring("cannot tell: nothing is stopped"));
  progress.jitter.reset();
  CHECK_THAT(plain_line(progress), Catch::Matchers::ContainsSubstring("not watched"));
}
