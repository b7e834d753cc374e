#include "whirler/files/read.hpp"
#include "whirler/files/schema.hpp"

namespace whirler::files {
namespace {

using profile::Profile;
using profile::Step;

// Bounds of the possible, wide on purpose: what a machine allows is the machine file's business.
const Range kSpeed = from_to(0, 100'000, "rpm");
const Range kSlope = above(0, 1'000'000, "rpm/s");
const Range kTime = from_to(0, 86'400, "s");
constexpr std::size_t kMostSteps = 1000;

Field<Step> slope_of_step() {
  return custom<Step>("ramp_rpm_s", optional, kSlope.words(), [](const Place& place, Step& step) {
    const auto value = read_number(place, kSlope);
    if (value)
      step.approach = rpm_per_s(*value);
    return value.has_value();
  });
}

Field<Step> time_of_step() {
  return custom<Step>("ramp_s", optional, kTime.words(), [](const Place& place, Step& step) {
    const auto value = read_number(place, kTime);
    if (value)
      step.approach = seconds(*value);
    return value.has_value();
  });
}

Schema<Step> step_schema() {
  return {{text("name", optional, &Step::name),
           quantity("speed_rpm", required, kSpeed, &Step::speed, rpm), slope_of_step(),
           time_of_step(), quantity("dwell_s", required, kTime, &Step::dwell, seconds)},
          {{"ramp_rpm_s", "ramp_s"}},
          {}};
}

struct Stop {
  Ramp slope;
};

Field<Profile> stop_field() {
  const Schema<Stop> schema{
      {quantity("ramp_rpm_s", required, kSlope, &Stop::slope, rpm_per_s)}, {}, {}};
  return custom<Profile>("stop", required, "an object {\"ramp_rpm_s\": …}",
                         [schema](const Place& place, Profile& into) {
                           Stop stop;
                           const bool good = read_object(place, schema, stop);
                           into.stop_ramp = stop.slope;
                           return good;
                         });
}

Conflicts nothing_turns(const Profile& profile) {
  for (const Step& step : profile.steps)
    if (step.speed != Speed{})
      return {};
  return {{"steps", "no step with a speed above 0", "at least one step that turns the plate",
           "give a step its speed"}};
}

Schema<Profile> profile_schema() {
  return {{text("name", optional, &Profile::name),
           list("steps", required, 1, kMostSteps, step_schema(), &Profile::steps), stop_field()},
          {},
          {{{"steps"}, nothing_turns}}};
}

} // namespace

Read<profile::Profile> read_profile(std::string_view text, const std::string& file) {
  return read_file(text, file, "profile", profile_schema());
}

} // namespace whirler::files
