// What the driver does not do, and the numbers that it says with it.
#include "catch.hpp"
#include "scripted_host.hpp"

using namespace whirler;
using namespace whirler::plant;
using link::DriverState;
using link::Latch;
using link::Nak;
using link::NakCode;

namespace {

ScriptedHost ready(const Setup& setup = plain_setup()) {
  ScriptedHost host(setup);
  REQUIRE(host.greet());
  REQUIRE(host.accepts(link::Clear{}));
  return host;
}

void refuses(ScriptedHost& host, const link::HostMessage& message, NakCode code,
             std::uint32_t asked = 0, std::uint32_t allowed = 0) {
  const auto nak = host.refusal(message);
  REQUIRE(nak.has_value());
  CAPTURE(to_text(*nak));
  CHECK(nak->code == code);
  CHECK(nak->asked == asked);
  CHECK(nak->allowed == allowed);
  CHECK_FALSE(host.turning());
}

} // namespace

TEST_CASE("a driver says nothing before it is greeted, and refuses all but the greeting") {
  ScriptedHost host(plain_setup());
  host.wait(seconds(1));
  CHECK(host.reports.empty());
  refuses(host, link::Clear{}, NakCode::no_hello);
  refuses(host, segment(0, 1000, 1000, 1), NakCode::no_hello);
  refuses(host, Program{}.start(), NakCode::no_hello);
  CHECK(host.greet());
  CHECK(host.hello->nonce == 4711);
  host.wait(milliseconds(100));
  CHECK(host.reports.size() >= 4);
  CHECK(host.reports.back().latch == Latch::power_up);
}

TEST_CASE("another protocol version is answered with both ranges, and then refused") {
  Setup setup = plain_setup();
  setup.controller.driver.protocol_min = 2;
  setup.controller.driver.protocol_max = 4;
  ScriptedHost host(setup);
  REQUIRE(host.greet());
  CHECK(host.hello->protocol_min == 2);
  CHECK(host.hello->protocol_max == 4);
  refuses(host, link::Clear{}, NakCode::no_hello);
  host.wait(seconds(1));
  CHECK(host.reports.empty());
  CHECK(host.ask(link::Hello{1, 3, 8}).has_value()); // a host that speaks one of them
  CHECK(host.accepts(link::Clear{}));
}

TEST_CASE("a segment outside the driver's limits is refused with both numbers") {
  auto host = ready();
  refuses(host, segment(0, 6000.001, 1000, 1), NakCode::speed_high, 6000001, 6000000);
  refuses(host, segment(0, 199.999, 1000, 1), NakCode::speed_low, 199999, 200000);
  refuses(host, segment(0, 0, 1000, 1), NakCode::speed_low, 0, 200000);
  refuses(host, segment(0, 1000, 3000.5, 1), NakCode::slope_high, 3000500, 3000000);
  refuses(host, segment(0, 1000, 0, 1), NakCode::slope_zero);
  refuses(host, segment(32, 1000, 1000, 1), NakCode::bad_index, 32, 31);
  CHECK(host.accepts(segment(31, 6000, 3000, 0)));
  CHECK(host.accepts(segment(0, 200, 0.001, 1e6)));
}

TEST_CASE("a start that does not fit what the driver holds is refused") {
  auto host = ready();
  Program program;
  program.segments = {segment(0, 1000, 1000, 1), segment(1, 3000, 1000, 1)};
  refuses(host, program.start(), NakCode::segment_missing, 0);
  CHECK(host.accepts(program.segments[0]));
  refuses(host, program.start(), NakCode::segment_missing, 1);
  CHECK(host.accepts(program.segments[1]));
  auto start = program.start();
  start.segments = 0;
  refuses(host, start, NakCode::no_segments);
  start.segments = 33;
  refuses(host, start, NakCode::too_many_segments, 33, 32);
  start = program.start();
  start.program_crc ^= 1;
  refuses(host, start, NakCode::program_differs, start.program_crc, start.program_crc ^ 1);
  start = program.start();
  start.ceiling = rpm(2999);
  refuses(host, start, NakCode::speed_high, 3000000, 2999000);
  start = program.start();
  start.stop_slope = rpm_per_s(0);
  refuses(host, start, NakCode::slope_zero);
  start.stop_slope = rpm_per_s(3001);
  refuses(host, start, NakCode::slope_high, 3001000, 3000000);
  start = program.start();
  start.token = 0;
  refuses(host, start, NakCode::token_used);
  CHECK(host.accepts(program.start()));
  CHECK(host.turning());
}

TEST_CASE("a lost or old segment never acts: the program's CRC tells") {
  auto host = ready();
  Program wanted;
  wanted.segments = {segment(0, 1000, 1000, 1), segment(1, 2000, 1000, 1)};
  CHECK(host.upload(wanted));
  CHECK(host.accepts(segment(1, 5000, 1000, 1))); // somebody else's, or an older one
  const auto nak = host.refusal(wanted.start());
  REQUIRE(nak.has_value());
  CHECK(nak->code == NakCode::program_differs);
  CHECK_FALSE(host.turning());
}

TEST_CASE("clear empties the program") {
  auto host = ready();
  CHECK(host.upload({}));
  host.stop(link::StopKind::stop); // back to latched
  host.wait(milliseconds(50));
  CHECK(host.reports.back().latch == Latch::operator_stop);
  CHECK(host.wait_until([&] { return host.reports.back().still; }, seconds(3)));
  CHECK(host.accepts(link::Clear{}));
  refuses(host, Program{}.start(), NakCode::segment_missing, 0);
}

TEST_CASE("an open lid refuses clear and start, and opening it when ready latches") {
  ScriptedHost open(plain_setup("lid@0s"));
  REQUIRE(open.greet());
  open.wait(milliseconds(30));
  CHECK(open.reports.back().lid == link::LidState::open);
  refuses(open, link::Clear{}, NakCode::lid_open);

  MotorController controller({plain_setup().controller}, Latch::power_up);
  controller.hello(true);
  controller.advance(seconds(10), 20000000);
  CHECK_FALSE(controller.clear().has_value());
  CHECK(controller.state() == DriverState::ready);
  controller.lid(true);
  CHECK(controller.state() == DriverState::latched);
  CHECK(controller.latch() == Latch::lid_open);
}

TEST_CASE("without a lid switch a start needs a person's word; with one no word overrules it") {
  auto machine = plain_machine();
  machine.lid = machine::Lid::none;
  auto host = ready(make_setup(machine, std::nullopt).value());
  CHECK_FALSE(host.hello->lid_switch);
  Program program;
  CHECK(host.upload(program));
  refuses(host, program.start(), NakCode::lid_unknown);
  program.lid_confirmed = true;
  CHECK(host.accepts(program.start()));
  CHECK(host.reports.back().lid == link::LidState::no_switch);
}

TEST_CASE("while it turns, a driver takes no program, no clear and no other start") {
  ScriptedHost host(plain_setup());
  Program program;
  REQUIRE(host.begin(program));
  host.wait(seconds(1));
  CHECK(host.refusal(link::Clear{})->code == NakCode::turning);
  CHECK(host.refusal(segment(0, 5000, 1000, 1))->code == NakCode::bad_state);
  CHECK(host.accepts(program.start())); // the same start again is only heard again
  program.token = 5;
  CHECK(host.refusal(program.start())->code == NakCode::bad_state);
  CHECK(host.turning());
  CHECK(host.reports.back().token == 77);
}

TEST_CASE("a clear before standstill is refused") {
  ScriptedHost host(plain_setup());
  REQUIRE(host.begin({}));
  host.wait(seconds(3));
  host.stop(link::StopKind::cut);
  host.wait(milliseconds(100));
  CHECK(host.refusal(link::Clear{})->code == NakCode::turning);
  CHECK(host.driver.truth().speed > rpm(1000));
}

TEST_CASE("a start cannot be used twice") {
  ScriptedHost host(plain_setup());
  Program program;
  program.segments = {segment(0, 500, 3000, 0.1)};
  REQUIRE(host.begin(program));
  REQUIRE(host.wait_until([&] { return host.reports.back().still; }, seconds(30)));
  CHECK(host.accepts(link::Clear{}));
  CHECK(host.upload(program));
  refuses(host, program.start(), NakCode::token_used);
  program.token = 78;
  CHECK(host.accepts(program.start()));
}

TEST_CASE("a driver that is ready falls back to latched when another host says hello") {
  auto host = ready();
  CHECK(host.greet());
  CHECK(host.driver.truth().state == DriverState::latched);
  CHECK(host.driver.truth().latch == Latch::new_host);
  refuses(host, segment(0, 1000, 1000, 1), NakCode::bad_state);
}

TEST_CASE("a driver that only counts pulses turns nothing") {
  Setup setup = plain_setup();
  setup.controller.driver.tach_only = true;
  auto host = ready(setup);
  CHECK(host.hello->tach_only);
  refuses(host, segment(0, 1000, 1000, 1), NakCode::tach_only);
  refuses(host, Program{}.start(), NakCode::tach_only);
}

TEST_CASE("a message of unknown type or wrong length is refused by its number") {
  auto host = ready();
  const auto answer_to = [&](std::uint8_t type, std::size_t size) {
    const std::size_t before = host.naks.size();
    host.say_raw(link::encode_frame(type, 200, std::vector<std::uint8_t>(size)));
    host.wait(milliseconds(1));
    REQUIRE(host.naks.size() == before + 1);
    return host.naks.back();
  };
  CHECK(answer_to(0x44, 3) == Nak{0x44, 200, NakCode::unknown_type, 0, 0});
  CHECK(answer_to(0x03, 12) == Nak{0x03, 200, NakCode::bad_length, 12, 13});
  CHECK(answer_to(0x04, 19) == Nak{0x04, 200, NakCode::bad_length, 19, 18});
  CHECK(answer_to(0x02, 1) == Nak{0x02, 200, NakCode::bad_length, 1, 0});
}

TEST_CASE("a slow driver answers late, in order, and all of it") {
  ScriptedHost host(plain_setup("slow=120@0s"));
  const Duration began = host.driver.truth().at;
  REQUIRE(host.greet());
  CHECK((host.driver.truth().at - began).ms() >= 120);
  REQUIRE(host.accepts(link::Clear{}));
  host.wait(seconds(1));
  for (std::size_t i = 1; i < host.reports.size(); ++i)
    REQUIRE(host.reports[i].report == static_cast<std::uint16_t>(host.reports[i - 1].report + 1));
}

TEST_CASE("a driver that sends noise makes no message of it") {
  ScriptedHost host(plain_setup("garbage@0s"));
  CHECK_FALSE(host.greet());
  CHECK(host.reports.empty());
  CHECK(host.decoder.discarded() > 10);
}

TEST_CASE("a machine that cannot be simulated is refused with its reason") {
  auto machine = plain_machine();
  machine.tach.marks_per_turn = 0;
  CHECK_FALSE(make_setup(machine, std::nullopt).ok());
  machine = plain_machine();
  machine.limits.speed = rpm(0);
  CHECK_FALSE(make_setup(machine, std::nullopt).ok());
  blank::Blank nothing;
  nothing.outline = blank::Disc{millimetres(-3)};
  CHECK_FALSE(make_setup(plain_machine(), nothing).ok());
}
