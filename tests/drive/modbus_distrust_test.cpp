// What is not believed: a program that was away, a stop that the drive only acknowledges, a speed
// that is not what was asked for, a dead-man that lets the motor start again.
#include "modbus_shop.hpp"

#include <csignal>

using namespace whirler;
using namespace whirler::test;
using Catch::Matchers::ContainsSubstring;
using run::Ending;

namespace {

/// Keeps the loop from running: what a stopped process or a sleeping laptop does.
std::function<void(double)> away(double after, int ms) {
  return once(after, [ms] { usleep(static_cast<useconds_t>(1000 * ms)); });
}

std::string told(const Result<drive::DeadManProof>& proof) {
  return proof ? std::string("proven") : to_text(proof.fault());
}

} // namespace

TEST_CASE("modbus drive: a program that did not run for a second ends the run, dead-man or none") {
  Shop shop;
  shop.place.setup.description.dead_man.reset();
  shop.order.plan.profile.steps[1].dwell = seconds(4);
  const auto result = shop.run(away(1.6, 1500));
  CHECK(ending_of(result) == Ending::link_lost);
  CHECK_THAT(result.summary->cause, ContainsSubstring("did not run for 1.5"));
  CHECK(result.summary->standstill_seen);
  CHECK(shop.comes_to_rest());
}

TEST_CASE("modbus drive: a silence past the dead-man ends the run, though the drive starts again") {
  Shop shop;
  shop.drive.habits.restarts = true;
  shop.order.plan.profile.steps[1].dwell = seconds(4);
  const auto result = shop.run(away(1.6, 750));
  CHECK(ending_of(result) == Ending::link_lost);
  CHECK_THAT(result.summary->cause, ContainsSubstring("longer than its own time-out (0.5 s)"));
  CHECK(shop.comes_to_rest());
}

TEST_CASE("modbus drive: a stop that was only acknowledged is no good end") {
  Shop shop;
  shop.drive.habits.lets_go = false;
  const auto result = shop.run();
  CHECK(ending_of(result) == Ending::drive_fault);
  CHECK_THAT(result.summary->cause, ContainsSubstring("still says it is running"));
  CHECK(result.summary->length.s() < 12);
  CHECK_FALSE(shop.drive.running());
}

TEST_CASE("modbus drive: after Ctrl-C, too, the drive's own word for running is read") {
  Shop shop;
  shop.drive.habits.lets_go = false;
  shop.order.plan.profile.steps[1].dwell = seconds(20);
  const auto result = shop.run(once(1.6, [] { std::raise(SIGINT); }));
  CHECK(ending_of(result) == Ending::operator_stop);
  CHECK_THAT(result.summary->cause, ContainsSubstring("still says it is running"));
}

TEST_CASE("modbus drive: a shaft that runs ahead of its ramp is too fast, and cut on the ramp") {
  Shop shop;
  shop.drive.habits.gain = 2.0;
  shop.order.plan.profile.steps = {{"spread", rpm(1200), rpm_per_s(400), seconds(1)}};
  const auto result = shop.run();
  CHECK(ending_of(result) == Ending::overspeed);
  CHECK_THAT(result.summary->cause, ContainsSubstring("too fast"));
  // [math] over 1.2 x the ramp's point + 200 rpm from 250 rpm of it on; half a second on it is 450.
  CHECK(shop.drive.top_rpm() < 1200);
}

TEST_CASE("modbus drive: with a guessed speed and no tach a cut ends soon, and says what it saw") {
  Shop shop;
  shop.place.setup.description = plain_drive(modbus::SpeedSource::estimate);
  shop.order.plan.profile.steps[1].dwell = seconds(20);
  auto again = once(1.7, [] { std::raise(SIGINT); });
  const auto result =
      shop.run([first = once(1.6, [] { std::raise(SIGINT); }), again](double now) mutable {
        first(now);
        again(now);
      });
  CHECK(ending_of(result) == Ending::operator_stop);
  CHECK_FALSE(result.summary->standstill_seen);
  CHECK(result.summary->length.s() < 20);
}

TEST_CASE("modbus drive: a Ctrl-C more ends the wait for a standstill that nothing shows") {
  Shop shop;
  shop.place.setup.description = plain_drive(modbus::SpeedSource::estimate);
  shop.drive.habits.trips_at_rpm = 1200;
  std::optional<double> fell;
  const auto result = shop.run([&, sent = false](double now) mutable {
    if (shop.drive.fault() != 0)
      fell = fell.value_or(now);
    if (!sent && fell && now > *fell + 1.5) {
      sent = true;
      std::raise(SIGINT);
    }
  });
  CHECK(ending_of(result) == Ending::drive_fault);
  CHECK_FALSE(result.summary->standstill_seen);
  CHECK(std::count(shop.kept.events.begin(), shop.kept.events.end(),
                   "the wait for standstill was ended by the operator") == 1);
}

TEST_CASE("prove: a shaft that turns twice as fast as it is asked to is not proven") {
  Shop shop;
  shop.drive.habits.gain = 1.9; // below what is cut at once as running away
  CHECK_THAT(told(prove(shop)), ContainsSubstring("570 rpm where 300 rpm was asked for"));
  CHECK(shop.comes_to_rest());
}

TEST_CASE("prove: a shaft that holds less than nine tenths of its speed is not proven") {
  Shop shop;
  shop.drive.habits.gain = 0.85;
  CHECK_THAT(told(prove(shop)), ContainsSubstring("did not come up to 300 rpm and stay there"));
}

TEST_CASE("prove: a drive that lets the shaft coast at its time-out is proven") {
  Shop shop;
  shop.drive.habits.coast_rpm_s = 100;
  const auto proof = prove(shop);
  INFO(told(proof));
  REQUIRE(proof.ok());
  CHECK(proof->after > rpm(240)); // it had hardly slowed when it was looked at
}

TEST_CASE("prove: one that starts again when somebody speaks to it is cut, and says why") {
  Shop shop;
  shop.drive.habits.restarts = true;
  const auto begin = TestClock::now();
  CHECK_THAT(told(prove(shop)), ContainsSubstring("starts again when somebody speaks to it"));
  CHECK(seconds_since(begin) < 20);
  CHECK(shop.comes_to_rest());
}

TEST_CASE("prove: one that stands and still says that it runs after its stop is not proven") {
  Shop shop;
  shop.drive.habits.lets_go = false;
  CHECK_THAT(told(prove(shop)), ContainsSubstring("stands and still says it is running"));
}

TEST_CASE("prove: a person's end is called that wherever it comes") {
  Shop shop;
  SECTION("on the way down after the stop") {
    CHECK_THAT(told(prove(shop,
                          [&, fast = false]() mutable {
                            fast = fast || shop.drive.speed_rpm() > 290;
                            return fast && !shop.drive.running();
                          })),
               ContainsSubstring("ended by the operator"));
  }
  SECTION("in the silence") {
    shop.drive.habits.coast_rpm_s = 200;
    CHECK_THAT(told(prove(shop, [&] { return shop.drive.fault() != 0; })),
               ContainsSubstring("ended by the operator"));
  }
  CHECK(shop.comes_to_rest());
}
