#include "whirler/run/plan.hpp"

#include "whirler/profile/timeline.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::run {
namespace {

std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 6) + " rpm"; }
std::string slope_text(Ramp ramp) { return number_text(ramp.rpm_per_s(), 6) + " rpm/s"; }

/// "step 2 (thin)", or "stop".
std::string name_of(const profile::Segment& segment, const profile::Profile& profile) {
  if (segment.step >= profile.steps.size())
    return "stop";
  const auto& name = profile.steps[segment.step].name;
  return "step " + std::to_string(segment.step + 1) + (name.empty() ? "" : " (" + name + ")");
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

void check_limits(const profile::Segment& climb, const std::string& where, const Limit& limit,
                  std::vector<Fault>& found) {
  if (climb.to > limit.speed * kRounding)
    found.push_back(input_fault(rpm_text(climb.to) + " asked for, " + limit.whose + " allows " +
                                    rpm_text(limit.speed),
                                where, "lower the step's speed"));
  if (climb.to > rpm(0) && climb.to * kRounding < limit.speed_min)
    found.push_back(input_fault(rpm_text(climb.to) + " asked for, " + limit.whose +
                                    " holds no speed under " + rpm_text(limit.speed_min),
                                where, "raise the step's speed"));
  if (climb.slope > limit.ramp * kRounding)
    found.push_back(input_fault(slope_text(climb.slope) + " asked for, " + limit.whose +
                                    " allows " + slope_text(limit.ramp),
                                where, "make the ramp gentler"));
}

/// Torque at the top of a climb, where drag is largest, against what the motor has.
void check_torque(const profile::Segment& climb, const std::string& where, const Load& load,
                  Torque motor, std::vector<Fault>& found) {
  const double drag = load.drag ? load.drag(climb.to).N_m() : 0.0;
  const double spare = motor.N_m() - drag;
  const double need = load.inertia.kg_m2() * climb.slope.rad_per_s2();
  if (climb.to <= climb.from) // braking is helped by drag
    return;
  if (spare <= 0.0)
    found.push_back(input_fault("air drag at " + rpm_text(climb.to) + " takes " +
                                    number_text(drag * 1e3) + " mN m, the motor has " +
                                    number_text(motor.mN_m()) + " mN m",
                                where, "lower the step's speed"));
  else if (need > spare * kRounding)
    found.push_back(input_fault(
        slope_text(climb.slope) + " needs " + number_text((need + drag) * 1e3) +
            " mN m (inertia and drag), the motor has " + number_text(motor.mN_m()) + " mN m",
        where, "ask for " + slope_text(rad_per_s2(spare / load.inertia.kg_m2())) + " at most"));
}

void check_marks(const Plan& plan, std::vector<Fault>& found) {
  const int file = plan.machine.tach.marks_per_turn;
  const int driver = plan.driver->marks_per_turn;
  if (driver > 0 && file != driver) // a drive without a tach has no marks to disagree about
    found.push_back(input_fault("the machine file says " + std::to_string(file) +
                                    " marks a turn, the driver " + std::to_string(driver),
                                "tach", "count the marks; a wrong count is a wrong speed"));
}

/// A driver that knows more marks than the file asks for does no harm.
void check_index(const Plan& plan, std::vector<Fault>& found) {
  if (plan.machine.tach.index && plan.driver->marks_per_turn > 0 && !plan.driver->index)
    found.push_back(input_fault("the machine file has an index mark, the driver knows none", "tach",
                                "wire the index to the driver, or correct the machine file"));
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
  found = profile::faults_of(profile);
  const auto count = static_cast<int>(profile.steps.size());
  if (plan.driver && count > plan.driver->segments_max)
    found.push_back(input_fault("the profile has " + std::to_string(count) +
                                    " steps, the driver holds " +
                                    std::to_string(plan.driver->segments_max),
                                "profile", "join steps"));
}

void check_climb(const profile::Segment& climb, const Plan& plan, std::vector<Fault>& found) {
  const std::string where = name_of(climb, plan.profile);
  if (climb.is_jump())
    found.push_back(input_fault("a jump from " + rpm_text(climb.from) + " to " +
                                    rpm_text(climb.to) + ", which no motor can follow",
                                where, "give the step a ramp; \"ramp_s\": 0 is for estimates"));
  for (const auto& limit : limits_of(plan))
    check_limits(climb, where, limit, found);
  if (!climb.is_jump() && plan.load && plan.machine.motor)
    check_torque(climb, where, *plan.load, plan.machine.motor->torque, found);
}

} // namespace

std::vector<Fault> refusals(const Plan& plan) {
  std::vector<Fault> found;
  check_program(plan, found);
  if (auto laid_out = profile::timeline(plan.profile)) {
    // The stop ramp is used by every early stop, also where the profile itself ends at rest.
    laid_out->segments.back().slope = plan.profile.stop_ramp;
    for (const auto& climb : laid_out->segments)
      check_climb(climb, plan, found);
  }
  if (plan.driver) {
    check_marks(plan, found);
    check_index(plan, found);
  }
  check_lid(plan, found);
  return found;
}

Speed speed_ceiling(const Plan& plan) {
  const Speed file = plan.machine.limits.speed;
  return plan.driver ? std::min(file, plan.driver->speed_max) : file;
}

} // namespace whirler::run
