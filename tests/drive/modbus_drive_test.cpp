// A whole run on a Modbus drive: the real port, master, drive and run loop, libmodbus's server at
// the other end, and a motor that obeys its registers or does not.
#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "modbus_shop.hpp"
#include "tach_board.hpp"

#include <csignal>

using namespace whirler;
using namespace whirler::drive;
using namespace whirler::test;
using run::Ending;

TEST_CASE("modbus drive: a profile is run to its end on streamed ramps, and ends at rest") {
  Shop shop;
  const auto result = shop.run();
  CHECK(ending_of(result) == Ending::completed);
  CHECK(result.summary->standstill_seen);
  CHECK(result.summary->steps == 2);
  CHECK(shop.drive.top_rpm() == Approx(1500).epsilon(0.01));
  REQUIRE(result.summary->peak_error.has_value());
  CHECK(result.summary->peak_error->rpm() < 20);
  CHECK_FALSE(result.summary->has_tach);
  CHECK_FALSE(result.summary->clock_ratio.has_value()); // there is only one clock
  CHECK(shop.comes_to_rest());
  CHECK(shop.drive.direction() == 0);
  CHECK(shop.kept.reports > 30);
  // [math] 0.25 + 0.4 + 0.5 + 0.8 + 0.75 s of program.
  CHECK(result.summary->length.s() > 2.6);
  CHECK(result.summary->length.s() < 4.5);
}

TEST_CASE("modbus drive: the machine's direction is written to the drive") {
  Shop shop;
  shop.place.setup.counterclockwise = true;
  CHECK(ending_of(shop.run()) == Ending::completed);
  CHECK(shop.drive.direction() == 1);
}

TEST_CASE("modbus drive: a poor line and a shared bus cost no run") {
  Shop shop;
  int count = 0;
  shop.bridge.spoil([&count](Bytes reply) {
    ++count;
    if (count % 23 == 0)
      reply.back() ^= 0x10U; // a wrong CRC
    if (count % 29 == 0)
      return Bytes{};   // lost
    if (count % 7 == 0) // another unit's answer in front
      reply.insert(reply.begin(), {0x09, 0x03, 0x02, 0x12, 0x67, 0x14, 0xCE});
    return reply;
  });
  const auto result = shop.run();
  CHECK(ending_of(result) == Ending::completed);
  CHECK(shop.drive.fault() == 0);
}

TEST_CASE("modbus drive: one that trips in the middle of a ramp ends the run by its own words") {
  Shop shop;
  shop.drive.habits.trips_at_rpm = 900;
  const auto result = shop.run();
  CHECK(ending_of(result) == Ending::drive_fault);
  CHECK_THAT(result.summary->cause, Catch::Matchers::ContainsSubstring("over current"));
  CHECK(result.summary->steps == 2);
  CHECK(result.summary->standstill_seen);
  CHECK(shop.drive.top_rpm() < 1100);
  CHECK(shop.comes_to_rest());
}

TEST_CASE("modbus drive: a shaft that does not turn is a stall") {
  Shop shop;
  shop.drive.habits.stuck = true;
  shop.order.plan.profile.steps[1].dwell = seconds(4);
  CHECK(ending_of(shop.run()) == Ending::stall);
  CHECK(shop.comes_to_rest());
}

TEST_CASE("modbus drive: Ctrl-C runs the stop ramp, a second one takes the run word away") {
  Shop shop;
  shop.order.plan.profile.steps[1].dwell = seconds(20);
  const auto stopped = shop.run(once(1.6, [] { std::raise(SIGINT); }));
  CHECK(ending_of(stopped) == Ending::operator_stop);
  CHECK(stopped.summary->standstill_seen);
  CHECK(shop.comes_to_rest());
  Shop second;
  second.order.plan.profile.steps[1].dwell = seconds(20);
  second.order.plan.profile.stop_ramp = rpm_per_s(100); // 15 s, were it not cut
  auto again = once(1.8, [] { std::raise(SIGINT); });
  const auto cut =
      second.run([first = once(1.6, [] { std::raise(SIGINT); }), again](double now) mutable {
        first(now);
        again(now);
      });
  CHECK(ending_of(cut) == Ending::operator_stop);
  CHECK(cut.summary->length.s() < 5.0);
  CHECK(second.comes_to_rest());
}

TEST_CASE("modbus drive: a line that goes dead ends the run, and the drive stops by itself") {
  Shop shop;
  shop.order.plan.profile.steps[1].dwell = seconds(20);
  const auto result =
      shop.run(once(1.6, [&] { shop.bridge.spoil([](Bytes) { return Bytes{}; }); }));
  CHECK(ending_of(result) == Ending::link_lost);
  CHECK_FALSE(result.summary->standstill_seen);
  CHECK(shop.comes_to_rest());
}

TEST_CASE("modbus drive: with a guessed speed a cut shows no standstill, a stop ramp does") {
  Shop shop;
  shop.place.setup.description = plain_drive(modbus::SpeedSource::estimate);
  const auto result = shop.run();
  CHECK(ending_of(result) == Ending::completed);
  CHECK(result.summary->standstill_seen);
}

TEST_CASE("modbus drive: a set-up that the drive refuses starts nothing, and says which register") {
  Shop shop;
  shop.drive.habits.refuses_register = 1; // the direction
  const auto result = shop.run();
  REQUIRE_FALSE(result.faults.empty());
  CHECK_THAT(to_text(result.faults.front()), Catch::Matchers::ContainsSubstring("register 1"));
  CHECK(shop.drive.top_rpm() == 0.0);
}

TEST_CASE("modbus drive: limits of the drive's file refuse a profile with both numbers") {
  Shop shop;
  shop.place.setup.description.limits.speed = rpm(1200);
  const auto result = shop.run();
  CHECK_FALSE(result.summary.has_value());
  REQUIRE_FALSE(result.faults.empty());
  CHECK_THAT(to_text(result.faults.front()), Catch::Matchers::ContainsSubstring("1200 rpm"));
}

TEST_CASE("modbus drive: nobody at the port is a lost link, not a run") {
  Shop shop;
  shop.place.setup.unit = 9;
  shop.order.patience = seconds(0.3);
  const auto result = shop.run();
  CHECK_FALSE(result.summary.has_value());
  REQUIRE_FALSE(result.faults.empty());
  CHECK(result.faults.front().kind == FaultKind::link);
}

TEST_CASE("modbus drive: a drive that stops when told, and in silence, is proven") {
  Shop shop;
  const auto proof = prove(shop);
  if (!proof)
    UNSCOPED_INFO(to_text(proof.fault()));
  REQUIRE(proof.ok());
  CHECK(proof->stop_to_rest.s() > 0.05); // [math] 300 rpm at 4000 rpm/s; and five readings
  CHECK(proof->stop_to_rest.s() < 2.0);
  CHECK(proof->before.rpm() == Approx(300).epsilon(0.05));
  CHECK(proof->silence.s() >= 0.75); // the drive's 0.5 s and a slack
  CHECK(proof->after.rpm() < 30);
  CHECK(shop.drive.fault() == 0x10);
  CHECK(shop.comes_to_rest());
}

TEST_CASE("modbus drive: one that keeps turning in silence is found out, and cut") {
  Shop shop;
  shop.drive.habits.has_dead_man = false;
  const auto proof = prove(shop);
  REQUIRE_FALSE(proof.ok());
  CHECK(proof.fault().kind == FaultKind::ended_early);
  CHECK_THAT(proof.fault().what, Catch::Matchers::ContainsSubstring("kept turning at 300 rpm"));
  CHECK(shop.comes_to_rest());
}

TEST_CASE(
    "modbus drive: one that does not obey its stop is found out before its silence is tried") {
  Shop shop;
  shop.drive.habits.obeys_stop = false;
  shop.place.setup.description.reply_within =
      milliseconds(200); // seconds on end on a busy computer
  const auto proof = prove(shop);
  REQUIRE_FALSE(proof.ok());
  CHECK(proof.fault().kind == FaultKind::ended_early);
  CHECK_THAT(proof.fault().what, Catch::Matchers::ContainsSubstring("kept turning at 300 rpm") &&
                                     Catch::Matchers::ContainsSubstring("\"stop\" was written"));
  CHECK(shop.drive.fault() == 0); // it was never silent for long
}

TEST_CASE("modbus drive: a program that dies in the middle leaves the motor off") {
  Shop shop;
  {
    boost::asio::io_context io;
    Deaf deaf;
    auto drive = open_modbus(io, shop.place, 1);
    REQUIRE(drive.ok());
    REQUIRE((*drive)->greet(deaf, seconds(2), {}).ok());
    Program program;
    program.segments = {{rpm(1000), rpm_per_s(5000), seconds(60)}};
    program.stop_slope = rpm_per_s(1000);
    program.ceiling = rpm(2000);
    REQUIRE((*drive)->start_program(program).ok());
    const auto begin = TestClock::now();
    while (shop.drive.speed_rpm() < 10 && seconds_since(begin) < 3.0) {
      io.restart();
      io.run_one_until(TestClock::now() + std::chrono::milliseconds(5));
      (*drive)->keep_alive();
    }
    CHECK(shop.drive.speed_rpm() >= 10);
  }
  CHECK(shop.comes_to_rest());
}

TEST_CASE("modbus drive: marks counted by a board beside it give pulses, and standstill") {
  Shop shop;
  TachBoard board([&] { return shop.drive.speed_rpm(); });
  shop.place.tach_port = board.port();
  shop.order.plan.machine.tach.marks_per_turn = TachBoard::kMarks;
  shop.order.spinner.marks_per_turn = TachBoard::kMarks;
  const auto result = shop.run();
  CHECK(ending_of(result) == Ending::completed);
  CHECK(result.summary->has_tach);
  CHECK(result.summary->standstill_seen);
  CHECK(result.summary->pulses_lost == 0);
  // [math] 6 marks x turns: (0.25 s x 250 + 0.4 x 500 + 0.5 x 1000 + 0.8 x 1500 + 0.75 x 750)/60,
  // less what a drive that follows in steps of a cycle is late.
  CHECK(static_cast<double>(result.summary->pulses) == Approx(6 * 2525 / 60.0).epsilon(0.08));
  CHECK(result.summary->top_speed.rpm() == Approx(1500).epsilon(0.03));
}

TEST_CASE("modbus drive: marks that stop while the drive says that it turns end the run") {
  Shop shop;
  TachBoard board([&] { return shop.drive.speed_rpm(); });
  shop.place.tach_port = board.port();
  shop.order.plan.machine.tach.marks_per_turn = TachBoard::kMarks;
  shop.order.spinner.marks_per_turn = TachBoard::kMarks;
  shop.order.plan.profile.steps[1].dwell = seconds(20);
  const auto result = shop.run(once(1.2, [&] { board.blind = true; }));
  CHECK(ending_of(result) == Ending::tach_lost);
  CHECK(shop.comes_to_rest());
}

TEST_CASE(
    "modbus drive: a board that could turn a motor is no tach, and a wrong count is refused") {
  Shop shop;
  TachBoard driver([] { return 0.0; }, false);
  shop.place.tach_port = driver.port();
  auto refused = shop.run();
  REQUIRE_FALSE(refused.faults.empty());
  CHECK_THAT(refused.faults.front().what, Catch::Matchers::ContainsSubstring("no tach only"));
  TachBoard board([] { return 0.0; });
  shop.place.tach_port = board.port();
  shop.order.plan.machine.tach.marks_per_turn = 5;
  refused = shop.run();
  REQUIRE_FALSE(refused.faults.empty());
  CHECK_THAT(refused.faults.front().what, Catch::Matchers::ContainsSubstring("marks a turn"));
}
