// Every fault, done to the firmware on the emulated chip, and timed on the chip's own clock from
// the fault to the enable output's low. The table is printed: it is the measurement.
//
// Interrupt entry costs nothing on the emulator and 4 cycles (0.25 us) on the chip.
#include "catch.hpp"

#include "fault_table.hpp"
#include "figures.hpp"

namespace {

void check_group(const std::string& group, int runs) {
  bench::Figures figures("faults_of_" + group);
  for (const auto& fault : bench::fault_cases(group))
    for (const auto moment : fault.moments) {
      const auto outcome = bench::measure(fault, moment, runs);
      figures.line(bench::to_text(outcome));
      CAPTURE(outcome.fault, bench::name(moment), outcome.worst_ms);
      CHECK(outcome.worst_ms >= 0.0);
      CHECK(outcome.worst_ms <= outcome.bound_ms);
      CAPTURE(whirler::link::to_text(outcome.named));
      CHECK(bench::names(outcome.named, outcome.expected));
      CHECK(outcome.stayed_off);
    }
}

} // namespace

TEST_CASE("the lid takes the motor off within a millisecond in every phase", "[faults_of_lid]") {
  check_group("lid", 3);
}

TEST_CASE("the cut sequence takes the motor off within a millisecond", "[faults_of_stop]") {
  check_group("stop", 3);
}

TEST_CASE("a lost host takes the motor off within 250 ms and one frame", "[faults_of_link]") {
  check_group("link", 2);
}

TEST_CASE("a tach that fails or lies takes the motor off", "[faults_of_tach]") {
  check_group("tach", 3);
}

TEST_CASE("supply, emergency stop and hanging firmware take the motor off", "[faults_of_power]") {
  check_group("power", 1);
  check_group("slow", 1);
}
