#include "whirler/run/plan.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::run {
namespace {

std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 6) + " rpm"; }
std::string slope_text(Ramp ramp) { return number_text(ramp.rpm_per_s(), 6) + " rpm/s"; }

/// One ramp of the profile: from the speed before, at the slope that the step asks for.
struct Climb {
  std::string where;
  Speed from;
  Speed to;
  Ramp slope;
  bool jump = false;
};

Climb climb_into(const profile::Step& step, Speed from, std::size_t number) {
  Climb climb{"step " + std::to_string(number) + (step.name.empty() ? "" : " (" + step.name + ")"),
              from,
              step.speed,
              {},
              false};
  const double change = std::abs((step.speed - from).rad_per_s());
  if (const auto* slope = std::get_if<Ramp>(&step.approach)) {
    climb.slope = *slope;
  } else {
    const double time_s = std::get<Duration>(step.approach).s();
    climb.jump = time_s <= 0.0 && change > 0.0;
    if (time_s > 0.0)
      climb.slope = rad_per_s2(change / time_s);
  }
  return climb;
}

std::vector<Climb> climbs(const profile::Profile& profile) {
  std::vector<Climb> all;
  Speed from;
  for (std::size_t i = 0; i < profile.steps.size(); ++i) {
    all.push_back(climb_into(profile.steps[i], from, i + 1));
    from = profile.steps[i].speed;
  }
  all.push_back({"stop", from, rpm(0), profile.stop_ramp, false});
  return all;
}

struct Limit {
  std::string whose;
  Speed speed;
  Speed speed_min;
  Ramp ramp;
};

std::vector<Limit> limits_of(const Plan& plan) {
  const auto& file = plan.machine.limits;
  std::vector<Limit> all{{"the machine file", file.speed, file.speed_min, file.ramp}};
  if (plan.driver)
    all.push_back(
        {"the driver", plan.driver->speed_max, plan.driver->speed_min, plan.driver->slope_max});
  return all;
}

// A limit reached exactly is allowed; this much over is rounding in the units, not a request.
constexpr double kRounding = 1.0 + 1e-9;

void check_limits(const Climb& climb, const Limit& limit, std::vector<Fault>& found) {
  if (climb.to > limit.speed * kRounding)
    found.push_back(input_fault(rpm_text(climb.to) + " asked for, " + limit.whose + " allows " +
                                    rpm_text(limit.speed),
                                climb.where, "lower the step's speed"));
  if (climb.to > rpm(0) && climb.to * kRounding < limit.speed_min)
    found.push_back(input_fault(rpm_text(climb.to) + " asked for, " + limit.whose +
                                    " holds no speed under " + rpm_text(limit.speed_min),
                                climb.where, "raise the step's speed"));
  if (climb.slope > limit.ramp * kRounding)
    found.push_back(input_fault(slope_text(climb.slope) + " asked for, " + limit.whose +
                                    " allows " + slope_text(limit.ramp),
                                climb.where, "make the ramp gentler"));
}

/// Torque at the top of a climb, where drag is largest, against what the motor has.
void check_torque(const Climb& climb, const Load& load, Torque motor, std::vector<Fault>& found) {
  const double drag = load.drag ? load.drag(climb.to).N_m() : 0.0;
  const double spare = motor.N_m() - drag;
  const double need = load.inertia.kg_m2() * climb.slope.rad_per_s2();
  if (climb.to <= climb.from) // braking is helped by drag
    return;
  if (spare <= 0.0)
    found.push_back(input_fault("air drag at " + rpm_text(climb.to) + " takes " +
                                    number_text(drag * 1e3) + " mN m, the motor has " +
                                    number_text(motor.mN_m()) + " mN m",
                                climb.where, "lower the step's speed"));
  else if (need > spare * kRounding)
    found.push_back(input_fault(
        slope_text(climb.slope) + " needs " + number_text((need + drag) * 1e3) +
            " mN m (inertia and drag), the motor has " + number_text(motor.mN_m()) + " mN m",
        climb.where,
        "ask for " + slope_text(rad_per_s2(spare / load.inertia.kg_m2())) + " at most"));
}

void check_marks(const Plan& plan, std::vector<Fault>& found) {
  const int file = plan.machine.tach.marks_per_turn;
  const int driver = plan.driver->marks_per_turn;
  if (file != driver)
    found.push_back(input_fault("the machine file says " + std::to_string(file) +
                                    " marks a turn, the driver " + std::to_string(driver),
                                "tach", "count the marks; a wrong count is a wrong speed"));
}

void check_lid(const Plan& plan, std::vector<Fault>& found) {
  const auto lid = plan.machine.lid;
  if (lid == machine::Lid::none) {
    if (!plan.lid_confirmed)
      found.push_back(input_fault("this machine has no lid switch, and nobody has said yes", "lid",
                                  "stand clear, close the lid, and type yes (or --lid-closed)"));
    return;
  }
  if (!plan.driver)
    return;
  if (lid == machine::Lid::interlock_switch && !plan.driver->lid_switch)
    found.push_back(input_fault("the machine file has a lid switch, the driver has none", "lid",
                                "wire the switch to the driver, or correct the machine file"));
  else if (plan.driver->lid == LidState::open)
    found.push_back({FaultKind::ended_early, "the lid is open", "lid", "close it and start again"});
}

void check_program(const Plan& plan, std::vector<Fault>& found) {
  const auto& profile = plan.profile;
  if (profile.steps.empty())
    found.push_back(input_fault("the profile has no steps", "profile", "give it one at least"));
  if (profile.stop_ramp.rad_per_s2() <= 0.0)
    found.push_back(input_fault("the stop ramp is not above zero", "stop", "give it a slope"));
  const auto count = static_cast<int>(profile.steps.size());
  if (plan.driver && count > plan.driver->segments_max)
    found.push_back(input_fault("the profile has " + std::to_string(count) +
                                    " steps, the driver holds " +
                                    std::to_string(plan.driver->segments_max),
                                "profile", "join steps"));
}

void check_climb(const Climb& climb, const Plan& plan, std::vector<Fault>& found) {
  if (climb.jump)
    found.push_back(input_fault("a jump from " + rpm_text(climb.from) + " to " +
                                    rpm_text(climb.to) + ", which no motor can follow",
                                climb.where,
                                "give the step a ramp; \"ramp_s\": 0 is for estimates"));
  for (const auto& limit : limits_of(plan))
    check_limits(climb, limit, found);
  if (!climb.jump && plan.load && plan.machine.motor)
    check_torque(climb, *plan.load, plan.machine.motor->torque, found);
}

} // namespace

std::vector<Fault> refusals(const Plan& plan) {
  std::vector<Fault> found;
  check_program(plan, found);
  for (const auto& climb : climbs(plan.profile))
    check_climb(climb, plan, found);
  if (plan.driver)
    check_marks(plan, found);
  check_lid(plan, found);
  return found;
}

Speed speed_ceiling(const Plan& plan) {
  const Speed file = plan.machine.limits.speed;
  return plan.driver ? std::min(file, plan.driver->speed_max) : file;
}

} // namespace whirler::run
