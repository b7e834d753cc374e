// The real program runs a profile on the driver in Python: two programs that share nothing but the
// protocol's page.
#include "catch.hpp"
#include "host_program.hpp"
#include "peer_wire.hpp"

#include "whirler/link/frame.hpp"
#include "whirler/link/messages.hpp"

#include <csignal>

namespace {

namespace link = whirler::link;
using whirler::milliseconds;
using whirler::seconds;

constexpr const char* kProfile = R"({"kind":"profile","format":1,"name":"two steps","steps":[
  {"speed_rpm":500,"ramp_rpm_s":1000,"dwell_s":0.5},
  {"speed_rpm":1500,"ramp_rpm_s":2000,"dwell_s":0.5}],"stop":{"ramp_rpm_s":2000}})";

std::string machine(const std::string& port) {
  return R"({"kind":"machine","format":1,"name":"peer","drive":{"type":"link","port":")" + port +
         R"("},"direction":"cw","tach":{"marks_per_turn":4,"mark_radius_mm":15,"index":true,
    "sensor_on":"ground"},"lid":"switch","air":"open","limits":{"speed_rpm":5000,"speed_min_rpm":200,
    "ramp_rpm_s":2500},"rotor":{"mass_g":300,"inertia_kg_m2":1e-4}})";
}

/// The two programs, and this one in the middle, which hears what the driver says.
class Run {
 public:
  Run()
      : host_({WHIRLER_PROGRAM, "run", folder_.write("profile.json", kProfile), "--machine",
               folder_.write("machine.json", machine(near_host_.path())), "--notebook",
               folder_.path() + "/notebook.db", "--json"},
              folder_.path()) {}

  void pass() {
    wire.send(near_host_.read());
    const auto said = wire.pass(milliseconds(1.0));
    near_host_.write(said);
    decoder_.feed(said, [this](const link::Frame& frame) {
      const auto message = link::decode_driver(frame);
      if (const auto* good = std::get_if<link::DriverMessage>(&message))
        if (const auto* status = std::get_if<link::Status>(good))
          last = *status;
    });
  }
  bool pass_until(const std::function<bool()>& wanted) {
    const auto end = wire.now() + seconds(20.0);
    while (!wanted() && wire.now() < end)
      pass();
    return wanted();
  }
  bool dwells() {
    return pass_until([this] { return last.phase == link::Phase::dwell; });
  }
  int status() {
    return pass_until([this] { return host_.ended().has_value(); }) ? *host_.ended() : -1;
  }
  bool says(const std::string& outcome) {
    return host_.answer().find("\"outcome\": \"" + outcome + "\"") != std::string::npos;
  }

  PeerWire wire;
  link::Status last;

 private:
  RawTerminal near_host_;
  bench::ScratchFolder folder_;
  link::Decoder decoder_;

 public:
  bench::HostProgram host_;
};

} // namespace

TEST_CASE("the program runs a profile to its end on the driver in Python", "[peer_run]") {
  Run run;
  CHECK(run.status() == 0);
  CHECK(run.says("done"));
  CHECK(run.last.latch == link::Latch::done);
  CHECK_FALSE(run.last.enabled);
}

TEST_CASE("its lid ends the run, for the driver and for the program", "[peer_run]") {
  Run run;
  REQUIRE(run.dwells());
  run.wire.lid(true);
  CHECK(run.status() == 5);
  CHECK(run.says("lid"));
  CHECK(run.last.latch == link::Latch::lid_open);
}

TEST_CASE("the program killed, the driver in Python stops by itself", "[peer_run]") {
  Run run;
  REQUIRE(run.dwells());
  run.host_.signal(SIGKILL);
  const auto killed = run.wire.now();
  REQUIRE(run.pass_until([&run] { return run.last.state == link::DriverState::latched; }));
  CHECK((run.wire.now() - killed).ms() < 300.0);
  CHECK(run.last.latch == link::Latch::link_lost);
}
