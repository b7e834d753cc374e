// Runs that are kept by the clock, or refused, whatever the line and the drive take.
#include "modbus_shop.hpp"

#include "whirler/modbus/cycle_time.hpp"

using namespace whirler;
using namespace whirler::test;
using run::Ending;

namespace {

/// Holds every answer back, from the drive's motor being so fast on.
Bridge::Spoil held_back(Shop& shop, int ms, double from_rpm) {
  return [&shop, ms, from_rpm](Bytes reply) {
    if (shop.drive.speed_rpm() >= from_rpm)
      std::this_thread::sleep_for(std::chrono::milliseconds(ms)); // the drive's own answer delay
    return reply;
  };
}

/// How long the second step was shown to dwell.
double dwelt_s(const Shop& shop) {
  std::optional<double> from;
  double to = 0.0;
  for (const auto& shown : shop.shown)
    if (shown.state == run::State::dwelling && shown.step == 2) {
      from = from.value_or(shown.elapsed.s());
      to = shown.elapsed.s();
    }
  REQUIRE(from.has_value());
  return to - *from;
}

} // namespace

TEST_CASE(
    "modbus drive: a dwell lasts as long as the clock says, however slowly the drive answers") {
  Shop shop;
  shop.place.setup.description.reply_within = milliseconds(300);
  shop.order.plan.profile.steps[1].dwell = seconds(3);
  shop.bridge.spoil(held_back(shop, 90, 1450)); // [math] four answers: a cycle of 0.37 s at least
  CHECK(ending_of(shop.run()) == Ending::completed);
  // Counted by 0.25 s a cycle it would be 4.4 s and more.
  CHECK(dwelt_s(shop) < 3.5);
  CHECK(dwelt_s(shop) > 2.0);
}

TEST_CASE(
    "modbus drive: one that answers too slowly for a streamed ramp is refused, with figures") {
  Shop shop;
  shop.place.setup.description.reply_within = milliseconds(300);
  shop.bridge.spoil(held_back(shop, 90, 0));
  const auto result = shop.run();
  CHECK_FALSE(result.summary.has_value());
  REQUIRE_FALSE(result.faults.empty());
  CHECK(result.faults.front().kind == FaultKind::input);
  const auto said = to_text(result.faults.front());
  CHECK_THAT(said, Catch::Matchers::ContainsSubstring("at most 250 ms is allowed"));
  CHECK_THAT(said, Catch::Matchers::ContainsSubstring("19200 baud"));
  CHECK_THAT(said, Catch::Matchers::ContainsSubstring("shorten the answer delay"));
  CHECK(shop.drive.top_rpm() == 0.0);
}

TEST_CASE("modbus drive: a line too slow for a run is refused before anything turns") {
  Shop shop;
  shop.place.line.baud = 1200;
  const auto result = shop.run();
  CHECK_FALSE(result.summary.has_value());
  REQUIRE_FALSE(result.faults.empty());
  CHECK_THAT(to_text(result.faults.front()), Catch::Matchers::ContainsSubstring("raise \"baud\""));
  CHECK(shop.drive.top_rpm() == 0.0);
}

TEST_CASE("modbus drive: a cycle that is long and allowed is a caution of the record") {
  Shop shop;
  shop.place.line.baud = 4800;
  const auto result = shop.run();
  REQUIRE(result.identity.has_value());
  const auto& cautions = result.identity->cautions;
  CHECK(std::any_of(cautions.begin(), cautions.end(), [](const std::string& caution) {
    return caution.find("a cycle (target told") != std::string::npos;
  }));
}

TEST_CASE("modbus cycle: what the line takes of it, by hand") {
  // [math] 8E1 is 11 bits. Writing one register 8 + 8 characters, reading one 8 + 7, three of
  // those; before each frame a silence of 3.5 characters: 16 + 45 + 8 x 3.5 = 89 characters.
  auto drive = plain_drive();
  CHECK(modbus::line_time_of_cycle(drive, {19200, Parity::even, 1}).ms() ==
        Approx(89 * 11 / 19.2).epsilon(1e-6));
  drive.running->cell = drive.fault.cell; // one word says both
  CHECK(modbus::line_time_of_cycle(drive, {19200, Parity::even, 1}).ms() ==
        Approx(67 * 11 / 19.2).epsilon(1e-6));
  CHECK(modbus::enough_baud(drive, {1200, Parity::even, 1}, milliseconds(0)) == 4800);
  CHECK_FALSE(modbus::enough_baud(drive, {1200, Parity::even, 1}, milliseconds(260)).has_value());
}
