// `whirler balance`: what a grade allows, and which mass goes where.
#include "balance_answer.hpp"
#include "commands.hpp"
#include "guided_balance.hpp"
#include "parsed_option.hpp"
#include "placed_values.hpp"
#include "whirler/balance/tolerance.hpp"
#include "write_file.hpp"

#include <algorithm>
#include <memory>

namespace whirler::cli {
namespace {

using balance::Reading;
using balance::TrialPair;

/// As typed. Texts that may stand for a mistake stay texts until the work begins, so that the
/// mistake is told like every other.
struct Typed {
  std::string grade;
  std::optional<Speed> speed;
  std::optional<Mass> mass;
  std::vector<std::string> before;
  std::vector<std::string> with_trial;
  std::vector<std::string> pattern;
  std::string trial;
  std::string amplitudes;
  std::optional<Length> radius;
  std::string noise;
  bool from_jitter = false;
  bool trial_stays = false;
  std::string holes;
  std::optional<Mass> largest;
  std::optional<Mass> step;
  PlateOptions plate;
  std::string svg;
  bool guided = false;
  GuidedWords guide;
};

/// As understood.
struct Task {
  std::optional<Velocity> grade;
  std::vector<TrialPair> pairs;
  std::optional<balance::FourSizes> sizes;
  std::optional<balance::PlacedMass> trial;
  balance::ReadingQuality quality;
  std::vector<balance::Place> places;
};

/// Limits of the holes' masses without holes would bound nothing, and nobody would notice.
Outcome check_limits(const Typed& t) {
  if (!t.holes.empty() || (!t.largest && !t.step))
    return Done{};
  return command_line_fault(std::string(t.largest ? "--largest" : "--step") +
                                " is for masses in holes, " + "and there are no --holes",
                            "say where the holes are, as in --holes 12@25mm, or leave it out");
}

Outcome check_words(const Typed& t) {
  const bool vectors = !t.before.empty() || !t.with_trial.empty();
  const bool sizes = !t.amplitudes.empty();
  if (t.grade.empty() && !vectors && !sizes)
    return command_line_fault("nothing to balance was given",
                              "give --grade, --z0 and --z1, or --amplitudes; see --help");
  if (vectors && sizes)
    return command_line_fault("--amplitudes and --z0 are two ways of balancing",
                              "give one of them");
  if (t.before.size() != t.with_trial.size())
    return command_line_fault("there are not as many --z0 as --z1", "give both for every speed");
  if (t.pattern.size() > 1 && t.pattern.size() != t.before.size())
    return command_line_fault("there are not as many --pattern as --z0",
                              "give one for all speeds, or one for each");
  if (sizes && !t.pattern.empty())
    return command_line_fault("--pattern needs readings with phase",
                              "take the pattern off each reading as a vector first");
  if ((vectors || sizes) && t.trial.empty())
    return command_line_fault("there is no --trial",
                              "give the trial mass, as in --trial 2g@0deg@30mm");
  if (!t.grade.empty() && t.plate.machine.empty() && (!t.speed || !t.mass))
    return command_line_fault(
        "--grade needs --speed and --mass",
        "give the speed, and the mass of all that turns (or --machine and --blank)");
  if (!t.holes.empty() && !vectors && !sizes)
    return command_line_fault("--holes has no correction to share out",
                              "give --z0 and --z1, or --amplitudes, or leave --holes out");
  return check_limits(t);
}

Result<std::vector<Reading>> readings(const std::vector<std::string>& texts, bool from_jitter) {
  std::vector<Reading> made;
  for (const std::string& text : texts) {
    const auto z = parse_reading(text);
    if (!z)
      return z.fault();
    made.push_back(from_jitter ? balance::from_lateness(*z) : *z);
  }
  return made;
}

/// Exactly nothing was hardly read off a meter, and "0 g mm left in 95 of 100" would be a promise.
Outcome some_unbalance(const std::vector<TrialPair>& pairs) {
  const auto none = [](const TrialPair& pair) { return pair.before == pair.pattern; };
  if (pairs.empty() || !std::all_of(pairs.begin(), pairs.end(), none))
    return Done{};
  return input_fault("the reading before the trial shows no unbalance at all", "balance",
                     "nothing is to be balanced, or it was not read: measure again");
}

Result<std::vector<TrialPair>> pairs_of(const Typed& t) {
  const auto before = readings(t.before, t.from_jitter);
  const auto with_trial = readings(t.with_trial, t.from_jitter);
  const auto pattern = readings(t.pattern, t.from_jitter);
  for (const auto* read : {&before, &with_trial, &pattern})
    if (!*read)
      return read->fault();
  std::vector<TrialPair> pairs;
  for (std::size_t i = 0; i < before->size(); ++i)
    pairs.push_back({(*before)[i], (*with_trial)[i],
                     pattern->empty() ? Reading{} : (*pattern)[std::min(i, pattern->size() - 1)]});
  return pairs;
}

Result<std::optional<balance::FourSizes>> sizes_of(const std::string& text) {
  if (text.empty())
    return std::optional<balance::FourSizes>{};
  const auto numbers = parse_numbers(text);
  if (!numbers)
    return numbers.fault();
  if (numbers->size() != 4)
    return command_line_fault(
        "--amplitudes has " + std::to_string(numbers->size()) + " numbers",
        "give four: as it is, then with the trial mass at 0, 120 and 240 deg");
  balance::FourSizes sizes{};
  std::copy(numbers->begin(), numbers->end(), sizes.begin());
  return std::optional{sizes};
}

/// Reads `text` into `into` where there is any.
template <class Read, class Into>
Outcome understand(const std::string& text, Read read, Into& into) {
  if (text.empty())
    return Done{};
  const auto value = read(text);
  if (!value)
    return value.fault();
  into = *value;
  return Done{};
}

Result<Task> understand(const Typed& t) {
  if (const auto ok = check_words(t); !ok)
    return ok.fault();
  Task task;
  for (const auto& ok :
       {understand(t.grade, parse_grade, task.grade), understand(t.trial, parse_trial, task.trial),
        understand(t.noise, parse_number, task.quality.sigma),
        understand(t.holes, parse_places, task.places)})
    if (!ok)
      return ok.fault();
  const auto pairs = pairs_of(t);
  if (!pairs)
    return pairs.fault();
  if (const auto ok = some_unbalance(*pairs); !ok)
    return ok.fault();
  task.pairs = *pairs;
  const auto sizes = sizes_of(t.amplitudes);
  if (!sizes)
    return sizes.fault();
  task.sizes = *sizes;
  return task;
}

Result<std::optional<Found>> find(const Typed& t, const Task& task) {
  if (task.pairs.empty() && !task.sizes)
    return std::optional<Found>{};
  const Length radius = t.radius.value_or(task.trial->radius);
  Found made;
  if (task.sizes) {
    const auto found = balance::correct(*task.sizes, *task.trial, radius, task.quality);
    if (!found)
      return found.fault();
    made = {found->correction, found->consistency, {}};
  } else {
    const auto found = balance::correct(task.pairs, *task.trial, radius, task.quality);
    if (!found)
      return found.fault();
    made.correction = *found;
  }
  made.to_add = made.correction.mass;
  if (t.trial_stays) {
    made.left_on = *task.trial;
    if (task.sizes) // the last of the three runs had it two thirds of a turn on
      made.left_on->at = balance::wrapped(task.trial->at + turns(2.0 / 3.0));
    const auto rest = balance::from_kg_m(balance::to_kg_m(made.correction.mass) -
                                         balance::to_kg_m(*made.left_on));
    made.to_add = {kilograms(rest.size.kg_m() / radius.m()), rest.at, radius};
  }
  return std::optional{made};
}

Result<std::optional<Allowed>> allowed(const Typed& t, const Task& task, const Plate& plate) {
  auto grade = task.grade;
  // The machine's own grade, where it is known what turns.
  if (!grade && plate.machine && (t.mass || plate.properties))
    grade = plate.machine->limits.balance_grade;
  if (!grade)
    return std::optional<Allowed>{};
  const Speed speed = t.speed ? *t.speed : plate.machine->limits.speed;
  const Mass mass = t.mass.value_or(plate.turning_mass());
  const auto unbalance = balance::permissible_unbalance(*grade, speed, mass);
  if (!unbalance)
    return unbalance.fault();
  return std::optional{Allowed{*grade, speed, mass, *unbalance}};
}

/// One part of the answer after the other; the first fault ends it.
template <class Part, class Into>
Outcome take(const Result<Part>& part, Into& into) {
  if (!part)
    return part.fault();
  into = *part;
  return Done{};
}

Result<BalanceAnswer> work_out(const Typed& t, const Plate& plate) {
  const auto task = understand(t);
  if (!task)
    return task.fault();
  BalanceAnswer answer;
  answer.plate = plate;
  answer.noise_given = task->quality.sigma.has_value();
  if (const auto ok = take(allowed(t, *task, answer.plate), answer.allowed); !ok)
    return ok.fault();
  if (const auto ok = take(find(t, *task), answer.found); !ok)
    return ok.fault();
  if (const auto ok = share_out(answer, task->places, {t.largest, t.step}); !ok)
    return ok.fault();
  if (const auto ok = take(cures_of(answer), answer.cures); !ok)
    return ok.fault();
  return answer;
}

/// The guided job's words out of those that it shares with the rest.
Result<GuidedWords> guided_words(const Typed& t) {
  GuidedWords words = t.guide;
  words.run.machine = t.plate.machine;
  words.run.blank = t.plate.blank;
  words.plate = t.plate;
  words.speed = t.speed;
  words.radius = t.radius;
  words.limits = {t.largest, t.step};
  if (const auto ok = check_limits(t); !ok)
    return ok.fault();
  for (const auto& ok : {understand(t.grade, parse_grade, words.grade),
                         understand(t.trial, parse_trial, words.trial),
                         understand(t.holes, parse_places, words.places)})
    if (!ok)
      return ok.fault();
  if (!t.before.empty() || !t.with_trial.empty() || !t.amplitudes.empty())
    return command_line_fault("--guided takes its own readings",
                              "leave --z0, --z1 and --amplitudes out");
  if (t.trial_stays)
    return command_line_fault("--guided has the trial mass taken off again",
                              "leave --trial-stays out");
  return words;
}

int balance_command(const Typed& typed, const Context& context) {
  if (typed.guided) {
    const auto words = guided_words(typed);
    return words ? guided_balance(*words, context) : context.fail(words.fault());
  }
  FileLoader files(context);
  const auto plate = load_plate(files, typed.plate);
  if (!files.ok())
    return files.fail();
  const auto answer = plate ? work_out(typed, *plate) : Result<BalanceAnswer>(plate.fault());
  if (!answer)
    return context.fail(answer.fault());
  if (!typed.svg.empty()) {
    const auto written = write_text_file(typed.svg, drawing(*answer).file());
    if (!written)
      return context.fail(written.fault());
  }
  for (const std::string& line : words(*answer))
    context.say(line);
  context.answer(to_json(*answer));
  return kDone;
}

void add_readings(CLI::App& command, Typed& t) {
  const auto repeated = [&](const std::string& name, std::vector<std::string>& into,
                            const std::string& help) {
    command.add_option(name, into, help)->type_name("SIZE@ANGLE")->allow_extra_args(false);
  };
  repeated("--z0", t.before, "Reading before; once for every speed");
  repeated("--z1", t.with_trial, "Reading with the trial mass on, at the same speed");
  repeated("--pattern", t.pattern, "Reading of the marks alone, to be taken off both");
  command.add_option("--trial", t.trial, "Trial mass; its angle from the index mark")
      ->type_name("MASS@ANGLE@RADIUS");
  command
      .add_option("--amplitudes", t.amplitudes,
                  "No phase: as it is, then with the trial mass at 0, 120, 240 deg")
      ->type_name("V0,V1,V2,V3");
  command
      .add_option("--noise", t.noise,
                  "Standard deviation of a reading, in its own unit (else 6 % of mass and "
                  "8 deg, the best of published trials)")
      ->type_name("NUMBER");
  command.add_flag(
      "--from-jitter", t.from_jitter,
      "Phases are phase_deg of `whirler jitter`: they fall as the heavy side moves on");
  command.add_flag("--trial-stays", t.trial_stays,
                   "The trial mass is left on the rotor where the last run had it (with "
                   "--amplitudes: 240 deg on)");
}

void add_places(CLI::App& command, Typed& t) {
  add_quantity<Length>(command, "--radius", t.radius,
                       "Radius of the correction (else that of the trial mass)");
  command.add_option("--holes", t.holes, "Holes round the hub: share the correction out")
      ->type_name("COUNT[@ANGLE]@RADIUS");
  add_quantity<Mass>(command, "--largest", t.largest, "With --holes: most mass that a hole takes");
  add_quantity<Mass>(command, "--step", t.step, "With --holes: masses come in multiples of this");
}

void add_guided(CLI::App& command, Typed& t) {
  command.add_flag("--guided", t.guided, "Step by step on the machine, each run in the notebook");
  command.add_flag("--yes", t.guide.yes, "Guided: answer every question with its proposal");
  command.add_flag("--simulate", t.guide.run.simulate, "Guided: on the simulated spinner");
  command.add_flag("--lid-closed", t.guide.run.lid_closed,
                   "Guided: you have seen that the lid is shut (machines without a lid switch)");
  command.add_option("--board", t.guide.run.board, "Guided: the board's own mark, for the record");
  command
      .add_option("--speed-up", t.guide.run.speed_up,
                  "Guided: how much faster than life the simulation goes")
      ->check(CLI::Range(1.0, 100.0));
  command.add_option("--seed", t.guide.run.seed, "Guided: of the simulation's chance");
}

constexpr auto kExamples =
    R"(Angles of masses and of phases: from the index mark, with the rotation.

Examples:
  whirler balance --grade 6.3 --speed 3000rpm --mass 320g
  whirler balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm --holes 12@25mm --step 0.1g
  whirler balance --amplitudes 8,11.05,3.82,15.09 --trial 4.5g@30mm
  whirler balance --guided --machine profiles/machines/bench_simulated.json --speed-up 20
        --blank profiles/blanks/rain_gauge_misdrilled.json --radius 25mm --speed 1500rpm --yes
Guided, it asks before every run; --yes answers each question with its proposal.)";

} // namespace

void add_balance(CLI::App& program, Context& context) {
  CLI::App& command = *program.add_subcommand(
      "balance", "What a balance grade allows, and which mass to put where");
  const auto typed = std::make_shared<Typed>();
  command
      .add_option("--grade", typed->grade,
                  "Balance grade of ISO 21940-11, in mm/s (else the machine's)")
      ->type_name("GRADE");
  add_quantity<Speed>(command, "--speed", typed->speed,
                      "Highest speed that will be run (else the machine's)");
  add_quantity<Mass>(command, "--mass", typed->mass, "Mass of all that turns, plate included");
  add_readings(command, *typed);
  add_places(command, *typed);
  command.add_option("--blank", typed->plate.blank, "The plate: say it in its own terms")
      ->type_name("FILE");
  command.add_option("--machine", typed->plate.machine, "The machine")->type_name("FILE");
  add_mounting_options(command, typed->plate);
  add_guided(command, *typed);
  command.add_option("--svg", typed->svg, "Draw it into this file")->type_name("FILE");
  command.footer(kExamples);
  command.callback([typed, &context] {
    context.work = [typed, &context] { return balance_command(*typed, context); };
  });
}

} // namespace whirler::cli
