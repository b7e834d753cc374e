// `whirler jitter`: reads unbalance out of tach timing.
#include "commands.hpp"
#include "jitter_answer.hpp"
#include "jitter_input.hpp"
#include "log_filter.hpp"
#include "parsed_option.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kJitterExamples =
    "Examples:\n"
    "  whirler jitter 12                               a coat of the notebook\n"
    "  whirler jitter 12 --baseline 9                  against coat 9, the bare hub's\n"
    "  whirler jitter --pulses run.csv --marks 6 --baseline bare.csv --watch 0.3mrad\n"
    "  whirler jitter --pulses run.csv --machine bench.json --tick 0.5us --tick-bits 16\n"
    "  whirler jitter --pulses run.csv --marks 1 --machine shed.json --accel shake.csv\n\n"
    "A table has a header and a row a pulse: t_s, or ticks with --tick; and mark, 0 the index,\n"
    "where it is known (empty where not). The baseline is the bare hub at the same speed. Without\n"
    "one a run-up from slow through the mount's natural speed tells the marks' pattern from the\n"
    "plate.\n\n"
    "--accel is a table t_s,accel_m_s2 on the pulses' clock, of an accelerometer on the body that\n"
    "the mount carries, square to the axis. It needs no baseline, and one mark a turn is enough;\n"
    "the verdict needs the machine's mount and masses, and limits in mm/s or N.\n"
    "Exit status 6: the verdict is stop.";

/// "0.5mrad", "6.3mm/s" or "1.5N" into the angle, the velocity or the force.
std::optional<Fault> read_limit(std::string_view text, std::optional<Angle>& angle,
                                std::optional<Velocity>& velocity, std::optional<Force>& force) {
  const auto above_zero = [&](double value) -> std::optional<Fault> {
    if (value > 0.0)
      return std::nullopt;
    return Fault{FaultKind::command_line, "'" + std::string(text) + "' is no limit", "",
                 "write one above zero"};
  };
  if (const auto read = parse<Angle>(text)) {
    angle = *read;
    return above_zero(read->rad());
  }
  if (const auto read = parse<Velocity>(text)) {
    velocity = *read;
    return above_zero(read->m_per_s());
  }
  if (const auto read = parse<Force>(text)) {
    force = *read;
    return above_zero(read->N());
  }
  return Fault{FaultKind::command_line,
               "'" + std::string(text) + "' is no angle, no velocity and no force", "",
               "write it as 0.5mrad, 6.3mm/s or 1.5N"};
}

void add_options(CLI::App& command, JitterWords& words) {
  command.add_option("coat", words.coat, "Number of a coat in the notebook")
      ->type_name("COAT")
      ->check(from_one());
  command.add_option("--pulses", words.pulses, "Table of pulses (CSV)")->type_name("FILE");
  command
      .add_option("--baseline", words.baseline,
                  "The bare hub at the same speed: a table, or a coat's number")
      ->type_name("FILE|COAT");
  command.add_option("--accel", words.accel, "Table of an accelerometer's samples (CSV)")
      ->type_name("FILE");
  command.add_option("--marks", words.marks, "Marks a turn, 1 to 1024")->check(CLI::Range(1, 1024));
  command.add_option("--machine", words.machine, "Machine file: marks, mount, masses, limits")
      ->type_name("FILE");
  command.add_option("--blank", words.blank, "Blank file: the plate's mass")->type_name("FILE");
  add_quantity<Duration>(command, "--tick", words.tick, "Length of a timer tick, as 0.5us");
  command.add_option("--tick-bits", words.tick_bits, "Width of the timer, 8 to 62: it wraps");
  tach::FigureLimits& limits = words.limits;
  add_parsed(command, "--watch", "Watch limit, in place of the machine's", "ANGLE|VELOCITY|FORCE",
             [&limits](std::string_view text) {
               return read_limit(text, limits.watch_angle, limits.watch_velocity,
                                 limits.watch_force);
             });
  add_parsed(command, "--stop", "Stop limit, in place of the machine's", "ANGLE|VELOCITY|FORCE",
             [&limits](std::string_view text) {
               return read_limit(text, limits.stop_angle, limits.stop_velocity, limits.stop_force);
             });
}

/// A counter that wraps between two marks hides a whole round of itself, and no reader can know:
/// the speed under which a table of it is read as another one. None: it wraps too rarely to matter.
std::optional<Speed> slowest_readable(const JitterWords& words, int marks) {
  constexpr Speed kTooSlowToMatter = rpm(10.0);
  if (!words.tick || !words.tick_bits)
    return std::nullopt;
  const Duration round = std::ldexp(1.0, *words.tick_bits) * *words.tick;
  const Speed slowest = turns_per_s(1.0 / (marks * round.s()));
  return slowest > kTooSlowToMatter ? std::optional(slowest) : std::nullopt;
}

/// A run that its watch stopped is a stop, whatever the slow turns before it show by themselves;
/// limits of one's own are another question, which the pulses answer.
void hold_to_its_end(tach::Analysis& analysis, const std::string& stopped,
                     const tach::FigureLimits& asked) {
  if (stopped.empty())
    return;
  if (asked.any()) {
    analysis.judgement.reason += "; the run itself was stopped: " + stopped;
    return;
  }
  analysis.judgement = {tach::Verdict::stop, "the run was stopped: " + stopped,
                        "centre or balance the plate, then run it again"};
}

/// Pulses that the machine cannot have made: times in another unit, or another number of marks.
std::optional<Fault> beyond_machine(const tach::Analysis& analysis, const JitterInput& in) {
  constexpr double kSurelyFaster = 1.5;
  constexpr double kSurelySlower = 0.1;
  Speed top = analysis.figure.speed;
  for (const tach::TracePoint& point : analysis.trace)
    top = std::max(top, point.speed);
  const bool faster = in.fastest && top > kSurelyFaster * *in.fastest;
  const bool slower = in.slowest && top < kSurelySlower * *in.slowest;
  if (!faster && !slower)
    return std::nullopt;
  return input_fault(
      "these pulses are of " + number_text(top.rpm(), 4) + " rpm at most, and the machine turns " +
          (faster ? "no faster than " + number_text(in.fastest->rpm(), 4)
                  : "no slower than " + number_text(in.slowest->rpm(), 4)) +
          " rpm",
      in.source, "check that t_s is in seconds, --tick, --tick-bits and the number of marks");
}

int run_jitter(const Context& context, const JitterWords& words) {
  FileLoader files(context);
  const auto input = load_jitter(files, context.notebook, words);
  if (!input)
    return files.fail();
  if (!input->ok())
    return context.fail(input->fault());
  const JitterInput& in = input->value();
  if (in.no_tach) {
    context.say(in.source + ": cannot tell: " + kNoTach);
    context.answer(no_tach_json(in.source));
    return kDone;
  }
  auto analysis = tach::analyse(in.recording);
  if (!analysis) {
    Fault fault = analysis.fault();
    if (fault.where == "acceleration")
      fault.where = words.accel;
    else
      fault.where = in.source + (fault.where == "tach pulses" ? "" : ", " + fault.where);
    return context.fail(fault);
  }
  if (!words.pulses.empty()) // a coat that ended before it was up to speed is none
    if (auto fault = beyond_machine(*analysis, in))
      return context.fail(*fault);
  hold_to_its_end(*analysis, in.stopped, words.limits);
  for (const std::string& line : jitter_lines(*analysis, in.recording.model))
    context.say(line);
  Json answer = jitter_json(*analysis, in.recording.model, in.source);
  answer["slowest_rpm"] = nullptr;
  if (const auto slowest = slowest_readable(words, in.recording.model.marks_per_turn)) {
    answer["slowest_rpm"] = slowest->rpm();
    context.say("- this timer wraps within a mark under " + number_text(slowest->rpm()) +
                " rpm: any part that turned slower is read wrongly");
  }
  context.answer(answer);
  return analysis->judgement.verdict == tach::Verdict::stop ? kVerdictStop : kDone;
}

} // namespace

void add_jitter(CLI::App& program, Context& context) {
  auto words = std::make_shared<JitterWords>();
  CLI::App* command = program.add_subcommand("jitter", "Reads unbalance out of tach timing")
                          ->footer(kJitterExamples);
  add_options(*command, *words);
  command->callback([&context, words] {
    context.work = [&context, words] { return run_jitter(context, *words); };
  });
}

} // namespace whirler::cli
