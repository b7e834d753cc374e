#include "unbalance_of.hpp"

#include "complex_vector.hpp"
#include "named_mount.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

/// Far whirl (rad) with its bounds: by the run-up where it has found the mount, else by the mount
/// that the machine file names, over the dampings that it leaves open.
struct FarWhirl {
  double low;
  double estimate;
  double high;
  double phase; ///< of K, rad
};

/// Known masses were recovered to 6 % (see run_up_account.cpp): the bounds promise no more.
constexpr double kAtBest = 0.06;

FarWhirl far_by_named_mount(const Analysis& out, const SpinnerModel& model) {
  const OrderOne& f = out.figure;
  const double w = f.speed.rad_per_s();
  const Bounded far = far_above({f.interval.low.rad(), f.amplitude.rad(), f.interval.high.rad()},
                                model, w, kAtBest);
  const Complex gain = steady_gain(as_named(model), w);
  return {far.low, far.estimate, far.high, std::arg(as_complex(f.vector) / std::conj(gain))};
}

/// Whether one says to stop or to watch, and the other less.
bool is_worse(Verdict one, Verdict other) {
  const auto rank = [](Verdict v) { return v == Verdict::stop ? 2 : v == Verdict::watch ? 1 : 0; };
  return rank(one) > rank(other);
}

/// Marks and accelerometer that cannot both be right.
std::optional<AccelerationDoubt> contradiction(const VelocityInterval& samples,
                                               const Analysis& by_marks) {
  constexpr double kBothAtBest = 0.15; // of either, beside its interval
  if (!by_marks.velocity || by_marks.figure.axes != Axes::both)
    return std::nullopt;
  const VelocityInterval& marks = *by_marks.velocity;
  const double apart = std::max(marks.low.m_per_s() - samples.high.m_per_s(),
                                samples.low.m_per_s() - marks.high.m_per_s());
  const double larger = std::max(marks.estimate.m_per_s(), samples.estimate.m_per_s());
  if (apart < kBothAtBest * larger)
    return std::nullopt;
  return AccelerationDoubt{"its samples say " + number_text(samples.estimate.mm_per_s()) +
                               " mm/s, the marks " + number_text(marks.estimate.mm_per_s()) +
                               " mm/s",
                           "check the accelerometer's scale and axis, and the mount's figures"};
}

/// An even plate shows something once a turn, if little; a sensor that is dead shows nothing at
/// all.
constexpr double kNothing = 0.01; ///< chance of noise alone beyond which nothing is shown
/// A hundredth of the finest balance grade (ISO 21940-11: G 0.4): no rotor is so even.
constexpr Velocity kNoRotor = millimetres_per_s(0.004);

std::optional<AccelerationDoubt> dead(const AccelerationFigure& figure,
                                      const VelocityInterval& velocity) {
  if (figure.p_value < kNothing || velocity.high > kNoRotor)
    return std::nullopt;
  return AccelerationDoubt{"nothing once per turn is in its samples, less than any rotor makes: it "
                           "may be dead",
                           "tap the machine's body and see that the samples show it"};
}

/// Of two natural speeds: a mount softer in one direction shows in the sum of both what moves on
/// it, a second mode what the first one alone makes. The pulses hardly tell which, so the bounds
/// hold both: in one direction the two stand square to each other, and then the sum is surely it.
/// A part that is less than half of the other is taken for the mode beside it.
FarWhirl far_by_run_up(const RunUp& r) {
  const Whirl far = r.far_whirl();
  FarWhirl out{far.interval.low.rad(), far.vector.amplitude().rad(), far.interval.high.rad(),
               far.vector.phase().rad()};
  const auto& second = r.fitting.front().second;
  if (!second)
    return out;
  constexpr double kSquare = 0.35;    // cosine of the angle between them, at most
  constexpr double kMostApart = 0.65; // ln: three and a half times as stiff one way as the other
  const double one = r.far_above.amplitude().rad();
  const double other = second->far_above.amplitude().rad();
  const double between = (second->far_above.phase() - r.far_above.phase()).rad();
  const double apart = std::abs(std::log(second->natural.Hz() / r.mount.natural.Hz()));
  const bool across = std::abs(std::cos(between)) < kSquare && apart < kMostApart;
  const double least = across
                           ? out.estimate
                           : std::min(out.estimate, 2.0 * other > one ? std::min(one, other) : one);
  const double most = across ? out.estimate : std::max({out.estimate, one, other});
  out.low = std::min(out.low, (1.0 - kAtBest) * least);
  out.high = std::max(out.high, (1.0 + kAtBest) * most);
  return out;
}

} // namespace

void weigh_unbalance(Analysis& out, const SpinnerModel& model) {
  if (!model.mark_radius || !model.moving_mass || out.pattern_from == PatternFrom::nothing ||
      out.figure.axes == Axes::none)
    return;
  if (model.sensor_on == SensorOn::sprung) // it sees the shaft bend, and no whirl to weigh
    return;
  const bool seen =
      out.run_up && out.run_up->mount.found &&
      (out.pattern_from != PatternFrom::baseline || out.run_up->fitting.front().second);
  if (!seen && (!model.natural || (out.run_up && out.run_up->against_named)))
    return;
  const FarWhirl far = seen ? far_by_run_up(*out.run_up) : far_by_named_mount(out, model);
  const double to_unbalance = model.moving_mass->kg() * model.mark_radius->m();
  UnbalanceFigure u{kilogram_metres(far.low * to_unbalance),
                    kilogram_metres(far.estimate * to_unbalance),
                    kilogram_metres(far.high * to_unbalance), std::nullopt};
  constexpr double kShown = 0.05; // a chance of noise alone beyond which there is no direction
  if (out.figure.phase && out.figure.p_value < kShown) // arg K = -90 degrees - heavy side
    u.heavy_side = radians(std::fmod(-0.25 * kTwoPi - far.phase + 2.0 * kTwoPi, kTwoPi));
  out.unbalance = u;
  if (!model.rotor_mass)
    return;
  const double to_velocity = out.figure.speed.rad_per_s() / model.rotor_mass->kg();
  out.velocity = VelocityInterval{metres_per_s(u.low.kg_m() * to_velocity),
                                  metres_per_s(u.estimate.kg_m() * to_velocity),
                                  metres_per_s(u.high.kg_m() * to_velocity)};
}

std::optional<Fault> weigh_acceleration(Analysis& out, const Recording& recording,
                                        Evidence& evidence) {
  const SpinnerModel& model = recording.model;
  const auto figure = order_one(recording.pulses, model.marks_per_turn, *recording.acceleration);
  if (!figure)
    return figure.fault();
  out.acceleration = *figure;
  const auto velocity = velocity_of(*figure, model);
  if (!velocity)
    return std::nullopt;
  Evidence by_samples = evidence;
  by_samples.velocity = velocity;
  by_samples.by_acceleration = true;
  by_samples.figure.axes = Axes::both;
  by_samples.mount_known = true;
  const Judgement judged = judge(by_samples, model);
  auto doubt = figure->doubt;
  if (!doubt)
    doubt = contradiction(*velocity, out);
  if (!doubt)
    doubt = dead(*figure, *velocity);
  if (doubt && !is_worse(judged.verdict, out.judgement.verdict)) {
    out.judgement.reason += "; the accelerometer is not believed: " + doubt->what;
    if (out.judgement.verdict == Verdict::cannot_tell)
      out.judgement.add = doubt->next + "; or " + out.judgement.add;
    return std::nullopt;
  }
  out.judgement = judged;
  if (doubt)
    out.judgement.reason += "; " + doubt->what;
  else if (judged.verdict == Verdict::even && figure->p_value > kNothing)
    out.judgement.reason += "; the accelerometer shows nothing once per turn: tap the machine's "
                            "body once and see that the samples show it";
  evidence = by_samples;
  out.velocity = *velocity;
  const double to_unbalance = model.rotor_mass->kg() / figure->speed.rad_per_s();
  out.unbalance =
      UnbalanceFigure{kilogram_metres(velocity->low.m_per_s() * to_unbalance),
                      kilogram_metres(velocity->estimate.m_per_s() * to_unbalance),
                      kilogram_metres(velocity->high.m_per_s() * to_unbalance), std::nullopt};
  return std::nullopt;
}

} // namespace whirler::tach
