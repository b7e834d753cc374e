#include "run_vibration.hpp"

#include "jitter_answer.hpp"
#include "whirler/run/state_machine.hpp"
#include "whirler/units/text.hpp"

namespace whirler::cli {
namespace {

using run::Ending;

tach::Verdict verdict_from_word(const std::string& word) {
  for (const auto verdict : {tach::Verdict::even, tach::Verdict::watch, tach::Verdict::stop})
    if (word == tach::word(verdict))
      return verdict;
  return tach::Verdict::cannot_tell;
}

/// Of what was seen while it turned.
std::string live_reason(const session::Summary& summary) {
  if (summary.ending == Ending::imbalance)
    return summary.cause;
  if (!summary.has_tach)
    return kNoTach;
  if (!summary.jitter)
    return "no dwell long enough, or marks or a sensor that cannot show it: whirler jitter says "
           "which, and what to add";
  if (summary.jitter->verdict == tach::Verdict::cannot_tell)
    return summary.jitter->reason;
  return "the dwell over a limit, else the fastest, as it ran; whirler jitter tells causes and "
         "cures";
}

std::string figure_text(Angle amplitude, const tach::AngleInterval& interval, Speed speed,
                        bool pattern_known) {
  return number_text(amplitude.mrad(), 3) + " mrad (95 %: " + number_text(interval.low.mrad(), 3) +
         " to " + number_text(interval.high.mrad(), 3) + ") at " + number_text(speed.rpm(), 4) +
         (pattern_known ? " rpm" : " rpm, marks and plate together");
}

Vibration live_vibration(const session::Summary& summary) {
  Vibration seen;
  seen.judgement.reason = live_reason(summary);
  if (!summary.jitter) {
    seen.document = {{"once_per_turn", nullptr}};
  } else {
    const tach::LiveFigure& figure = *summary.jitter;
    seen.judgement.verdict = figure.verdict;
    seen.figure =
        figure_text(figure.amplitude, figure.interval, figure.speed, figure.pattern_known);
    seen.document = {{"once_per_turn",
                      {{"amplitude_mrad", figure.amplitude.mrad()},
                       {"interval_mrad", {figure.interval.low.mrad(), figure.interval.high.mrad()}},
                       {"pattern_known", figure.pattern_known}}},
                     {"speed_rpm", figure.speed.rpm()}};
  }
  seen.document["verdict"] = tach::word(seen.judgement.verdict);
  seen.document["reason"] = seen.judgement.reason;
  return seen;
}

} // namespace

tach::Judgement judgement_of(const notebook::Coat& coat, const CoatReading& reading) {
  if (coat.end && run::ending_from_word(coat.end->outcome) == Ending::imbalance)
    return {tach::Verdict::stop, coat.end->cause, ""};
  if (reading.jitter)
    return reading.jitter->judgement;
  return {verdict_from_word(coat.end ? coat.end->verdict : ""),
          coat.end ? "as it was judged while it ran" : "there are too few pulses", ""};
}

Vibration vibration_of(const session::Summary& summary, const CoatReading* reading,
                       const std::string& source) {
  if (summary.ending == Ending::imbalance || reading == nullptr || !reading->jitter)
    return live_vibration(summary);
  const tach::Analysis& a = *reading->jitter;
  const bool pattern_known = a.pattern.has_value();
  Vibration judged{a.judgement, jitter_json(a, reading->spinner, source), ""};
  judged.document["once_per_turn"]["pattern_known"] = pattern_known;
  if (a.figure.axes != tach::Axes::none)
    judged.figure =
        figure_text(a.figure.amplitude, a.figure.interval, a.figure.speed, pattern_known);
  return judged;
}

} // namespace whirler::cli
