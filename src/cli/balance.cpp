// `whirler balance`: what its words ask for, and the answer to it.
#include "balance_answer.hpp"
#include "balance_words.hpp"
#include "parsed_option.hpp"
#include "placed_values.hpp"
#include "whirler/balance/tolerance.hpp"
#include "whirler/units/text.hpp"
#include "write_file.hpp"

#include <algorithm>
#include <iostream>

namespace whirler::cli {
namespace {

using balance::Reading;
using balance::TrialPair;

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
Outcome check_limits(const BalanceWords& t) {
  if (!t.holes.empty() || (!t.largest && !t.step && t.without.empty()))
    return Done{};
  const std::string option = t.largest ? "--largest" : t.step ? "--step" : "--without";
  return command_line_fault(option + " is for masses in holes, and there are no --holes",
                            "say where the holes are, as in --holes 12@25mm, or leave it out");
}

Outcome check_words(const BalanceWords& t) {
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
  if (t.from_jitter && !vectors)
    return command_line_fault("--from-jitter is for readings with phase, and there are none",
                              "give --z0 and --z1, or leave it out");
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
  if (const auto ok = check_mounting_words(t.plate, !t.plate.blank.empty(), "--blank"); !ok)
    return ok;
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

Result<std::vector<TrialPair>> pairs_of(const BalanceWords& t) {
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

/// One part of the answer after the other; the first fault ends it.
template <class Part, class Into>
Outcome take(const Result<Part>& part, Into& into) {
  if (!part)
    return part.fault();
  into = *part;
  return Done{};
}

Result<std::vector<balance::Place>> places_of(const BalanceWords& t) {
  if (t.holes.empty())
    return std::vector<balance::Place>{};
  auto ring = parse_places(t.holes);
  return ring ? without(std::move(ring.value()), t.without) : ring;
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

Result<Task> understand(const BalanceWords& t) {
  if (const auto ok = check_words(t); !ok)
    return ok.fault();
  Task task;
  for (const auto& ok :
       {understand(t.grade, parse_grade, task.grade), understand(t.trial, parse_trial, task.trial),
        understand(t.noise, parse_number, task.quality.sigma), take(places_of(t), task.places)})
    if (!ok)
      return ok.fault();
  const auto pairs = pairs_of(t);
  if (!pairs)
    return pairs.fault();
  if (task.quality.sigma && !(*task.quality.sigma > 0.0))
    return input_fault("a reading's noise of " + number_text(*task.quality.sigma), "--noise",
                       "give its standard deviation, above 0, or leave it out");
  if (const auto ok = some_unbalance(*pairs); !ok)
    return ok.fault();
  task.pairs = *pairs;
  const auto sizes = sizes_of(t.amplitudes);
  if (!sizes)
    return sizes.fault();
  task.sizes = *sizes;
  return task;
}

Result<std::optional<Found>> find(const BalanceWords& t, const Task& task) {
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
    made.to_add = balance::mass_for(
        balance::to_kg_m(made.correction.mass) - balance::to_kg_m(*made.left_on), radius);
  }
  return std::optional{made};
}

Result<std::optional<Allowed>> allowed(const BalanceWords& t, const Task& task,
                                       const Plate& plate) {
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

Result<BalanceAnswer> work_out(const BalanceWords& t, const Plate& plate) {
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
  share_out(answer, task->places, {t.largest, t.step});
  if (const auto ok = take(cures_of(answer), answer.cures); !ok)
    return ok.fault();
  return answer;
}

/// The guided job's words out of those that it shares with the rest.
Result<GuidedWords> guided_words(const BalanceWords& t) {
  GuidedWords words = t.guide;
  words.run.machine = t.plate.machine;
  words.run.blank = t.plate.blank;
  words.plate = t.plate;
  words.speed = t.speed;
  words.radius = t.radius;
  words.limits = {t.largest, t.step};
  if (const auto ok = check_limits(t); !ok)
    return ok.fault();
  for (const auto& ok :
       {understand(t.grade, parse_grade, words.grade),
        understand(t.trial, parse_trial, words.trial), take(places_of(t), words.places)})
    if (!ok)
      return ok.fault();
  if (!t.before.empty() || !t.with_trial.empty() || !t.amplitudes.empty())
    return command_line_fault("--guided takes its own readings",
                              "leave --z0, --z1 and --amplitudes out");
  if (t.trial_stays)
    return command_line_fault("--guided has the trial mass taken off again",
                              "leave --trial-stays out");
  if (t.from_jitter || !t.pattern.empty() || !t.noise.empty())
    return command_line_fault("--guided takes the marks' pattern and the noise from its own runs",
                              "leave --pattern, --noise and --from-jitter out");
  if (t.mass)
    return command_line_fault("--guided has the masses from the machine's and the blank's file",
                              "leave --mass out");
  if (const auto ok = check_mounting_words(t.plate, !t.plate.blank.empty(), "--blank"); !ok)
    return ok.fault();
  words.svg = t.svg;
  return words;
}

} // namespace

int balance_command(const BalanceWords& typed, const Context& context) {
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
  if (!answer->no_share)
    return kDone;
  std::cerr << "whirler: " << to_text(*answer->no_share) << '\n';
  return exit_status(answer->no_share->kind);
}

} // namespace whirler::cli
