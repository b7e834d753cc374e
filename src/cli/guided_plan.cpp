#include "guided_plan.hpp"

#include "parsed_option.hpp"
#include "whirler/balance/tolerance.hpp"
#include "whirler/blank/properties.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace whirler::cli {
namespace {

/// Highest dwell where neither the line nor a mount says.
constexpr Speed kUsualTop = rpm(2000.0);
/// Dwells as shares of the mount's natural speed: the whirl is plain at each, and turns over
/// between the second and the third.
constexpr std::array<double, 4> kAboutNatural{0.55, 0.75, 1.6, 2.2};
constexpr std::size_t kDwells = 4;
constexpr int kDwell_s = 12;
constexpr Ramp kGentle = rpm_per_s(200.0);
constexpr double kGravity_m_s2 = 9.80665;

/// Whole tens of rpm read better, and a dwell is told by its speed.
Speed rounded(Speed speed) { return rpm(10.0 * std::round(speed.rpm() / 10.0)); }

/// Shares of the mount's natural speed between which the loop may hang.
constexpr double kWellBelow = 0.8;
constexpr double kWellAbove = 1.3;
bool is_clear_of(Speed natural, Speed speed) {
  return speed < kWellBelow * natural || speed > kWellAbove * natural;
}

/// A fourth speed, where limits leave three of the usual ones: only the fourth shows whether the
/// readings are made of pattern and unbalance alone.
void add_fourth(std::vector<Speed>& speeds, Speed natural, Speed least, Speed top) {
  constexpr double kApart = 1.1;
  for (const Speed more : {top, 3.0 * natural, 1.35 * natural, 0.65 * natural, least}) {
    const bool apart = std::all_of(speeds.begin(), speeds.end(), [&](Speed speed) {
      return speed > kApart * more || more > kApart * speed;
    });
    if (speeds.size() == kDwells - 1 && apart && is_clear_of(natural, more) && more >= least &&
        more <= top)
      speeds.push_back(more);
  }
  std::sort(speeds.begin(), speeds.end());
}

/// The speed that was asked for is the highest dwell, unless it is so near the mount's natural
/// speed that the loop hangs there.
std::vector<Speed> about_natural(const machine::Machine& machine, Speed least, Speed top,
                                 bool asked) {
  std::vector<Speed> speeds;
  const Speed natural = turns_per_s(machine.mount->natural.Hz());
  for (const double share : kAboutNatural)
    if (share * natural >= least && share * natural <= top)
      speeds.push_back(rounded(share * natural));
  if (asked && !speeds.empty() && top > kWellAbove * natural && speeds.back() > natural)
    speeds.back() = top;
  add_fourth(speeds, natural, least, top);
  return speeds;
}

/// Equal steps of the logarithm.
std::vector<Speed> spread_out(Speed least, Speed top) {
  std::vector<Speed> speeds;
  for (std::size_t i = 0; i < kDwells; ++i)
    speeds.push_back(rounded(
        std::pow(top / least, static_cast<double>(i) / static_cast<double>(kDwells - 1)) * least));
  return speeds;
}

} // namespace

Outcome check_tach(const machine::Tach& tach) {
  const std::string where = "the machine's tach";
  if (tach.sensor_on == machine::SensorOn::sprung)
    return input_fault("the sensor rides on the body that shakes, and sees none of it", where,
                       "fix the sensor to the ground, or balance with a meter and --z0, --z1");
  if (tach.marks_per_turn < 3)
    return input_fault(std::to_string(tach.marks_per_turn) + " marks a turn cannot show where the "
                                                             "heavy side is",
                       where, "use three marks or more, or a meter and --amplitudes");
  if (!tach.index)
    return input_fault("without an index mark the angles of two runs cannot be compared", where,
                       "make one mark an index, or use a meter and --amplitudes");
  return Done{};
}

/// A real motor would turn while somebody fixes a mass.
Outcome check_yes(bool yes, const machine::Machine& machine) {
  if (!yes || machine.drive.type == machine::DriveType::simulated)
    return Done{};
  return command_line_fault("--yes would start run after run with nobody asked whether the masses "
                            "are on and hands are clear",
                            "leave --yes out; it is for the simulated spinner (--simulate)");
}

namespace {

/// Which way the correction will point is not known yet: the places must serve any.
Outcome check_places(const GuidedWishes& wishes) {
  constexpr int kDirections = 24;
  const balance::PlaceLimits limits{wishes.limits.most, wishes.limits.step};
  for (int i = 0; i < kDirections && !wishes.places.empty(); ++i) {
    // So little that only the direction matters, never what the places can take.
    const balance::PlacedUnbalance little{gram_millimetres(1e-9), turns((i + 0.3) / kDirections)};
    if (const auto shared = balance::share_out(little, wishes.places, limits); !shared)
      return shared.fault();
  }
  return Done{};
}

} // namespace

Outcome check_wishes(const GuidedWishes& wishes, const machine::Limits& limits) {
  if (wishes.speed && *wishes.speed > limits.speed)
    return input_fault(number_text(wishes.speed->rpm()) + " rpm are asked for, and the machine's " +
                           "limit is " + number_text(limits.speed.rpm()) + " rpm",
                       "balance --guided", "give a --speed within the limit");
  // Readings that are sound, so that what is refused is the mass or the radius.
  const std::array<balance::TrialPair, 1> sound{{{{1.0, 0.0}, {0.0, 1.0}, {}}}};
  const balance::PlacedMass some{grams(1.0), degrees(0.0), millimetres(30.0)};
  const balance::PlacedMass trial = wishes.trial.value_or(some);
  const auto made = balance::correct(sound, trial, wishes.radius.value_or(some.radius));
  if (!made)
    return made.fault();
  if (wishes.grade)
    if (const auto ok = balance::permissible_offset(*wishes.grade, limits.speed); !ok)
      return ok.fault();
  return check_places(wishes);
}

Result<std::vector<Speed>> dwells_of(const machine::Machine& machine,
                                     const std::optional<Speed>& asked) {
  const machine::Limits& limits = machine.limits;
  const Speed least = 1.1 * limits.speed_min;
  if (machine.mount) {
    auto speeds = about_natural(
        machine, least, std::min(asked.value_or(limits.speed), limits.speed), asked.has_value());
    if (speeds.size() >= 3)
      return speeds;
  }
  const Speed top = std::min(asked.value_or(std::max(kUsualTop, 4.0 * least)), limits.speed);
  const Speed low = std::max(least, top / 5.0);
  if (top >= 2.0 * low)
    return spread_out(low, top);
  return input_fault("there is no room for several dwells up to " + number_text(top.rpm(), 4) +
                         " rpm",
                     "balance --guided",
                     "give a --speed of " + number_text((2.2 * low).rpm(), 3) + " rpm or more");
}

std::string dwell_profile(const std::vector<Speed>& speeds, Ramp highest_ramp) {
  const Ramp ramp = std::min(kGentle, highest_ramp);
  Json steps = Json::array();
  for (const Speed speed : speeds)
    steps.push_back({{"name", number_text(speed.rpm(), 5) + " rpm"},
                     {"speed_rpm", std::round(speed.rpm())},
                     {"ramp_rpm_s", std::round(ramp.rpm_per_s())},
                     {"dwell_s", kDwell_s}});
  return Json{{"kind", "profile"},
              {"format", 1},
              {"name", "balancing"},
              {"steps", steps},
              {"stop", {{"ramp_rpm_s", std::round(ramp.rpm_per_s())}}}}
      .dump();
}

balance::PlacedMass proposed_trial(const Plate& plate, Length radius, Speed highest_dwell) {
  const double top = highest_dwell.rad_per_s();
  const double by_weight = 0.1 * plate.turning_mass().kg() * kGravity_m_s2 / (top * top);
  const double by_plate = plate.properties ? plate.properties->unbalance.kg_m() : 0.0;
  const double grams_exact = std::max(by_weight, 0.5 * by_plate) / radius.m() * 1e3;
  const double power = std::pow(10.0, std::floor(std::log10(grams_exact)) - 1.0);
  return {grams(std::round(grams_exact / power) * power), degrees(0.0), radius};
}

namespace {

/// The unbalance that no trial should come near, and the words for it.
struct Most {
  Unbalance unbalance;
  std::string words;
};

Most most_trial(const Plate& plate, Speed top) {
  const machine::Machine& machine = *plate.machine;
  const double omega = top.rad_per_s();
  const double mass_kg = plate.turning_mass().kg();
  if (const auto stop = machine.jitter.stop_velocity)
    return {kilogram_metres(stop->m_per_s() * mass_kg / omega),
            "the machine's stop limit of " + number_text(stop->mm_per_s()) + " mm/s"};
  if (const auto stop = machine.jitter.stop_force)
    return {kilogram_metres(stop->N() / (omega * omega)),
            "the machine's stop limit of " + number_text(stop->N()) + " N"};
  constexpr double kGrades = 10.0;
  if (const auto grade = machine.limits.balance_grade)
    return {kilogram_metres(kGrades * grade->m_per_s() * mass_kg / omega),
            "ten times the machine's grade of " + number_text(grade->mm_per_s()) + " mm/s"};
  return {kilogram_metres(mass_kg * kGravity_m_s2 / (omega * omega)),
          "the weight of all that turns"};
}

/// Where nobody could fix a mass on the hub or the plate.
Length farthest_place(const Plate& plate) {
  return std::max(millimetres(100.0),
                  plate.properties ? 2.0 * plate.properties->corner_radius : millimetres(500.0));
}

} // namespace

std::string pull_text(const balance::PlacedMass& trial, const Plate& plate, Speed highest_dwell) {
  const Unbalance unbalance = kilogram_metres(trial.mass.kg() * trial.radius.m());
  const double pull_N = blank::unbalance_force(unbalance, highest_dwell).N();
  return "it pulls " + number_text(pull_N) + " N at " + number_text(highest_dwell.rpm(), 4) +
         " rpm, " + number_text(pull_N / (plate.turning_mass().kg() * kGravity_m_s2), 2) +
         " of the weight of all that turns";
}

Outcome check_trial(const balance::PlacedMass& trial, const Plate& plate, Speed highest_dwell) {
  const std::string where = "the trial mass";
  const auto above_zero = [](double value) { return std::isfinite(value) && value > 0.0; };
  if (!above_zero(trial.mass.kg()) || !above_zero(trial.radius.m()))
    return input_fault("there is no trial mass of " + number_text(trial.mass.g()) +
                           " g at a radius of " + number_text(trial.radius.mm()) + " mm",
                       where, "give both above 0, as in 0.8g@0deg@25mm");
  if (!trial.at.is_finite() || std::abs(trial.at.turns()) > 1.0)
    return input_fault("its angle is " + number_text(trial.at.deg()) + " deg", where,
                       "give it from 0 to 360 deg");
  if (const Length most = farthest_place(plate); trial.radius > most)
    return input_fault("its radius is " + number_text(trial.radius.mm()) + " mm", where,
                       "give one on the hub or the plate, up to " + number_text(most.mm()) + " mm");
  const Most most = most_trial(plate, highest_dwell);
  const auto usual = proposed_trial(plate, trial.radius, highest_dwell);
  const double ceiling_kg = std::max(most.unbalance.kg_m() / trial.radius.m(), usual.mass.kg());
  if (trial.mass.kg() <= ceiling_kg)
    return Done{};
  return input_fault(
      pull_text(trial, plate, highest_dwell) + ", which is over " + most.words, where,
      "use " + number_text(usual.mass.g()) + " g there, or a smaller radius; at most " +
          number_text(1e3 * ceiling_kg, 2) + " g");
}

} // namespace whirler::cli
