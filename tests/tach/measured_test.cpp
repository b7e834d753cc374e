// Measured records of real shafts, where they are at hand.
#include "catch.hpp"
#include "whirler/tach/recording.hpp"

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

using namespace whirler;
using namespace whirler::tach;

namespace {

const std::string kFolder = std::string(WHIRLER_SOURCE_DIR) + "/../shared/data/";

/// Second column of a table with a header, nothing where there is no such file.
std::vector<double> second_column(const std::string& path) {
  std::ifstream file(path);
  std::vector<double> out;
  std::string line;
  std::getline(file, line);
  while (std::getline(file, line)) {
    const auto comma = line.find(',');
    if (comma != std::string::npos)
      out.push_back(std::stod(line.substr(comma + 1)));
  }
  return out;
}

} // namespace

TEST_CASE("measured: a healthy shaft's turn times raise no flag") {
  // 790 turns of a real shaft, one mark a turn, 956 to 1327 to 958 rpm (Bladesight's tutorial data,
  // MIT licence).
  const auto periods = second_column(kFolder + "run_up_and_down_periods.csv");
  if (periods.empty()) {
    WARN("skipped: ../shared/data/run_up_and_down_periods.csv is not here");
    return;
  }
  REQUIRE(periods.size() == 790);
  PulseTrain train;
  train.tick = seconds(1e-9);
  double at = 0.0;
  train.ticks.push_back(0);
  for (const double period : periods) {
    at += period;
    train.ticks.push_back(std::llround(at / 1e-9));
  }
  Recording recording;
  recording.pulses = train;
  recording.model.marks_per_turn = 1;
  recording.model.limits.watch_angle = milliradians(0.5);
  recording.model.limits.stop_angle = milliradians(1.0);
  const auto one = analyse(recording);
  REQUIRE(one.ok());
  CHECK(one->judgement.verdict == Verdict::cannot_tell);
  CHECK(one->figure.counts.faults() == 0);
  CHECK(one->figure.counts.breaks == 0);
  CHECK(one->figure.speed.rpm() > 1200); // its fastest part
  CHECK(one->figure.speed.rpm() < 1328);
  for (const Finding& finding : one->findings) {
    CHECK(finding.cause != Cause::off_centre);
    CHECK(finding.cause != Cause::dropped_pulses);
    CHECK(finding.cause != Cause::loose_plate);
    CHECK(finding.cause != Cause::hunting);
  }
  // Read as if there were more marks a turn it is a slower ramp with real irregularity: no missed
  // marks, and no plate is called off its centre.
  for (int marks = 2; marks <= 6; ++marks) {
    CAPTURE(marks);
    recording.model.marks_per_turn = marks;
    const auto more = analyse(recording);
    REQUIRE(more.ok());
    CHECK(more->figure.counts.faults() == 0);
    CHECK(more->judgement.verdict == Verdict::cannot_tell);
  }
}
