// What a drive's registers cannot hold, and scales that no drive has: a slip of a digit in a scale
// is a motor that runs ten times as fast as it was asked to.
#include "drive_draft.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::files {
namespace {

using namespace modbus;

/// The coarsest count of a speed: 1 Hz of a motor with one pair of poles. A float may be in
/// thousands, or a share of the top speed.
constexpr Speed kCoarsest = rpm(60);
constexpr Speed kUseful = rpm(100);              // no spinner is slower at its fastest
constexpr Ramp kCoarsestSlope = rpm_per_s(1000); // of one count
constexpr Ramp kGentlest = rpm_per_s(50);        // at the shortest time that a register holds

std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 6) + " rpm"; }
std::string slope_text(Ramp slope) { return number_text(slope.rpm_per_s(), 6) + " rpm/s"; }

Conflicts speed_conflicts(const std::string& key, const Scaled<Speed>& speed) {
  Conflicts found;
  if (speed.cell.type != DataType::f32 && speed.scale > kCoarsest)
    found.push_back({key + "/scale_rpm", number_text(speed.scale.rpm(), 6),
                     "at most " + rpm_text(kCoarsest) + " a count for a whole number",
                     "see in the manual what one count is: 0.1 or 1 rpm, or a share of 1 Hz"});
  else if (speed.highest() < kUseful)
    found.push_back({key + "/scale_rpm", number_text(speed.scale.rpm(), 6),
                     "a scale with which the register holds more than " + rpm_text(speed.highest()),
                     R"(correct "scale_rpm" or "type")"});
  const auto zero = speed.rounded(rpm(0));
  if (found.empty() && (!zero || std::abs(zero->rpm()) > std::max(1.0, 0.51 * speed.scale.rpm())))
    found.push_back({key + "/offset_rpm", number_text(speed.offset.rpm(), 6),
                     "an offset with which the register holds 0 rpm; it holds " +
                         rpm_text(speed.lowest()) + " to " + rpm_text(speed.highest()),
                     R"(correct "offset_rpm", its sign, or "type")"});
  return found;
}

/// Written before every start and at every stop: it must be zero, not nearly.
Conflicts target_without_zero(const DriveDraft& draft) {
  auto found = speed_conflicts("target", draft.target);
  const auto zero = draft.target.rounded(rpm(0));
  if (found.empty() && std::abs(zero->rpm()) > 1.0)
    found.push_back(
        {"target/offset_rpm", number_text(draft.target.offset.rpm(), 6),
         "a whole number of counts: the nearest that the register has to 0 is " + rpm_text(*zero),
         R"(correct "offset_rpm" or "scale_rpm")"});
  return found;
}

Conflicts limit_past_register(const DriveDraft& draft) {
  Description drive;
  drive.target = draft.target;
  drive.actual = draft.actual_draft;
  if (draft.direction_draft && draft.direction_draft->by_sign)
    drive.direction = Direction{};
  const Speed held = highest_speed(drive);
  Conflicts found;
  for (const auto& [key, limit] : {std::pair{"limits/speed_rpm", draft.limits.speed},
                                   {"limits/speed_min_rpm", draft.limits.speed_min}})
    if (limit && *limit > held * (1.0 + 1e-9) && found.empty())
      found.push_back({key, number_text(limit->rpm(), 6),
                       "at most " + number_text(held.rpm(), 6) +
                           ", all that the registers of \"target\" and \"actual\" both hold",
                       "correct the limit, \"type\" or \"scale_rpm\""});
  return found;
}

Conflicts sign_without_sign(const DriveDraft& draft) {
  if (!draft.direction_draft->by_sign || draft.target.lowest() < rpm(0))
    return {};
  return {{"target/type", "a type that holds no negative speed",
           "s16, s32 or f32, where the sign is the direction",
           "correct \"type\", or give the "
           "direction a register"}};
}

/// Of one count: the gentlest as a rate, the steepest as a time.
Ramp of_one_count(const SlopeRegister& slope) {
  if (const auto* rate = std::get_if<Ramp>(&slope.scale))
    return *rate;
  return rad_per_s2(slope.span.rad_per_s() / std::get<Duration>(slope.scale).s());
}

Rule<DriveDraft> slope_scale(const std::string& key,
                             std::optional<SlopeDraft> DriveDraft::*member) {
  return {{key}, [=](const DriveDraft& draft) -> Conflicts {
            const auto slope = *slope_from(draft.*member);
            const bool is_rate = std::holds_alternative<Ramp>(slope.scale);
            const Ramp one = of_one_count(slope);
            if (slope.cell.type == DataType::f32)
              return {};
            if (is_rate && one > kCoarsestSlope)
              return {{key + "/scale_rpm_s", number_text(one.rpm_per_s(), 6),
                       "at most " + slope_text(kCoarsestSlope) + " a count",
                       "see in the manual what one count is"}};
            if (!is_rate && one < kGentlest)
              return {{key + "/scale_s", number_text(std::get<Duration>(slope.scale).s(), 6),
                       "a time of one count in which the drive gains more than " + slope_text(one),
                       R"(see in the manual what one count is, and to which speed ("to_rpm"))"}};
            return {};
          }};
}

Conflicts ramp_past_register(const DriveDraft& draft) {
  const auto slope = *slope_from(draft.slope_draft);
  if (!draft.limits.ramp || slope.words_for(*draft.limits.ramp))
    return {};
  return {{"limits/ramp_rpm_s", number_text(draft.limits.ramp->rpm_per_s(), 6),
           "a slope that the register of \"slope\" holds; one count is " +
               slope_text(of_one_count(slope)),
           R"(correct the limit, or the slope's "type" or scale)"}};
}

} // namespace

std::vector<Rule<DriveDraft>> reach_rules() {
  const auto actual = [](const DriveDraft& draft) {
    return speed_conflicts("actual", draft.actual_draft);
  };
  return {{{"target"}, target_without_zero},
          {{"actual"}, actual},
          {{"limits", "target", "actual"}, limit_past_register},
          {{"direction", "target"}, sign_without_sign},
          slope_scale("slope", &DriveDraft::slope_draft),
          slope_scale("slope_down", &DriveDraft::slope_down_draft),
          {{"limits", "slope"}, ramp_past_register}};
}

} // namespace whirler::files
