#include "whirler/tach/verdict.hpp"

#include "whirler/units/text.hpp"

#include <array>

namespace whirler::tach {

std::string_view word(Verdict verdict) {
  constexpr std::array<std::string_view, 4> kWords{"even", "watch", "stop", "cannot_tell"};
  return kWords[static_cast<std::size_t>(verdict)];
}

namespace {

/// The figure in the terms of the limit that it is held against.
struct Held {
  double low;
  double estimate;
  double high;
  std::optional<double> watch;
  std::optional<double> stop;
  std::string_view unit;
  std::string_view what;
};

std::string with_unit(double value, std::string_view unit) {
  return number_text(value) + " " + std::string(unit);
}

std::string seen(const Held& held, const Evidence& evidence) {
  if (is_lower_bound(evidence.figure.axes, evidence.pattern_from, evidence.by_acceleration))
    return std::string(held.what) + " at least " + with_unit(held.low, held.unit);
  return std::string(held.what) + " " + with_unit(held.estimate, held.unit) +
         " (95 %: " + number_text(held.low) + " to " + number_text(held.high) + ")";
}

Judgement cannot_tell(std::string reason, std::string add) {
  return {Verdict::cannot_tell, std::move(reason), std::move(add)};
}

std::optional<Judgement> cannot_see(const Evidence& evidence, const SpinnerModel& model) {
  if (model.sensor_on == SensorOn::sprung)
    return cannot_tell("the sensor rides on the sprung body and sees only how the shaft bends, not "
                       "how the spindle whirls",
                       "stand the sensor on ground that the mount does not carry");
  if (evidence.figure.axes == Axes::none)
    return cannot_tell("with one mark a turn a steady whirl shifts every pulse alike and shows "
                       "nothing",
                       "use three marks a turn or more");
  if (evidence.pattern_from == PatternFrom::nothing)
    return cannot_tell("at one speed the whirl of a plate off its centre looks the same as marks "
                       "that are not evenly spaced",
                       "record the bare hub at the same speed as a baseline, or the run-up from "
                       "slow through this speed");
  return std::nullopt;
}

Held by_velocity(const Evidence& e, const SpinnerModel& m) {
  const auto mm_s = [](const std::optional<Velocity>& v) {
    return v ? std::optional(v->mm_per_s()) : std::nullopt;
  };
  return {e.velocity->low.mm_per_s(),   e.velocity->estimate.mm_per_s(),
          e.velocity->high.mm_per_s(),  mm_s(m.limits.watch_velocity),
          mm_s(m.limits.stop_velocity), "mm/s",
          "unbalance e times omega"};
}

/// F = U omega^2, and e times omega is U omega / m of all that turns.
Held by_force(const Evidence& e, const SpinnerModel& m) {
  const double per_velocity = m.rotor_mass->kg() * e.figure.speed.rad_per_s();
  const auto newton = [](const std::optional<Force>& f) {
    return f ? std::optional(f->N()) : std::nullopt;
  };
  return {per_velocity * e.velocity->low.m_per_s(),
          per_velocity * e.velocity->estimate.m_per_s(),
          per_velocity * e.velocity->high.m_per_s(),
          newton(m.limits.watch_force),
          newton(m.limits.stop_force),
          "N",
          "force of the unbalance"};
}

Held by_unbalance(const Evidence& e, const SpinnerModel& m) {
  return m.limits.any_force() ? by_force(e, m) : by_velocity(e, m);
}

Held by_angle(const Evidence& e, const SpinnerModel& m) {
  const auto mrad = [](const std::optional<Angle>& a) {
    return a ? std::optional(a->mrad()) : std::nullopt;
  };
  return {e.figure.interval.low.mrad(),
          e.figure.amplitude.mrad(),
          e.figure.interval.high.mrad(),
          mrad(m.limits.watch_angle),
          mrad(m.limits.stop_angle),
          "mrad",
          "once per turn"};
}

/// What would narrow the interval.
std::string settle(const Evidence& evidence) {
  if (!evidence.marks_aligned)
    return "record with an index mark, run and baseline: which mark is which is not known";
  if (!evidence.mount_known)
    return "record the bare hub at the same speed as a baseline, begin the run slower, or give the "
           "mount's natural speed in the machine file";
  return "record for longer, or with more marks";
}

Judgement undecided(const Held& held, double limit, std::string_view which, const Evidence& e) {
  if (e.figure.axes == Axes::one)
    return cannot_tell(seen(held, e) + " along one direction: with two marks the whole may be more",
                       "use three marks a turn or more");
  return cannot_tell(seen(held, e) + ": the interval reaches over the " + std::string(which) +
                         " limit of " + with_unit(limit, held.unit),
                     settle(e));
}

Judgement against(const Held& held, const Evidence& e) {
  if (held.stop && held.low > *held.stop)
    return {Verdict::stop,
            seen(held, e) + ", over the stop limit of " + with_unit(*held.stop, held.unit) +
                ": do not run this plate at this speed; re-centre or balance it, or run slower",
            ""};
  // Without a watch limit the stop limit is the one to keep under.
  const double watch = held.watch.value_or(held.stop.value_or(0.0));
  const std::string which = held.watch ? "watch" : "stop";
  if (held.high < watch && e.figure.axes == Axes::both)
    return {Verdict::even,
            seen(held, e) + ", under the " + which + " limit of " + with_unit(watch, held.unit),
            ""};
  // A best guess among mounts that all fit is no estimate to act on.
  const double estimate = e.mount_known && e.marks_aligned ? held.estimate : held.low;
  if (estimate > watch)
    return {Verdict::watch,
            seen(held, e) + ", over the " + which + " limit of " + with_unit(watch, held.unit) +
                ": check how the plate sits before the next coat",
            ""};
  return undecided(held, watch, which, e);
}

} // namespace

bool is_lower_bound(Axes axes, PatternFrom pattern_from, bool by_acceleration) {
  return axes == Axes::one && pattern_from == PatternFrom::baseline && !by_acceleration;
}

Judgement judge(const Evidence& evidence, const SpinnerModel& model) {
  const FigureLimits& limits = model.limits;
  if (evidence.by_acceleration && evidence.velocity && limits.any_unbalance())
    return against(by_unbalance(evidence, model), evidence);
  if (auto blind = cannot_see(evidence, model))
    return *blind;
  if (evidence.velocity && limits.any_unbalance())
    return against(by_unbalance(evidence, model), evidence);
  if (limits.any_angle())
    return against(by_angle(evidence, model), evidence);
  if (limits.any_unbalance())
    return cannot_tell("the limits are in " + std::string(limits.any_force() ? "newton" : "mm/s") +
                           ", and the angle cannot be turned into it: mark "
                           "radius, masses and the mount's natural speed are not all known",
                       "give the machine file's mount, or limits in mrad");
  return cannot_tell("there is no limit to hold it against",
                     "give watch and stop limits, in the machine file's jitter or on the command "
                     "line");
}

} // namespace whirler::tach
