// How a finished run is told: to people, to a program, and as an exit status.
#include "run_view.hpp"

#include "jitter_answer.hpp"
#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

using run::Ending;

double to_step(double value, double step) { return std::round(value / step) * step; }

Json drive_json(const drive::Identity& identity) {
  return {{"name", identity.facts.name},
          {"version", identity.version},
          {"marks_per_turn", identity.facts.marks_per_turn},
          {"speed_max_rpm", to_step(identity.facts.speed_max.rpm(), 1e-3)},
          {"enable_output", identity.facts.enable_output}};
}

bool completed(const session::Summary& summary) { return summary.ending == Ending::completed; }

std::string next_after(Ending ending) {
  switch (ending) {
  case Ending::lid:
    return "close the lid; the coat cannot be resumed";
  case Ending::imbalance:
    return "run it slower, or centre the plate: whirler blank and whirler balance say how";
  case Ending::stall:
    return "check the screw, the motor's supply and the ramp";
  case Ending::tach_lost:
    return "see that the spindle turns freely; check the tach sensor, its cable and the marks";
  case Ending::tach_implausible:
    return "count the marks; see that the emergency stop is released";
  case Ending::link_lost:
    return "if it still turns, press the emergency stop switch; a broken run is never resumed";
  case Ending::record:
    return "make room on the disk, or name another notebook";
  case Ending::overspeed:
    return "if it still turns, press the emergency stop switch; then check the marks, the driver's "
           "power "
           "stage and its set-up";
  default:
    return "start again when ready; a broken run is never resumed";
  }
}

/// The verdict for people, and where to go from it.
std::string said(tach::Verdict verdict) {
  switch (verdict) {
  case tach::Verdict::even:
    break;
  case tach::Verdict::watch:
    return in_capitals(verdict) + "; whirler jitter says what to do";
  case tach::Verdict::stop:
    return in_capitals(verdict) + "; whirler jitter says what to do before the next run";
  case tach::Verdict::cannot_tell:
    return in_capitals(verdict) + "; whirler jitter says what is missing";
  }
  return in_capitals(verdict);
}

/// What was told to start, and what would have shown that nothing turns.
std::string no_standstill_text(const DoneRun& result) {
  const auto& summary = *result.summary;
  const std::string look = ": leave the lid shut until you see that nothing turns.";
  if (summary.steps == 0 && summary.top_speed < rpm(1) && !result.faults.empty())
    return "The start failed, and nothing was seen to turn" + look;
  return (summary.has_tach ? "The tach has NOT shown standstill"
                           : "There is no tach, and the drive has NOT shown standstill") +
         look;
}

/// Finer than the least count of any tach or drive is no figure.
std::string error_text(Speed error) {
  constexpr double kFinest_rpm = 0.1;
  return error.rpm() < kFinest_rpm ? "below " + number_text(kFinest_rpm, 1) + " rpm"
                                   : number_text(error.rpm(), 2) + " rpm";
}

} // namespace

Json run_json(const DoneRun& result) {
  Json faults = Json::array();
  for (const auto& fault : result.faults)
    faults.push_back(to_json(fault));
  if (!result.summary)
    return {{"outcome", "refused"},      {"coat", nullptr},   {"reached", false},
            {"peak_error_rpm", nullptr}, {"jitter", nullptr}, {"faults", faults}};
  const auto& summary = *result.summary;
  Json document{{"outcome", run::word(summary.ending)},
                {"coat", result.coat ? Json(*result.coat) : Json(nullptr)},
                {"reached", completed(summary)},
                {"peak_error_rpm",
                 summary.peak_error ? Json(to_step(summary.peak_error->rpm(), 1e-3)) : Json()},
                {"jitter", result.vibration.document},
                {"cause", summary.cause},
                {"steps_reached", summary.steps},
                {"top_speed_rpm", to_step(summary.top_speed.rpm(), 1e-3)},
                {"length_s", to_step(summary.length.s(), 1e-3)},
                {"standstill_seen", summary.standstill_seen},
                {"pulses", summary.pulses},
                {"pulses_lost", summary.pulses_lost},
                {"clock_ratio", summary.clock_ratio ? Json(*summary.clock_ratio) : Json(nullptr)},
                {"faults", faults}};
  if (result.identity)
    document["drive"] = drive_json(*result.identity);
  return document;
}

std::vector<std::string> run_lines(const DoneRun& result) {
  std::vector<std::string> lines;
  if (!result.summary)
    return lines;
  const auto& summary = *result.summary;
  if (completed(summary))
    lines.emplace_back("DONE.");
  else
    lines.push_back("ENDED EARLY (" + std::string(run::word(summary.ending)) +
                    "): " + summary.cause + "; " + next_after(summary.ending) + ".");
  if (!summary.standstill_seen)
    lines.push_back(no_standstill_text(result));
  lines.push_back("  top speed " + number_text(summary.top_speed.rpm(), 4) + " rpm");
  if (summary.peak_error)
    lines.back() += ", largest error in the dwells " + error_text(*summary.peak_error);
  const Vibration& vibration = result.vibration;
  if (!vibration.figure.empty())
    lines.push_back("  once per turn " + vibration.figure + ": " +
                    said(vibration.judgement.verdict));
  if (summary.pulses_lost > 0)
    lines.push_back("  " + std::to_string(summary.pulses_lost) + " pulses were lost on the line");
  if (result.coat)
    lines.push_back("  kept as coat " + std::to_string(*result.coat));
  return lines;
}

int run_status(const session::RunResult& result) {
  if (!result.faults.empty())
    return exit_status(result.faults.front().kind);
  if (!result.summary)
    return kProgramFault;
  switch (result.summary->ending) {
  case Ending::completed:
    return kDone;
  case Ending::link_lost:
    return kLinkLost;
  default:
    return kEndedEarly;
  }
}

} // namespace whirler::cli
