#include "verdict_doubts.hpp"

#include "mark_count.hpp"
#include "named_mount.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::tach {

void doubt_named_mount(Analysis& out, const SpinnerModel& model) {
  if (!out.run_up || !out.run_up->against_named)
    return;
  const MountEstimate& mount = out.run_up->mount;
  const std::string better =
      mount.found ? "were made on a mount of " + number_text(mount.natural.Hz()) + " Hz"
                  : "fit another mount better";
  out.judgement.reason += "; the machine's file names a mount of " +
                          number_text(model.natural->Hz()) + " Hz, but these pulses " + better +
                          ": put it right, the running watch goes by it too";
  if (out.judgement.verdict == Verdict::cannot_tell)
    out.judgement.add = "correct mount.natural_hz and mount.damping in the machine's file, or name "
                        "the machine that was run";
}

void lean_on_named_mount(Analysis& out, const Evidence& evidence, const SpinnerModel& model) {
  constexpr double kWrongBy = 0.2; // of a natural speed that was guessed from a similar mount
  constexpr double kMatters = 0.1; // of the figure
  const bool seen = out.run_up && out.run_up->mount.found;
  if (seen || evidence.by_acceleration || !evidence.velocity || !model.natural)
    return;
  const OrderOne& f = out.figure;
  const auto far = [&](double share) {
    SpinnerModel other = model;
    other.natural = share * *model.natural;
    return far_above({f.interval.low.rad(), f.amplitude.rad(), f.interval.high.rad()}, other,
                     f.speed.rad_per_s(), 0.0)
        .estimate;
  };
  const double as_named = far(1.0);
  const double softer = far(1.0 - kWrongBy) / as_named;
  const double stiffer = far(1.0 + kWrongBy) / as_named;
  if (!(as_named > 0.0) || std::max(std::abs(softer - 1.0), std::abs(stiffer - 1.0)) < kMatters)
    return;
  const auto is_even = [&](double times) {
    Evidence other = evidence;
    other.velocity = {times * evidence.velocity->low, times * evidence.velocity->estimate,
                      times * evidence.velocity->high};
    return judge(other, model).verdict == Verdict::even;
  };
  if (out.judgement.verdict == Verdict::even && is_even(softer) && is_even(stiffer))
    return;
  const double mm_s = evidence.velocity->estimate.mm_per_s();
  out.judgement.reason +=
      "; this leans on the machine file's mount of " + number_text(model.natural->Hz()) +
      " Hz, which this run does not show: " + "at " +
      number_text((1.0 - kWrongBy) * model.natural->Hz()) + " Hz it would be " +
      number_text(softer * mm_s) + " mm/s, at " +
      number_text((1.0 + kWrongBy) * model.natural->Hz()) + " Hz " + number_text(stiffer * mm_s);
}

void doubt_fit(Analysis& out) {
  const bool rests_on_it =
      out.pattern_from == PatternFrom::run_up || out.pattern_from == PatternFrom::slow_running;
  if (!rests_on_it || !out.run_up || !out.run_up->misfit)
    return;
  const RunUp& r = *out.run_up;
  const auto mrad = [](const Misfit& m) { return number_text(m.left.mrad(), 2) + " mrad"; };
  std::string& reason = out.judgement.reason;
  if (const auto& second = r.fitting.front().second)
    reason += "; the run-up does not fit one mount, which leaves " + mrad(*r.misfit) +
              " once per turn: natural speeds of " + number_text(r.mount.natural.Hz()) + " and " +
              number_text(second->natural.Hz()) + " Hz do";
  if (!r.left_over)
    return;
  reason +=
      (r.fitting.front().second ? std::string("; but ") + mrad(*r.left_over) + " are left"
                                : "; the run-up does not fit one mount: " + mrad(*r.left_over) +
                                      " once per turn are left") +
      " that none makes, and the interval is wider for it";
  if (out.judgement.verdict != Verdict::even)
    return;
  out.judgement.verdict = Verdict::cannot_tell;
  out.judgement.add = "find what else moves near once a turn (see the causes), or record the bare "
                      "hub at the same speed as a baseline";
}

void hold_to_top_speed(Analysis& out, const Evidence& evidence, const SpinnerModel& model) {
  Speed top = out.figure.speed;
  for (const TracePoint& point : out.trace)
    top = std::max(top, point.speed);
  constexpr double kFaster = 1.2;
  const double ratio = top / out.figure.speed;
  if (out.judgement.verdict != Verdict::even || ratio < kFaster)
    return;
  const std::string where = "at " + number_text(top.rpm(), 4) + " rpm, which the run reached, ";
  if (!evidence.velocity || !model.limits.any_unbalance()) {
    out.judgement = {Verdict::cannot_tell,
                     out.judgement.reason + ", but only of " +
                         number_text(out.figure.speed.rpm(), 4) + " rpm: nothing was seen " +
                         where + "for long enough",
                     "let the run dwell at its highest speed"};
    return;
  }
  Evidence there = evidence;
  there.figure.speed = top;
  there.velocity = {ratio * evidence.velocity->low, ratio * evidence.velocity->estimate,
                    ratio * evidence.velocity->high};
  if (Judgement further = judge(there, model); further.verdict != Verdict::even) {
    further.reason = where + "it would be: " + further.reason;
    out.judgement = std::move(further);
  }
}

void doubt_moving_plate(Analysis& out) {
  const bool open =
      out.judgement.verdict == Verdict::even || out.judgement.verdict == Verdict::cannot_tell;
  for (const Finding& finding : out.findings)
    if (finding.cause == Cause::loose_plate && open) {
      out.judgement.verdict = Verdict::cannot_tell;
      out.judgement.reason += "; but " + finding.shows;
      out.judgement.add = finding.next + ", then run it again";
    }
}

void say_unused(Analysis& out, const std::string& why, const SpinnerModel& model) {
  if (why.empty() || out.figure.axes == Axes::none || model.sensor_on == SensorOn::sprung)
    return;
  out.judgement.reason += "; " + why;
  if (out.judgement.verdict == Verdict::cannot_tell)
    out.judgement.add =
        why.find("holds no speed") != std::string::npos
            ? "hold the speed for longer, a second or more"
            : "record the bare hub anew: the same disc and index, at the same speed";
}

std::optional<Fault> doubt_count(std::span<const std::int64_t> ticks, std::size_t marks) {
  const auto seen = repeats_after(ticks, marks);
  if (!seen)
    return std::nullopt;
  return input_fault("the marks' pattern comes again after " + std::to_string(*seen) +
                         " pulses, not after " + std::to_string(marks),
                     "tach pulses", "check the number of marks a turn");
}

void doubt_halves(Analysis& out, std::span<const std::int64_t> ticks, std::size_t marks) {
  const auto part = part_of_turn(ticks, marks);
  const bool over =
      out.judgement.verdict == Verdict::stop || out.judgement.verdict == Verdict::watch;
  const bool moved = out.run_up && out.run_up->moved; // or the marks are not what they are said
  if (!part || (over && !moved))
    return;
  const std::string times = std::to_string(marks / *part);
  out.judgement.reason += "; but all that is seen comes again after " + std::to_string(*part) +
                          " pulses, " + times + " times in " + std::to_string(marks) +
                          ": either there are " + std::to_string(*part) +
                          " marks a turn, or the motor cogs " + times + " times a turn";
  out.judgement.add = "count the marks, or number them from an index mark";
  out.judgement.verdict = Verdict::cannot_tell;
}

} // namespace whirler::tach
