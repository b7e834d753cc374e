// Every fault with the real program `whirler run` as the client, over a pseudo-terminal. The table
// is the measurement: times in the chip's own time, the speed of the simulated rotor itself.
#include "catch.hpp"

#include "chain_faults.hpp"
#include "figures.hpp"

namespace {

using namespace bench;
namespace link = whirler::link;

/// A whole run on the build that a builder gets, without a fault. The heavy plate is given a ramp
/// that its motor can follow (100 mN m).
ChainCase whole_run(double inertia, const std::string& ramp) {
  ChainCase made;
  made.fault = "a whole run";
  made.moment = Moment::ready;
  made.bound_ms = 0.0;
  made.latches = {link::Latch::done};
  made.outcomes = {"done"};
  made.model.inertia = whirler::kg_m2(inertia);
  made.top_rpm = 1500.0 * 1.02;
  made.files.profile = R"({"kind":"profile","format":1,"name":"two steps","steps":[
    {"speed_rpm":500,"ramp_rpm_s":500,"dwell_s":1},
    {"speed_rpm":1500,"ramp_rpm_s":)" +
                       ramp + R"(,"dwell_s":2}],"stop":{"ramp_rpm_s":1500}})";
  return made;
}

std::vector<ChainCase> all_cases() {
  std::vector<ChainCase> cases{whole_run(1.4e-4, "1500"), whole_run(7e-4, "1000")};
  for (auto& fault : chain_cases())
    cases.push_back(std::move(fault));
  return cases;
}

} // namespace

TEST_CASE("each fault of the whole chain ends with the motor off, in time and for good; without "
          "one a light and a heavy plate are spun to the end",
          "[chain]") {
  Figures figures("whole_chain");
  const auto outcomes = run_chain(WHIRLER_PROGRAM, all_cases());
  for (const ChainOutcome& outcome : outcomes) {
    figures.line(to_text(outcome));
    CAPTURE(to_text(outcome), outcome.late_ms);
    CHECK(holds(outcome));
  }
  for (std::size_t whole = 0; whole < 2; ++whole) {
    const HostAnswer& answer = outcomes[whole].answer;
    CAPTURE(whole);
    CHECK(answer.pulses_lost == 0);
    CHECK(answer.peak_error_rpm >= 0.0);
    CHECK(answer.peak_error_rpm < 15.0); // 1 % of a turn's speed, marks being uneven
  }
}
