#include "whirler/profile/timeline.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <string>

namespace whirler::profile {
namespace {

std::string place(const Profile& profile, std::size_t index) {
  const std::string& name = profile.steps[index].name;
  return "step " + std::to_string(index + 1) + (name.empty() ? "" : " '" + name + "'");
}

class FaultList {
 public:
  /// Adds a fault unless `value` is finite and zero or more (`above_zero`: more than zero).
  template <class Q>
  void require(Q value, bool above_zero, const std::string& where, const std::string& what) {
    if (value.is_finite() && (above_zero ? value.si() > 0.0 : value.si() >= 0.0))
      return;
    const std::string found = value.is_finite() ? number_text(value.si()) : "not a finite number";
    found_.push_back(input_fault(what + " is " + found, where,
                                 above_zero ? "give a finite " + what + " above 0"
                                            : "give a finite " + what + " of 0 or more"));
  }
  void add(Fault fault) { found_.push_back(std::move(fault)); }
  [[nodiscard]] std::vector<Fault> take() && { return std::move(found_); }

 private:
  std::vector<Fault> found_;
};

void check_step(FaultList& faults, const Step& step, const std::string& where) {
  faults.require(step.speed, false, where, "speed");
  if (const auto* slope = std::get_if<Ramp>(&step.approach))
    faults.require(*slope, true, where, "ramp");
  else
    faults.require(std::get<Duration>(step.approach), false, where, "ramp time");
  faults.require(step.dwell, false, where, "dwell");
}

struct Leg {
  Ramp slope;
  Duration time;
};

Leg leg(Speed from, Speed to, const Approach& approach) {
  const double change = std::abs(to.rad_per_s() - from.rad_per_s());
  if (const auto* slope = std::get_if<Ramp>(&approach))
    return change == 0.0 ? Leg{} : Leg{*slope, seconds(change / slope->rad_per_s2())};
  const Duration time = std::get<Duration>(approach);
  return {time.s() > 0.0 ? rad_per_s2(change / time.s()) : Ramp{}, time};
}

void add_knots(SpeedCurve& curve, const Segment& segment) {
  if (segment.ramp > Duration{} || segment.is_jump())
    curve.push_back({segment.dwell_start(), segment.to});
  if (segment.dwell > Duration{})
    curve.push_back({segment.end(), segment.to});
}

void add_segment(Timeline& laid, std::size_t step, Speed to, const Approach& approach,
                 Duration dwell) {
  const bool first = laid.segments.empty();
  const Speed from = first ? Speed{} : laid.segments.back().to;
  const auto [slope, time] = leg(from, to, approach);
  laid.segments.push_back({.step = step,
                           .from = from,
                           .to = to,
                           .slope = slope,
                           .start = first ? Duration{} : laid.segments.back().end(),
                           .ramp = time,
                           .dwell = dwell});
  add_knots(laid.curve, laid.segments.back());
}

} // namespace

bool Timeline::has_jump() const {
  return std::any_of(segments.begin(), segments.end(),
                     [](const Segment& s) { return s.is_jump(); });
}

Speed Timeline::top_speed() const {
  Speed top;
  for (const Segment& segment : segments)
    top = std::max(top, segment.to);
  return top;
}

Ramp Timeline::steepest() const {
  Ramp steepest;
  for (const Segment& segment : segments)
    steepest = std::max(steepest, segment.slope);
  return steepest;
}

std::vector<Fault> faults_of(const Profile& profile) {
  FaultList faults;
  if (profile.steps.empty())
    faults.add(input_fault("the profile has no steps", profile.name, "give it at least one step"));
  for (std::size_t i = 0; i < profile.steps.size(); ++i)
    check_step(faults, profile.steps[i], place(profile, i));
  faults.require(profile.stop_ramp, true, "stop", "ramp");
  const bool turns = std::any_of(profile.steps.begin(), profile.steps.end(),
                                 [](const Step& s) { return s.speed != Speed{}; });
  if (!profile.steps.empty() && !turns)
    faults.add(input_fault("no step turns the plate", profile.name,
                           "give at least one step a speed above 0"));
  return std::move(faults).take();
}

Result<Timeline> timeline(const Profile& profile) {
  if (auto faults = faults_of(profile); !faults.empty())
    return std::move(faults.front());
  Timeline laid;
  laid.curve.push_back({});
  for (std::size_t i = 0; i < profile.steps.size(); ++i)
    add_segment(laid, i, profile.steps[i].speed, profile.steps[i].approach, profile.steps[i].dwell);
  add_segment(laid, profile.steps.size(), Speed{}, profile.stop_ramp, Duration{});
  if (!laid.total().is_finite())
    return input_fault("the profile is too long to count", profile.name,
                       "give shorter dwells or steeper ramps");
  return laid;
}

Speed speed_at(const Timeline& timeline, Duration t) {
  return whirler::speed_at(timeline.curve, t);
}

const Segment& segment_at(const Timeline& timeline, Duration t) {
  const auto& all = timeline.segments;
  const auto after = std::upper_bound(all.begin(), all.end(), t,
                                      [](Duration at, const Segment& s) { return at < s.start; });
  return after == all.begin() ? all.front() : *(after - 1);
}

} // namespace whirler::profile
