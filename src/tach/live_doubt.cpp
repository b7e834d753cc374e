#include "live_doubt.hpp"

namespace whirler::tach {
namespace {

/// The mount that nobody named is what most doubt comes from.
std::string to_add(const SpinnerModel& model) {
  const std::string name = "name mount.natural_hz (`whirler jitter` on one slow run-up tells it), ";
  return (model.natural ? "" : name) +
         "dwell first below a quarter of the mount's natural speed and ramp gently from there, or "
         "record the bare hub at this speed as a baseline";
}

} // namespace

std::string marks_and_plate(const SpinnerModel& model, bool speeds_differ) {
  if (!speeds_differ)
    return "one speed so far: uneven marks and a plate off its centre look the same; record the "
           "bare hub at this speed as a baseline, or run up from slow";
  return "this ramp showed too little of the mount to tell the plate from uneven marks; " +
         to_add(model);
}

std::string said_of(const Judgement& judgement, const SpinnerModel& model, bool has_baseline) {
  if (judgement.verdict == Verdict::even && !model.natural && !has_baseline)
    return judgement.reason + ", if the mount is no softer than 7 Hz: the machine file names none";
  if (judgement.verdict != Verdict::cannot_tell)
    return judgement.reason;
  const bool wide = judgement.add.empty() || !has_baseline;
  return judgement.reason + "; " +
         (wide && model.marks_per_turn > 2 ? to_add(model) : judgement.add);
}

} // namespace whirler::tach
