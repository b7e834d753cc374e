#include "jitter_input.hpp"

#include "kept_baseline.hpp"
#include "parsed_option.hpp"
#include "run_order.hpp"
#include "stored_coats.hpp"
#include "whirler/blank/properties.hpp"
#include "whirler/notebook/notebook.hpp"
#include "whirler/run/state_machine.hpp"

#include <algorithm>
#include <charconv>
#include <filesystem>

namespace whirler::cli {
namespace {

/// Pulses and what their source says of the machine; absent where it says nothing.
struct Source {
  tach::PulseTrain pulses;
  std::optional<machine::Machine> machine;
  std::optional<blank::Blank> blank;
  std::optional<int> marks;
  SpeedCurve asked;
  std::optional<tach::PulseTrain> baseline; ///< that the coat was judged against
  std::string name;
  bool no_tach = false;
  std::string stopped;
  std::optional<notebook::Coat> coat{}; ///< less its pulses
};

std::optional<std::int64_t> coat_number(const std::string& text) {
  std::int64_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  const bool whole = error == std::errc{} && end == text.data() + text.size() && number > 0;
  std::error_code ignored;
  if (!whole || std::filesystem::exists(text, ignored))
    return std::nullopt;
  return number;
}

Result<Source> from_coat(const std::string& notebook_path, std::int64_t number) {
  auto notebook = notebook_to_read(notebook_path);
  if (!notebook)
    return notebook.fault();
  auto coat = notebook->coat(number);
  if (!coat)
    return coat.fault();
  Source out;
  out.name = "coat " + std::to_string(number);
  out.pulses = std::move(coat->pulses);
  out.pulses.tick = coat->start.tick;
  if (coat->start.marks_per_turn > 0)
    out.marks = coat->start.marks_per_turn;
  out.no_tach = coat->start.marks_per_turn == 0 && out.pulses.ticks.empty();
  for (const auto& file : coat->start.files) {
    if (file.role == "machine")
      if (auto read = files::read_machine(file.text, file.name))
        out.machine = std::move(read).value();
    if (file.role == "blank")
      if (auto read = files::read_blank(file.text, file.name))
        out.blank = std::move(read).value();
  }
  if (coat->end && run::ending_from_word(coat->end->outcome) == run::Ending::imbalance)
    out.stopped = coat->end->cause;
  std::vector<std::string> unread;
  out.baseline = kept_baseline(*coat, unread);
  for (const auto& sample : coat->samples)
    out.asked.push_back({sample.at, sample.target});
  out.coat = std::move(*coat);
  return out;
}

std::optional<Source> from_table(FileLoader& files, const std::string& path,
                                 const JitterWords& words) {
  files::PulsesFormat format;
  format.tick = words.tick;
  format.tick_bits = words.tick_bits;
  format.unknown_marks = true; // as `export` writes the first pulses, before the index came by
  auto loaded = files.load_pulses(path, format);
  if (!loaded)
    return std::nullopt;
  Source out;
  out.pulses = std::move(loaded->value);
  out.name = path;
  return out;
}

std::optional<Result<Source>> load_source(FileLoader& files, const std::string& notebook,
                                          const std::string& path, std::optional<std::int64_t> coat,
                                          const JitterWords& words) {
  if (coat)
    return from_coat(notebook, *coat);
  auto table = from_table(files, path, words);
  if (!table)
    return std::nullopt;
  return Result<Source>(std::move(*table));
}

std::optional<Fault> contradiction(const JitterWords& words) {
  if (words.coat.has_value() == !words.pulses.empty())
    return Fault{FaultKind::command_line, "neither or both of a coat's number and --pulses given",
                 "", "give one of them"};
  const tach::FigureLimits& limits = words.limits;
  if (limits.any_velocity() + limits.any_angle() + limits.any_force() > 1)
    return Fault{FaultKind::command_line, "--watch and --stop are in different kinds of unit", "",
                 "give both in mrad, both in mm/s, or both in N"};
  if (words.tick_bits && !words.tick)
    return Fault{FaultKind::command_line, "--tick-bits without --tick", "",
                 "give the length of a tick too, as in --tick 0.5us"};
  if (words.tick_bits && (*words.tick_bits < 8 || *words.tick_bits > 62))
    return Fault{FaultKind::command_line,
                 "a counter of " + std::to_string(*words.tick_bits) + " bits", "",
                 "give --tick-bits from 8 to 62, or leave it out for a counter that never wraps"};
  return std::nullopt;
}

/// A tick that no table counts in is a mistake of whoever typed it: a column in seconds that is
/// none, or the wrong file.
std::optional<Fault> unused_tick(const JitterWords& words, const Source& run, const Source* bare) {
  if (!words.tick || run.pulses.tick == *words.tick || (bare && bare->pulses.tick == *words.tick))
    return std::nullopt;
  return input_fault("--tick is given, but these pulses have their times in t_s, in seconds",
                     run.name,
                     "leave --tick and --tick-bits out, or name the column of readings ticks");
}

bool any_watch(const tach::FigureLimits& l) {
  return l.watch_velocity || l.watch_angle || l.watch_force;
}
bool any_stop(const tach::FigureLimits& l) {
  return l.stop_velocity || l.stop_angle || l.stop_force;
}

template <class Q>
bool are_crossed(const std::optional<Q>& watch, const std::optional<Q>& stop) {
  return watch && stop && *watch > *stop;
}

/// Where one of a unit's two limits is asked for, the other is the machine's.
template <class Q>
void inherit(std::optional<Q>& watch, std::optional<Q>& stop, const std::optional<Q>& watch_before,
             const std::optional<Q>& stop_before) {
  if (watch || stop) {
    watch = watch ? watch : watch_before;
    stop = stop ? stop : stop_before;
  }
}

/// A limit that the words give takes the place of the machine's; the other one of the machine's
/// holds on, in the same unit.
Result<tach::FigureLimits> limits_of(const tach::FigureLimits& asked,
                                     const tach::FigureLimits& machine) {
  if (!asked.any())
    return machine;
  tach::FigureLimits out = asked;
  inherit(out.watch_velocity, out.stop_velocity, machine.watch_velocity, machine.stop_velocity);
  inherit(out.watch_angle, out.stop_angle, machine.watch_angle, machine.stop_angle);
  inherit(out.watch_force, out.stop_force, machine.watch_force, machine.stop_force);
  if (!any_stop(out) && any_stop(machine))
    return command_line_fault("--watch is in another unit than the machine's stop limit",
                              "give --stop too");
  if (!any_watch(out) && any_watch(machine))
    return command_line_fault("--stop is in another unit than the machine's watch limit",
                              "give --watch too");
  if (are_crossed(out.watch_angle, out.stop_angle) ||
      are_crossed(out.watch_force, out.stop_force) ||
      are_crossed(out.watch_velocity, out.stop_velocity))
    return command_line_fault("the watch limit is over the stop limit",
                              "give --watch and --stop, the first at most what the second is");
  return out;
}

/// Against itself every run is even.
bool same_pulses(const tach::PulseTrain& run, const tach::PulseTrain& bare) {
  return run.tick == bare.tick && run.ticks == bare.ticks;
}

/// Marks a turn by the words, the source and the machine, which must agree.
Result<int> agreed_marks(const JitterWords& words, const Source& source) {
  std::optional<int> marks;
  for (const std::optional<int>& said :
       {words.marks, source.marks,
        source.machine ? std::optional(source.machine->tach.marks_per_turn) : std::nullopt}) {
    if (marks && said && *marks != *said)
      return input_fault(std::to_string(*marks) + " and " + std::to_string(*said) +
                             " marks a turn are named",
                         source.name, "make --marks and the machine file agree");
    if (!marks)
      marks = said;
  }
  if (!marks)
    return Fault{FaultKind::command_line, "the number of marks a turn is not known", "",
                 "give --marks, or --machine"};
  return *marks;
}

Result<tach::SpinnerModel> model_of(const JitterWords& words, const Source& source) {
  const auto marks = agreed_marks(words, source);
  if (!marks)
    return marks.fault();
  std::optional<blank::Properties> plate;
  if (source.blank) {
    const auto properties = blank::properties(*source.blank);
    if (!properties)
      return properties.fault();
    plate = *properties;
  }
  tach::SpinnerModel model;
  if (source.machine)
    model = spinner_model(*source.machine, plate);
  model.marks_per_turn = *marks;
  auto limits = limits_of(words.limits, model.limits);
  if (!limits)
    return limits.fault();
  model.limits = *limits;
  return model;
}

} // namespace

std::optional<Result<JitterInput>> load_jitter(FileLoader& files, const std::string& notebook,
                                               const JitterWords& words) {
  using Answer = std::optional<Result<JitterInput>>;
  if (auto fault = contradiction(words))
    return Answer(*fault);
  auto run = load_source(files, notebook, words.pulses, words.coat, words);
  std::optional<Result<Source>> bare;
  if (!words.baseline.empty())
    bare = load_source(files, notebook, words.baseline, coat_number(words.baseline), words);
  if (!words.machine.empty())
    if (auto machine = files.load<machine::Machine>(words.machine); machine && run && run->ok())
      run->value().machine = std::move(machine->value);
  if (!words.blank.empty())
    if (auto blank = files.load<blank::Blank>(words.blank); blank && run && run->ok())
      run->value().blank = std::move(blank->value);
  std::optional<tach::AccelerationTrack> acceleration;
  if (!words.accel.empty())
    if (auto track = files.load_acceleration(words.accel))
      acceleration = std::move(track->value);
  if (!files.ok())
    return std::nullopt;
  for (const auto* source : {&run, &bare})
    if (*source && !(*source)->ok())
      return Answer((*source)->fault());
  if (auto fault = unused_tick(words, run->value(), bare ? &bare->value() : nullptr))
    return Answer(*fault);
  if (bare && same_pulses(run->value().pulses, bare->value().pulses))
    return Answer(input_fault("the baseline has the very pulses of the run", bare->value().name,
                              "record the bare hub, without the plate, at the same speed"));
  if (bare && bare->value().coat) {
    const auto& machine = run->value().machine;
    if (const auto ok = check_bare_hub(*bare->value().coat, machine ? &*machine : nullptr); !ok)
      return Answer(ok.fault());
  }
  const auto model = model_of(words, run->value());
  if (!model)
    return Answer(model.fault());
  JitterInput out;
  out.source = run->value().name;
  out.no_tach = run->value().no_tach;
  out.stopped = run->value().stopped;
  if (const auto& machine = run->value().machine) {
    out.slowest = machine->limits.speed_min;
    out.fastest = machine->limits.speed;
  }
  out.coat = std::move(run->value().coat);
  out.recording.model = *model;
  out.recording.pulses = std::move(run->value().pulses);
  out.recording.asked = std::move(run->value().asked);
  out.recording.acceleration = std::move(acceleration);
  out.recording.baseline =
      bare ? std::optional(std::move(bare->value().pulses)) : std::move(run->value().baseline);
  return Answer(std::move(out));
}

std::optional<Result<Baseline>> load_baseline(FileLoader& files, const std::string& notebook,
                                              const std::string& source,
                                              const std::string& machine) {
  using Answer = std::optional<Result<Baseline>>;
  JitterWords words;
  words.coat = coat_number(source);
  if (!words.coat)
    words.pulses = source;
  words.machine = machine;
  const auto input = load_jitter(files, notebook, words);
  if (!input)
    return std::nullopt;
  if (!input->ok())
    return Answer(input->fault());
  if (input->value().coat) {
    const auto of_run = files.load<machine::Machine>(machine);
    if (const auto ok = check_bare_hub(*input->value().coat, of_run ? &of_run->value : nullptr);
        !ok)
      return Answer(ok.fault());
  }
  const auto analysis = tach::analyse(input->value().recording);
  if (!analysis)
    return Answer(analysis.fault());
  if (analysis->figure.axes != tach::Axes::both || !analysis->figure.phase)
    return Answer(input_fault("the baseline's angle cannot be told", source,
                              "record the bare hub with an index mark and three marks or more"));
  // As the marks show it: a figure may have lost their pattern already, by the coat's own run-up.
  const auto& pulses = input->value().recording.pulses;
  const bool numbered = std::count(pulses.marks.begin(), pulses.marks.end(), 0) > 0;
  return Answer(Baseline{analysis->raw, numbered, input->value().source, baseline_table(pulses)});
}

} // namespace whirler::cli
