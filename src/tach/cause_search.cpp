#include "cause_search.hpp"

#include "causes_in_time.hpp"
#include "mount_motion.hpp"
#include "statistics.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace whirler::tach {

std::string_view word(Cause cause) {
  constexpr std::array<std::string_view, 19> kWords{"off_centre",
                                                    "uneven_marks",
                                                    "uneven_marks_or_cogging",
                                                    "out_of_plumb",
                                                    "loop_answers_marks",
                                                    "cogging",
                                                    "loose_plate",
                                                    "hunting",
                                                    "dropped_pulses",
                                                    "at_natural_speed",
                                                    "stuck_at_natural_speed",
                                                    "second_natural_speed",
                                                    "near_once_a_turn",
                                                    "one_mark",
                                                    "two_marks",
                                                    "no_index",
                                                    "sprung_sensor",
                                                    "stiff_mount",
                                                    "run_too_short"};
  return kWords[static_cast<std::size_t>(cause)];
}

namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kSure = 1e-4;
constexpr double kNearNatural = 0.2;  ///< of the natural speed
constexpr double kStiff = 0.3;        ///< speed over natural speed; slower shows under a tenth
constexpr double kWorthSaying = 5e-5; ///< rad; less is nobody's concern

std::string rpm_text(double rad_per_s_value) {
  return number_text(rad_per_s_value * 60.0 / kTwoPi, 4) + " rpm";
}

/// The mount's natural speed as far as anything tells it, rad/s; 0 if not known. Of two the one
/// that is nearer to the figure's speed.
double natural_speed(const CauseSearch& s) {
  const auto& run_up = s.analysis.run_up;
  if (!run_up || !run_up->mount.found)
    return s.recording.model.natural ? kTwoPi * s.recording.model.natural->Hz() : 0.0;
  const double first = kTwoPi * run_up->mount.natural.Hz();
  const auto& second = run_up->fitting.front().second;
  if (!second)
    return first;
  const double other = kTwoPi * second->natural.Hz();
  const auto away = [&](double natural) {
    return std::abs(std::log(natural / s.analysis.figure.speed.rad_per_s()));
  };
  return away(other) < away(first) ? other : first;
}

void ask_off_centre(const CauseSearch& s, std::vector<Finding>& out) {
  const Analysis& a = s.analysis;
  const double size = a.figure.amplitude.rad();
  if (a.pattern_from == PatternFrom::nothing || a.figure.p_value > kSure ||
      a.figure.interval.low.rad() <= 0.0 || size < kWorthSaying)
    return;
  const std::string next =
      "shift the plate on its hub, put a counter-mass on the rim, run slower, or drill a new blank";
  if (a.pattern_from == PatternFrom::baseline) {
    out.push_back({Cause::off_centre,
                   mrad(size) + " once per turn more than the bare hub has at the same speed",
                   next});
    return;
  }
  const RunUp& r = *a.run_up;
  std::string shows = mrad(size) + " once per turn at " + rpm_text(a.figure.speed.rad_per_s()) +
                      " that grows with speed squared";
  if (r.mount.found)
    shows += ", as on a mount of " + number_text(r.mount.natural.Hz()) + " Hz" +
             (r.fastest.rad_per_s() > kTwoPi * r.mount.natural.Hz()
                  ? ", and turns by 180 degrees through it"
                  : "");
  out.push_back({Cause::off_centre, shows, next});
}

/// Degrees out of plumb that would make it: the plate's weight on its offset, against the inertia;
/// none where the masses are not known. Over 90 there is no such angle.
std::optional<double> degrees_out_of_plumb(const CauseSearch& s) {
  constexpr double kGravity = 9.81; // m/s^2
  const RunUp& r = *s.analysis.run_up;
  if (!s.recording.model.inertia || !s.analysis.unbalance)
    return std::nullopt;
  const double torque = r.plumb.amplitude().rad() * s.recording.model.inertia->kg_m2() *
                        std::pow(r.slowest.rad_per_s(), 2);
  const double weight = s.analysis.unbalance->high.kg_m() * kGravity;
  return torque < weight ? std::asin(torque / weight) * 360.0 / kTwoPi : 180.0;
}

void ask_plumb(const CauseSearch& s, std::vector<Finding>& out) {
  constexpr double kSurely = 1e-6;
  constexpr double kCredible = 10.0; // degrees: more is seen without any pulses
  constexpr double kOfWhirl = 0.4;   // what a fit leaves of a whirl beside it may look like plumb
  // Where the plate moves or the whirl holds the speed, no one vector fits the whole run, and what
  // is left over looks like plumb.
  const bool unsteady = std::any_of(out.begin(), out.end(), [](const Finding& finding) {
    return finding.cause == Cause::loose_plate || finding.cause == Cause::stuck_at_natural_speed;
  });
  if (unsteady || !s.analysis.run_up || s.analysis.run_up->p_plumb > kSurely)
    return;
  const RunUp& r = *s.analysis.run_up;
  // A growth that no mount explains, or what the best one leaves, is as easily taken for it.
  constexpr double kGrows = 1e-4;
  if (r.left_over || (r.p_growth < kGrows && !r.mount.found))
    return;
  const double size = r.plumb.amplitude().rad();
  const double whirl = r.whirl_at(r.slowest).interval.high.rad();
  if (size < 2.0 * kWorthSaying || size < kOfWhirl * whirl)
    return;
  const std::string shows = mrad(size) + " once per turn at " + rpm_text(r.slowest.rad_per_s()) +
                            " that falls with speed squared";
  const auto degrees_out = degrees_out_of_plumb(s);
  if (degrees_out && *degrees_out > kCredible)
    out.push_back({Cause::loop_answers_marks,
                   shows +
                       ", far more than an axis out of plumb can make: the speed loop answers "
                       "the marks' unevenness with torque, or the motor cogs " +
                       std::to_string(s.survey.basis->marks - 1) + " or " +
                       std::to_string(s.survey.basis->marks + 1) + " times a turn",
                   "no unbalance; a loop that takes its speed from whole turns does not do it"});
  else
    out.push_back({Cause::out_of_plumb,
                   shows + (degrees_out ? ", as an axis " + number_text(*degrees_out, 2) +
                                              " degrees out of plumb makes"
                                        : ", as an axis out of plumb makes (or a speed loop that "
                                          "answers uneven marks)"),
                   "level the machine: the spindle's axis is not upright"});
}

/// The most that was asked for and the most that was reached, rad/s. A motor that sticks may hang
/// about there without a steady turn, so it is not the figure's speed that counts.
std::pair<double, double> asked_and_reached(const CauseSearch& s) {
  double asked = 0.0;
  for (const SpeedPoint& point : s.recording.asked)
    asked = std::max(asked, point.speed.rad_per_s());
  double reached = s.analysis.figure.speed.rad_per_s();
  for (const TracePoint& point : s.analysis.trace)
    reached = std::max(reached, point.speed.rad_per_s());
  return {asked, reached};
}

void ask_resonance(const CauseSearch& s, std::vector<Finding>& out) {
  const double natural = natural_speed(s);
  const double speed = s.analysis.figure.speed.rad_per_s();
  if (natural <= 0.0)
    return;
  const auto is_near = [&](double w) { return std::abs(w - natural) < kNearNatural * natural; };
  const bool near = is_near(speed);
  const auto [asked, reached] = asked_and_reached(s);
  if (is_near(reached) && asked > 1.1 * reached) {
    out.push_back({Cause::stuck_at_natural_speed,
                   rpm_text(asked) + " were asked for and " + rpm_text(reached) +
                       " reached, at the mount's natural speed of " + rpm_text(natural) +
                       ": the whirl takes the motor's torque",
                   "balance the plate, or use a stronger motor, a steeper ramp or more damping"});
    return;
  }
  if (near)
    out.push_back({Cause::at_natural_speed,
                   "the speed of " + rpm_text(speed) +
                       " is close to the mount's natural speed of " + rpm_text(natural),
                   "run well above or well below it"});
  if (speed < kStiff * natural)
    out.push_back({Cause::stiff_mount,
                   "at " + rpm_text(speed) + " a mount with its natural speed at " +
                       rpm_text(natural) + " shows only " +
                       number_text(100.0 * std::abs(steady_gain({natural, 0.05}, speed)), 2) +
                       " % of an unbalance as motion",
                   "run faster for the test, or put the spindle on a softer mount"});
}

void ask_near_turn(const CauseSearch& s, std::vector<Finding>& out) {
  const auto& run_up = s.analysis.run_up;
  if (!run_up || !run_up->left_over || !(run_up->left_over->order > 0.0))
    return;
  out.push_back({Cause::near_once_a_turn,
                 "of the run-up " + mrad(run_up->left_over->left.rad()) + " are left that come " +
                     number_text(run_up->left_over->order, 3) +
                     " times a turn, as from a belt or what slips on the spindle",
                 "no unbalance of the plate; look at the belt and its pulleys, and what turns "
                 "beside the spindle"});
}

void ask_second(const CauseSearch& s, std::vector<Finding>& out) {
  if (!s.analysis.run_up || !s.analysis.run_up->fitting.front().second)
    return;
  const RunUp& r = *s.analysis.run_up;
  const bool loose = std::any_of(out.begin(), out.end(), [](const Finding& finding) {
    return finding.cause == Cause::loose_plate;
  });
  // Two mounts stand in for what is none.
  if (loose || (r.left_over && r.left_over->order > 0.0))
    return;
  const double first = r.mount.natural.Hz();
  const double other = r.fitting.front().second->natural.Hz();
  out.push_back({Cause::second_natural_speed,
                 "the run-up fits natural speeds of " + number_text(std::min(first, other)) +
                     " and " + number_text(std::max(first, other)) +
                     " Hz and not one alone, as a mount that is softer in one direction makes, or "
                     "a spindle that also tilts",
                 "check the mount's feet and screws; turn the sensor by 45 degrees about the axis "
                 "to see which"});
}

/// Orders beyond the first that change between slow and fast turns as motor torque does.
void ask_marks(const CauseSearch& s, std::vector<Finding>& out) {
  if (s.pattern.late.size() < 3)
    return;
  const std::size_t n = s.pattern.late.size();
  const auto orders = orders_of(s.pattern);
  double square = 0.0;
  for (std::size_t order = 2; 2 * order <= n; ++order)
    square += std::norm(orders[order]) * (2 * order == n ? 1.0 : 0.5);
  if (s.analysis.pattern)
    square += 0.5 * std::pow(s.analysis.pattern->amplitude().rad(), 2);
  const double rms = std::sqrt(square);
  const auto cogging = cogging_order(s);
  if (cogging) {
    out.push_back({Cause::cogging,
                   "order " + std::to_string(cogging->order) + " is " + mrad(cogging->slow) +
                       " at " + rpm_text(cogging->slow_speed) + " and " + mrad(cogging->fast) +
                       " at " + rpm_text(cogging->fast_speed) + ", as the motor's poles make it",
                   "no harm; it fades with speed and is not unbalance"});
  }
  if (rms < std::max(2.0 * kWorthSaying, 6.0 * s.pattern.sd))
    return;
  const bool one_speed = !cogging_can_be_told(s);
  const std::string shows = "a pattern of " + mrad(rms) + " rms that repeats every turn" +
                            (one_speed ? "" : ", the same at every speed");
  out.push_back(
      {one_speed ? Cause::uneven_marks_or_cogging : Cause::uneven_marks, shows,
       s.analysis.pattern_from == PatternFrom::nothing
           ? "no harm by itself; nothing tells it from the plate yet, so it is in the figure"
           : "no harm: it is learnt and taken off"});
}

void ask_pulses(const CauseSearch& s, std::vector<Finding>& out) {
  const PulseCounts& c = s.analysis.figure.counts;
  if (c.faults() + c.breaks == 0)
    return;
  out.push_back(
      {Cause::dropped_pulses,
       std::to_string(c.missing) + " missing, " + std::to_string(c.doubled) + " too many, " +
           std::to_string(c.out_of_order) + " out of order, " + std::to_string(c.outliers) +
           " at impossible times, of " + std::to_string(c.pulses) +
           (c.breaks > 0 ? "; the count was lost " + std::to_string(c.breaks) + " times" : ""),
       "check the sensor's distance and the wiring"});
}

/// A mount that nobody named and no run-up passed may be too stiff to let any unbalance show.
void ask_unknown_mount(const CauseSearch& s, std::vector<Finding>& out) {
  const Analysis& a = s.analysis;
  const bool shown = std::any_of(out.begin(), out.end(), [](const Finding& finding) {
    return finding.cause == Cause::off_centre;
  });
  if (shown || natural_speed(s) > 0.0 || a.figure.axes == Axes::none || a.acceleration ||
      s.recording.model.sensor_on == SensorOn::sprung)
    return;
  const double speed = s.analysis.figure.speed.rad_per_s();
  out.push_back({Cause::stiff_mount,
                 "the mount's natural speed is not known, and one beyond " +
                     number_text(speed / kStiff / kTwoPi, 2) +
                     " Hz shows under a tenth of an unbalance as motion at " + rpm_text(speed),
                 "name it in the machine's file (mount.natural_hz), or run faster"});
}

/// What this record cannot tell, and what to add.
void ask_limits_of_sight(const CauseSearch& s, std::vector<Finding>& out) {
  const Analysis& a = s.analysis;
  if (s.recording.model.sensor_on == SensorOn::sprung)
    out.push_back({Cause::sprung_sensor,
                   "on the sprung body the sensor moves with the spindle and sees only how the "
                   "shaft bends",
                   "stand it on ground that the mount does not carry"});
  if (a.figure.axes == Axes::none)
    out.push_back({Cause::one_mark, "one mark a turn shows the speed and nothing of a steady whirl",
                   "use three marks a turn or more"});
  if (a.figure.axes == Axes::one)
    out.push_back({Cause::two_marks, "two marks show the motion along one direction, and no angle",
                   "use three marks a turn or more"});
  if (a.figure.axes == Axes::both && !s.survey.marked.has_index && !a.figure.phase)
    out.push_back({Cause::no_index, "even marks without an index show an amplitude and no angle",
                   "number the marks from an index mark"});
  const double limit = [&] {
    const FigureLimits& l = s.recording.model.limits;
    return l.watch_angle ? l.watch_angle->rad() : l.stop_angle ? l.stop_angle->rad() : 0.0;
  }();
  const double width = (a.figure.interval.high - a.figure.interval.low).rad();
  if (a.figure.axes != Axes::none && (a.figure.turns < 20 || (limit > 0.0 && width > limit)) &&
      a.figure.turns < 100)
    out.push_back(
        {Cause::run_too_short,
         std::to_string(a.figure.turns) + " turns at a steady speed leave " + mrad(width) + " open",
         "hold the speed for longer"});
}

} // namespace

std::string mrad(double rad) { return number_text(rad * 1e3) + " mrad"; }

std::vector<Finding> find_causes(const CauseSearch& search) {
  std::vector<Finding> out;
  ask_off_centre(search, out);
  ask_resonance(search, out);
  ask_loose(search, out);
  ask_second(search, out);
  ask_near_turn(search, out);
  ask_hunting(search, out);
  ask_plumb(search, out);
  ask_marks(search, out);
  ask_pulses(search, out);
  ask_unknown_mount(search, out);
  ask_limits_of_sight(search, out);
  return out;
}

} // namespace whirler::tach
