#include "guided_balance.hpp"

#include "guided_plan.hpp"
#include "guided_runs.hpp"
#include "guided_words.hpp"
#include "placed_values.hpp"
#include "prompter.hpp"
#include "whirler/balance/pattern_free.hpp"
#include "whirler/balance/tolerance.hpp"
#include "write_file.hpp"

#include <algorithm>
#include <complex>
#include <iostream>

namespace whirler::cli {
namespace {

using balance::PlacedMass;
using balance::Reading;

constexpr int kMostTrips = 3;  ///< runs with a correction on
constexpr int kMostTrials = 4; ///< trial masses, each heavier or elsewhere

class Guided {
 public:
  Guided(const GuidedWords& words, const Context& context, Plate plate, GuidedRuns runs)
      : words_(words), context_(context), plate_(std::move(plate)), runs_(std::move(runs)),
        prompter_(words.yes) {}

  int go();

 private:
  [[nodiscard]] Outcome press_enter(const std::string& before) const;
  [[nodiscard]] Result<PlacedMass> ask_trial(const PlacedMass& proposed) const;
  [[nodiscard]] Outcome try_trial(const RunReadings& before, PlacedMass trial);
  [[nodiscard]] Outcome find(const RunReadings& before, const RunReadings& with_trial,
                             const PlacedMass& trial);
  [[nodiscard]] std::optional<PlacedMass>
  heavier(const RunReadings& before, const RunReadings& with_trial, const PlacedMass& trial) const;
  [[nodiscard]] Result<BalanceAnswer> first_answer() const;
  [[nodiscard]] Outcome try_corrections(BalanceAnswer& answer);
  [[nodiscard]] Outcome one_correction();
  void next_correction(BalanceAnswer& answer) const;
  [[nodiscard]] bool in_holes() const { return !words_.places.empty(); }
  [[nodiscard]] std::string next_words(const std::vector<PlacedMass>& masses) const;
  [[nodiscard]] std::vector<PlacedMass> missing(const BalanceAnswer& answer) const;
  [[nodiscard]] std::string correction_question(const BalanceAnswer& answer, int trip) const;
  [[nodiscard]] std::vector<PlacedMass> masses_of(const BalanceAnswer& answer) const;
  [[nodiscard]] Json to_json_of(const BalanceAnswer& answer) const;
  [[nodiscard]] Outcome work(BalanceAnswer& answer);

  const GuidedWords& words_;
  const Context& context_;
  Plate plate_;
  GuidedRuns runs_;
  Prompter prompter_;
  std::optional<balance::PatternFree> found_;
  std::vector<PlacedMass> on_;                 ///< corrections that were put on the rotor
  std::optional<PlacedMass> trial_;            ///< told to be put on, and not known to be off
  std::vector<PlacedMass> told_;               ///< the correction, as last told to be put on
  std::optional<balance::UnbalanceNow> after_; ///< measured with the last correction on
  bool more_to_add_ = false;                   ///< the answer's mass is what is still missing
};

Outcome Guided::press_enter(const std::string& before) const {
  const auto answer = prompter_.choose({before + " Enter runs, q ends", "", {}}, "");
  return answer ? Outcome(Done{}) : answer.fault();
}

Result<PlacedMass> Guided::ask_trial(const PlacedMass& proposed) const {
  context_.say("Wait for standstill, then put the trial mass on (angle from the index mark, " +
               with_rotation(plate_) + "). Fix it so that it cannot fly off.");
  const std::string usual = typed_form(proposed);
  const auto read = [&](const std::string& typed) {
    return typed == usual ? Result<PlacedMass>(proposed) : parse_trial(typed);
  };
  const auto answer = prompter_.ask(
      {"TRIAL MASS. Type what you put on, Enter for " + usual + ", q ends", usual, {}},
      [&](const std::string& typed) -> std::optional<std::string> {
        const auto mass = read(typed);
        if (!mass)
          return to_text(mass.fault());
        const auto ok = check_trial(*mass, plate_, runs_.speeds().back());
        return ok ? std::nullopt : std::optional(to_text(ok.fault()));
      });
  if (!answer)
    return answer.fault();
  const auto mass = read(*answer);
  if (mass)
    context_.say(typed_form(*mass) + ": " + pull_text(*mass, plate_, runs_.speeds().back()));
  return mass;
}

Outcome Guided::find(const RunReadings& before, const RunReadings& with_trial,
                     const PlacedMass& trial) {
  const auto found = balance::correct_free_of_pattern(runs_.pairs(before, with_trial), trial,
                                                      words_.radius.value_or(trial.radius));
  if (!found)
    return found.fault();
  found_ = *found;
  return Done{};
}

/// Where the trial was too weak to tell: one that would do, if it may be put on.
std::optional<PlacedMass> Guided::heavier(const RunReadings& before, const RunReadings& with_trial,
                                          const PlacedMass& trial) const {
  const auto enough = balance::trial_that_would_do(runs_.pairs(before, with_trial), trial);
  if (!enough)
    return std::nullopt;
  PlacedMass next = proposed_trial(plate_, trial.radius, runs_.speeds().back());
  next.at = trial.at;
  if (next.mass < *enough)
    next.mass = grams(1.2 * enough->g());
  next.mass = std::max(next.mass, 2.0 * trial.mass);
  return check_trial(next, plate_, runs_.speeds().back()) ? std::optional(next) : std::nullopt;
}

Result<BalanceAnswer> Guided::first_answer() const {
  BalanceAnswer answer;
  answer.plate = plate_;
  answer.guided = true;
  answer.found = Found{found_->correction, std::nullopt, found_->correction.mass};
  const auto grade = words_.grade ? words_.grade : plate_.machine->limits.balance_grade;
  if (grade) {
    const Speed highest = plate_.machine->limits.speed;
    const Speed top = std::min(words_.speed.value_or(highest), highest); // that it will run at
    const auto allowed = balance::permissible_unbalance(*grade, top, plate_.turning_mass());
    if (!allowed)
      return allowed.fault();
    answer.allowed = Allowed{*grade, top, plate_.turning_mass(), *allowed};
  }
  share_out(answer, words_.places, words_.limits);
  const auto cures = cures_of(answer);
  if (!cures)
    return cures.fault();
  answer.cures = *cures;
  return answer;
}

std::vector<PlacedMass> Guided::masses_of(const BalanceAnswer& answer) const {
  return answer.shares ? answer.shares->masses : std::vector<PlacedMass>{answer.found->to_add};
}

/// What is left becomes the next correction; the influence is known. Holes are filled anew with all
/// of it, since what one holds already counts against what it takes.
void Guided::next_correction(BalanceAnswer& answer) const {
  std::complex<double> wanted = -balance::to_kg_m(after_->unbalance);
  if (in_holes())
    wanted += balance::to_kg_m(on_);
  answer.found->to_add = balance::mass_for(wanted, answer.found->to_add.radius);
  share_out(answer, words_.places, words_.limits);
  if (!in_holes() || answer.no_share || list_text(masses_of(answer)) != list_text(on_))
    return;
  answer.found->to_add = missing(answer).front(); // as they are the holes are best filled
  share_out(answer, words_.places, words_.limits);
  if (answer.shares)
    answer.shares->masses.clear();
}

std::string Guided::next_words(const std::vector<PlacedMass>& masses) const {
  return (in_holes() ? "In the holes, in place of what is there: " : "Add, beside what is on: ") +
         list_text(masses);
}

Outcome Guided::one_correction() {
  const auto measured = runs_.measure("correction", on_);
  if (!measured)
    return measured.fault();
  std::vector<Reading> readings;
  for (const DwellReading& dwell : *measured)
    readings.push_back(dwell.reading);
  const auto left = balance::unbalance_now(*found_, readings);
  if (!left)
    return left.fault();
  after_ = *left;
  return Done{};
}

/// What is missing beside what is on, in one piece.
std::vector<PlacedMass> Guided::missing(const BalanceAnswer& answer) const {
  if (!more_to_add_)
    return {};
  return {balance::mass_for(-balance::to_kg_m(after_->unbalance), answer.found->to_add.radius)};
}

/// Names the masses, which stand far above by now.
std::string Guided::correction_question(const BalanceAnswer& answer, int trip) const {
  constexpr std::size_t kFew = 3;
  const auto added = masses_of(answer);
  const std::string masses = added.size() > kFew
                                 ? "the " + std::to_string(added.size()) + " masses above"
                                 : list_text(added);
  if (trip > 1)
    return runs_.next_name() + ": " + masses + (in_holes() ? " in, none else," : " added,") +
           " lid shut.";
  const bool may_shift = answer.cures && answer.cures->hole_lets_shift;
  return (may_shift ? "Shifted the plate instead? Then q, and begin again with run 1.\n" : "") +
         runs_.next_name() + ": " + masses + " on, the trial mass off, lid shut.";
}

Outcome Guided::try_corrections(BalanceAnswer& answer) {
  for (int trip = 1; !masses_of(answer).empty(); ++trip) {
    const auto added = masses_of(answer);
    auto next = in_holes() ? std::vector<PlacedMass>{} : on_;
    next.insert(next.end(), added.begin(), added.end());
    told_ = next;
    if (const auto ok = runs_.tell_next(next); !ok)
      return ok;
    if (const auto ok = press_enter(correction_question(answer, trip)); !ok)
      return ok;
    trial_.reset();
    on_ = next;
    if (const auto ok = one_correction(); !ok)
      return ok;
    context_.say(measured_line(answer, *after_));
    more_to_add_ = grade_of(answer, *after_) == Grade::over;
    if (more_to_add_)
      next_correction(answer);
    const auto add = more_to_add_ ? masses_of(answer) : std::vector<PlacedMass>{};
    if (const auto ok = runs_.keep({"correction", on_, after_->unbalance, missing(answer)}); !ok)
      return ok;
    if (!more_to_add_)
      break;
    if (trip == kMostTrips || answer.no_share || add.empty())
      break;
    context_.say(next_words(add));
  }
  const Grade grade = after_ ? grade_of(answer, *after_) : Grade::none;
  if (grade == Grade::kept || grade == Grade::none) // or no hole takes a mass: that has been said
    return Done{};
  for (const std::string& line : way_on_lines(answer, *after_, next_words(masses_of(answer))))
    context_.say(line);
  return Done{};
}

/// The run with a trial mass; again with it on the other side where it made the plate worse, and
/// with a heavier one where it told nothing.
Outcome Guided::try_trial(const RunReadings& before, PlacedMass trial) {
  bool turned = false;
  for (int tries = 1;; ++tries) {
    if (const auto ok = runs_.tell_next({trial}); !ok) // before anybody puts it on
      return ok;
    trial_ = trial;
    const auto put_on = ask_trial(trial);
    if (!put_on)
      return put_on.fault();
    trial_ = trial = *put_on;
    if (const auto ok = runs_.tell_next({trial}); !ok)
      return ok;
    if (const auto ok = press_enter(runs_.next_name() + ": the trial mass on, lid shut."); !ok)
      return ok;
    const auto with_trial = runs_.measure("trial", {trial});
    if (!with_trial && (!runs_.too_much() || turned || tries == kMostTrials))
      return with_trial.fault();
    if (!with_trial) {
      turned = true;
      trial.at = balance::wrapped(trial.at + turns(0.5));
      context_.say("There it makes the plate worse: it goes to the other side.");
      continue;
    }
    const auto told = find(before, *with_trial, trial);
    const auto next = told ? std::nullopt : heavier(before, *with_trial, trial);
    if (told || !next || tries == kMostTrials)
      return told;
    context_.say(told.fault().what + ": a heavier one goes in its place.");
    trial = *next;
  }
}

Outcome Guided::work(BalanceAnswer& answer) {
  if (const auto ok = press_enter("RUN 1: the plate as it is, screw tight, lid shut."); !ok)
    return ok;
  const auto before = runs_.measure("as it is", {});
  if (!before)
    return before.fault();
  const Length radius = words_.radius.value_or(plate_.machine->tach.mark_radius);
  const PlacedMass usual = proposed_trial(plate_, radius, runs_.speeds().back());
  if (const auto ok = try_trial(*before, words_.trial.value_or(usual)); !ok)
    return ok;
  const auto first = first_answer();
  if (!first)
    return first.fault();
  answer = *first;
  for (const std::string& line : words(answer))
    context_.say(line);
  const bool none_needed = !answer.found->correction.shown || keeps_already(answer);
  BalanceRecord record{"trial", {*trial_}, answer.found->correction.unbalance};
  if (!none_needed)
    record.add = masses_of(answer);
  if (const auto ok = runs_.keep(record); !ok)
    return ok;
  if (none_needed)
    return Done{}; // no mass is needed, or none would better what cannot be seen
  if (answer.no_share)
    return *answer.no_share;
  return try_corrections(answer);
}

Json Guided::to_json_of(const BalanceAnswer& answer) const {
  Json json = to_json(answer);
  if (after_) {
    json["correction"] =
        to_json(balance::mass_for(balance::to_kg_m(on_), answer.found->to_add.radius));
    json["masses"] = list_json(on_);
    json["still_to_add"] = list_json(missing(answer)); // beside `masses`
  }
  auto may_be_on = told_;
  if (trial_)
    may_be_on.push_back(*trial_);
  json["may_be_on"] = list_json(may_be_on);
  json["runs"] = runs_.coats();
  json["measured_g_mm"] = after_ ? Json(after_->unbalance.size.g_mm()) : Json(nullptr);
  json["measured_angle_deg"] = after_ ? Json(after_->unbalance.at.deg()) : Json(nullptr);
  json["measured_under_g_mm"] = after_ ? Json(under(*after_).g_mm()) : Json(nullptr);
  const Grade grade = after_ ? grade_of(answer, *after_) : Grade::none;
  json["grade_kept"] = grade == Grade::kept   ? Json(true)
                       : grade == Grade::over ? Json(false)
                                              : Json(nullptr);
  return json;
}

int Guided::go() {
  BalanceAnswer answer;
  auto ok = work(answer);
  for (const std::string& line : last_lines({runs_.coats(), trial_, told_, !ok.ok()}))
    context_.say(line);
  if (ok && !words_.svg.empty())
    ok = write_text_file(words_.svg, drawing(answer).file());
  Json json = to_json_of(answer);
  if (!ok) {
    json["fault"] = to_json(ok.fault());
    std::cerr << "whirler: " << to_text(ok.fault()) << '\n';
  }
  context_.answer(json);
  return ok ? kDone : exit_status(ok.fault().kind);
}

/// A run that was killed, or a job for another plate, may have left masses on.
void recall_masses(const Context& context, notebook::Notebook& notebook) {
  const auto newest = notebook.newest();
  if (!newest) // an empty notebook
    return;
  if (const auto coat = notebook.coat(*newest))
    for (const std::string& line : recall_lines(*coat))
      context.say(line);
}

} // namespace

int guided_balance(const GuidedWords& given, const Context& context) {
  GuidedWords words = given;
  if (const auto ok = Prompter(words.yes).can_ask(); !ok)
    return context.fail(ok.fault());
  FileLoader files(context);
  const auto plate = load_plate(files, words.plate);
  if (!files.ok())
    return files.fail();
  if (!plate)
    return context.fail(plate.fault());
  if (!plate->machine)
    return context.fail(
        {FaultKind::command_line, "--guided needs --machine", "", "name the machine's file"});
  if (const auto ok = check_yes(words.yes && !words.run.simulate, *plate->machine); !ok)
    return context.fail(ok.fault());
  if (const auto ok = check_tach(plate->machine->tach); !ok)
    return context.fail(ok.fault());
  const GuidedWishes wishes{words.speed, words.trial,  words.radius,
                            words.grade, words.places, words.limits};
  if (const auto ok = check_wishes(wishes, plate->machine->limits); !ok)
    return context.fail(ok.fault());
  if (const auto ok = words.svg.empty() ? Outcome(Done{}) : can_write(words.svg, "<?xml"); !ok)
    return context.fail(ok.fault());
  const auto speeds = dwells_of(*plate->machine, words.speed);
  if (!speeds)
    return context.fail(speeds.fault());
  if (words.trial)
    if (const auto ok = check_trial(*words.trial, *plate, speeds->back()); !ok)
      return context.fail(ok.fault());
  words.run.profile = kBalanceProfile;
  words.run.profile_text = dwell_profile(*speeds, plate->machine->limits.ramp);
  auto run = load_run(files, words.run);
  if (!run)
    return files.fail();
  if (!*run)
    return context.fail(run->fault());
  if (const auto ok = settle(words.run, **run); !ok)
    return context.fail(ok.fault());
  for (const auto& caution : (**run).cautions)
    context.say("caution: " + caution);
  auto notebook = open_notebook(context);
  if (!notebook)
    return context.fail(notebook.fault());
  recall_masses(context, *notebook);
  GuidedRuns runs(context, words.run, **run, std::move(*notebook), *speeds);
  return Guided(words, context, *plate, std::move(runs)).go();
}

} // namespace whirler::cli
