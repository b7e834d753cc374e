#include "catch.hpp"
#include "whirler/run/plan.hpp"

#include <algorithm>

using namespace whirler;
using namespace whirler::run;

namespace {

Plan sound_plan() {
  Plan plan;
  plan.profile.steps = {{"spread", rpm(500), rpm_per_s(500), seconds(5)},
                        {"thin", rpm(3000), rpm_per_s(1000), seconds(45)}};
  plan.profile.stop_ramp = rpm_per_s(1000);
  plan.machine.tach.marks_per_turn = 6;
  plan.machine.limits = {rpm(6000), rpm(200), rpm_per_s(3000), {}};
  plan.machine.motor = machine::Motor{newton_metres(0.1), machine::MotorCurrent::ac};
  plan.driver = DriverFacts{"bench", rpm(6000), rpm(200), rpm_per_s(3000), 32, 6,
                            true,    true,      true,     LidState::closed};
  plan.load = Load{kg_m2(1.4e-4), [](Speed) { return newton_metres(0.005); }};
  return plan;
}

bool one_says(const std::vector<Fault>& faults, const std::string& words) {
  return std::any_of(faults.begin(), faults.end(), [&](const Fault& fault) {
    return to_text(fault).find(words) != std::string::npos;
  });
}

} // namespace

TEST_CASE("plan: a profile within every limit may start") { CHECK(refusals(sound_plan()).empty()); }

TEST_CASE("plan: a speed reached exactly is allowed, one rpm more is refused with both numbers") {
  Plan plan = sound_plan();
  plan.profile.steps[1].speed = rpm(6000);
  plan.load.reset();
  CHECK(refusals(plan).empty());
  plan.profile.steps[1].speed = rpm(6001);
  const auto found = refusals(plan);
  CHECK(one_says(found, "6001 rpm asked for, the machine file allows 6000 rpm"));
  CHECK(one_says(found, "the driver allows 6000 rpm"));
}

TEST_CASE("plan: the driver's smaller limit refuses what the file allows") {
  Plan plan = sound_plan();
  plan.driver->speed_max = rpm(2500);
  plan.driver->slope_max = rpm_per_s(800);
  const auto found = refusals(plan);
  CHECK(one_says(found, "the driver allows 2500 rpm"));
  CHECK(one_says(found, "the driver allows 800 rpm/s"));
  CHECK(speed_ceiling(plan).rpm() == Approx(2500));
}

TEST_CASE("plan: every mistake is named in one go, and each step by its number and name") {
  Plan plan = sound_plan();
  plan.profile.steps[0].speed = rpm(100);
  plan.profile.steps[1].approach = seconds(0);
  plan.profile.stop_ramp = rpm_per_s(9000);
  plan.driver->marks_per_turn = 8;
  plan.driver->lid = LidState::open;
  const auto found = refusals(plan);
  CHECK(one_says(found, "step 1 (spread): 100 rpm asked for"));
  CHECK(one_says(found, "step 2 (thin): a jump"));
  CHECK(one_says(found, "stop: 9000 rpm/s"));
  CHECK(one_says(found, "6 marks a turn, the driver 8"));
  CHECK(one_says(found, "the lid is open"));
}

TEST_CASE("plan: an index that the file has and the driver does not know is refused") {
  Plan plan = sound_plan();
  plan.driver->index = false;
  CHECK(refusals(plan).empty()); // nor does the file have one
  plan.machine.tach.index = true;
  CHECK(one_says(refusals(plan), "has an index mark, the driver knows none"));
  plan.driver->index = true;
  CHECK(refusals(plan).empty());
}

TEST_CASE("plan: the stop ramp is held to the limits even where the profile ends at rest") {
  Plan plan = sound_plan();
  plan.profile.steps.push_back({"rest", rpm(0), rpm_per_s(500), seconds(1)});
  plan.profile.stop_ramp = rpm_per_s(9000);
  CHECK(one_says(refusals(plan), "stop: 9000 rpm/s asked for"));
}

TEST_CASE("plan: a ramp given by its time is held to the same slope limits") {
  Plan plan = sound_plan();
  plan.profile.steps[1].approach = seconds(0.5); // 2500 rpm in half a second
  CHECK(one_says(refusals(plan), "5000 rpm/s asked for"));
}

TEST_CASE("plan: inertia and drag are held against the motor, and the possible slope is said") {
  // [math] J alpha = 1.4e-4 * 3000 rpm/s * 2 pi / 60 = 43.98 mN m, and 5 mN m of drag.
  Plan plan = sound_plan();
  plan.profile.steps[1].approach = rpm_per_s(3000);
  CHECK(refusals(plan).empty());
  plan.machine.motor->torque = newton_metres(0.040);
  const auto found = refusals(plan);
  CHECK(one_says(found, "needs 49 mN m"));
  CHECK(one_says(found, "ask for 2387.32 rpm/s at most"));
  plan.machine.motor->torque = newton_metres(0.004);
  CHECK(one_says(refusals(plan), "air drag at 3000 rpm takes 5 mN m"));
}

TEST_CASE("plan: without a lid switch somebody must have said yes") {
  Plan plan = sound_plan();
  plan.machine.lid = machine::Lid::none;
  plan.driver->lid = LidState::not_fitted;
  plan.driver->lid_switch = false;
  CHECK(one_says(refusals(plan), "nobody has said yes"));
  plan.lid_confirmed = true;
  CHECK(refusals(plan).empty());
}

TEST_CASE("plan: a yes does not close a lid that the switch sees open") {
  Plan plan = sound_plan();
  plan.driver->lid = LidState::open;
  plan.lid_confirmed = true;
  CHECK(one_says(refusals(plan), "the lid is open"));
}

TEST_CASE("plan: more steps than the driver holds are refused with both numbers") {
  Plan plan = sound_plan();
  plan.profile.steps.resize(40, plan.profile.steps[1]);
  CHECK(one_says(refusals(plan), "40 steps, the driver holds 32"));
}
