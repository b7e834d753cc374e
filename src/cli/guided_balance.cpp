#include "guided_balance.hpp"

#include "dwell_reading.hpp"
#include "guided_plan.hpp"
#include "placed_values.hpp"
#include "prompter.hpp"
#include "run_view.hpp"
#include "whirler/balance/pattern_free.hpp"
#include "whirler/balance/tolerance.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iostream>

namespace whirler::cli {
namespace {

using balance::PlacedMass;
using balance::Reading;

constexpr int kMostTrips = 3; ///< runs with a correction on
/// How well a bench repeats itself, beside the noise of its pulses [common practice, no source].
constexpr double kRepeat_mrad = 0.02;

/// A run's reading at one dwell, mrad, in the convention of masses.
struct DwellReading {
  Reading reading;
  double sigma = 0.0; ///< of either component
};
using RunReadings = std::vector<DwellReading>; ///< one a dwell

class Guided {
 public:
  Guided(const GuidedWords& words, const Context& context, Plate plate, LoadedRun run,
         notebook::Notebook notebook, std::vector<Speed> speeds)
      : words_(words), context_(context), plate_(std::move(plate)), run_(std::move(run)),
        notebook_(std::move(notebook)), prompter_(words.yes), speeds_(std::move(speeds)) {}

  int go();

 private:
  [[nodiscard]] Result<RunReadings> measure(const std::string& what);
  [[nodiscard]] Result<RunReadings> read(const notebook::Coat& coat) const;
  [[nodiscard]] Outcome press_enter(const std::string& before) const;
  [[nodiscard]] Result<PlacedMass> ask_trial(const PlacedMass& proposed) const;
  [[nodiscard]] Result<RunReadings> try_trial(PlacedMass& trial);
  [[nodiscard]] Result<balance::PatternFree>
  find(const RunReadings& before, const RunReadings& with_trial, const PlacedMass& trial) const;
  [[nodiscard]] Result<BalanceAnswer> first_answer() const;
  [[nodiscard]] Outcome try_corrections(BalanceAnswer& answer);
  [[nodiscard]] Outcome next_correction(BalanceAnswer& answer) const;
  [[nodiscard]] std::complex<double> on_kg_m() const;
  [[nodiscard]] std::vector<PlacedMass> masses_of(const BalanceAnswer& answer) const;
  void say_after(const BalanceAnswer& answer) const;
  [[nodiscard]] Outcome work(BalanceAnswer& answer);

  const GuidedWords& words_;
  const Context& context_;
  Plate plate_;
  LoadedRun run_;
  notebook::Notebook notebook_;
  Prompter prompter_;
  std::vector<Speed> speeds_; ///< of the dwells, rising
  std::optional<balance::PatternFree> found_;
  std::vector<PlacedMass> on_;                    ///< masses that were put on the rotor
  bool too_much_ = false;                         ///< the last run was stopped for its unbalance
  std::vector<std::int64_t> coats_;               ///< the runs, in the notebook
  std::optional<balance::PlacedUnbalance> after_; ///< measured with the last correction on
};

Outcome Guided::press_enter(const std::string& before) const {
  const auto answer = prompter_.choose({before + " Enter runs, q ends", "", {}}, "");
  return answer ? Outcome(Done{}) : answer.fault();
}

Result<RunReadings> Guided::measure(const std::string& what) {
  RunWords words = words_.run;
  words.side = what;
  plant::Unknowns unknowns;
  unknowns.seed = words.seed;
  const auto hub = balance::from_kg_m(
      balance::to_kg_m(balance::PlacedUnbalance{unknowns.hub_unbalance, unknowns.hub_heavy_side}) +
      on_kg_m());
  unknowns.hub_unbalance = hub.size;
  unknowns.hub_heavy_side = hub.at;
  run_.order.plan.lid_confirmed = words.lid_closed; // asked anew for each run
  ask_for_lid(run_);
  const auto result = perform(context_, run_, words, notebook_, unknowns);
  if (!result)
    return result.fault();
  tell(context_, *result);
  if (result->coat)
    coats_.push_back(*result->coat);
  too_much_ = result->summary && result->summary->ending == run::Ending::imbalance;
  if (run_status(*result) != kDone) {
    const std::string why =
        result->faults.empty() ? "the run ended early" : result->faults.front().what;
    return Fault{result->faults.empty() ? FaultKind::ended_early : result->faults.front().kind, why,
                 what, "put right what it says, and start the balancing again"};
  }
  const auto coat = notebook_.coat(coats_.back());
  if (!coat)
    return coat.fault();
  return read(*coat);
}

Result<RunReadings> Guided::read(const notebook::Coat& coat) const {
  RunReadings readings;
  for (const Speed speed : speeds_) {
    const auto dwell = dwell_reading(coat.pulses, coat.start.marks_per_turn, speed);
    if (!dwell)
      return dwell.fault();
    const tach::OnceVector v = dwell->vector;
    readings.push_back({balance::from_lateness({v.re.mrad(), v.im.mrad()}),
                        std::hypot(1e3 * std::sqrt(dwell->covariance.largest()), kRepeat_mrad)});
  }
  return readings;
}

Result<PlacedMass> Guided::ask_trial(const PlacedMass& proposed) const {
  context_.say("Wait for standstill, then put the trial mass on (angle from the index mark, with "
               "the rotation). Fix it so that it cannot fly off.");
  const std::string usual = typed_form(proposed);
  const auto answer = prompter_.ask(
      {"TRIAL MASS. Type what you put on, Enter for " + usual + ", q ends", usual, {}},
      [](const std::string& typed) -> std::optional<std::string> {
        const auto mass = parse_trial(typed);
        return mass ? std::nullopt : std::optional(to_text(mass.fault()));
      });
  if (!answer)
    return answer.fault();
  return *answer == usual ? Result<PlacedMass>(proposed) : parse_trial(*answer);
}

Result<balance::PatternFree> Guided::find(const RunReadings& before, const RunReadings& with_trial,
                                          const PlacedMass& trial) const {
  std::vector<balance::SpeedPair> pairs;
  for (std::size_t k = 0; k < speeds_.size(); ++k)
    pairs.push_back({speeds_[k], before[k].reading, with_trial[k].reading,
                     std::max(before[k].sigma, with_trial[k].sigma)});
  return balance::correct_free_of_pattern(pairs, trial, words_.radius.value_or(trial.radius));
}

Result<BalanceAnswer> Guided::first_answer() const {
  BalanceAnswer answer;
  answer.plate = plate_;
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
  if (const auto ok = share_out(answer, words_.places, words_.limits); !ok)
    return ok.fault();
  const auto cures = cures_of(answer);
  if (!cures)
    return cures.fault();
  answer.cures = *cures;
  return answer;
}

std::vector<PlacedMass> Guided::masses_of(const BalanceAnswer& answer) const {
  return answer.shares ? answer.shares->masses : std::vector<PlacedMass>{answer.found->to_add};
}

std::complex<double> Guided::on_kg_m() const {
  std::complex<double> sum;
  for (const PlacedMass& mass : on_)
    sum += balance::to_kg_m(mass);
  return sum;
}

void Guided::say_after(const BalanceAnswer& answer) const {
  std::string line = "Measured with it on: " + number_text(after_->size.g_mm()) +
                     " g mm, heavy side at " + number_text(after_->at.deg()) + " deg";
  if (answer.allowed)
    line += std::string(after_->size <= answer.allowed->unbalance ? ": the grade is kept"
                                                                  : ": over the grade") +
            " at " + number_text(answer.allowed->speed.rpm(), 4) + " rpm";
  context_.say(line);
}

/// What is left becomes the next correction, on top of what is on; the influence is known.
Outcome Guided::next_correction(BalanceAnswer& answer) const {
  const Length radius = answer.found->to_add.radius;
  answer.found->to_add = {kilograms(after_->size.kg_m() / radius.m()),
                          balance::wrapped(after_->at + turns(0.5)), radius};
  if (const auto ok = share_out(answer, words_.places, words_.limits); !ok)
    return ok;
  for (const PlacedMass& mass : masses_of(answer))
    context_.say("Add, beside what is on: " + typed_form(mass));
  return Done{};
}

Outcome Guided::try_corrections(BalanceAnswer& answer) {
  for (int trip = 1; trip <= kMostTrips && !masses_of(answer).empty(); ++trip) {
    if (const auto ok = press_enter("RUN " + std::to_string(coats_.size() + 1) +
                                    ": the correction on, the trial mass off, lid shut.");
        !ok)
      return ok;
    const auto added = masses_of(answer);
    on_.insert(on_.end(), added.begin(), added.end());
    const auto measured = measure("correction " + std::to_string(trip));
    if (!measured)
      return measured.fault();
    std::vector<Reading> readings;
    for (const DwellReading& dwell : *measured)
      readings.push_back(dwell.reading);
    const auto left = balance::unbalance_now(*found_, readings);
    if (!left)
      return left.fault();
    after_ = *left;
    say_after(answer);
    if (trip == kMostTrips || !answer.allowed || after_->size <= answer.allowed->unbalance)
      return Done{};
    if (const auto ok = next_correction(answer); !ok)
      return ok;
  }
  return Done{};
}

/// The run with a trial mass; once more with it on the other side where it made the plate worse.
Result<RunReadings> Guided::try_trial(PlacedMass& trial) {
  for (int tries = 1;; ++tries) {
    const auto put_on = ask_trial(trial);
    if (!put_on)
      return put_on.fault();
    trial = *put_on;
    if (const auto ok = press_enter("RUN " + std::to_string(coats_.size() + 1) +
                                    ": the trial mass on, lid shut.");
        !ok)
      return ok.fault();
    on_ = {trial};
    auto with_trial = measure("trial " + typed_form(trial));
    on_.clear();
    if (with_trial || !too_much_ || tries == 2)
      return with_trial;
    trial.at = balance::wrapped(trial.at + turns(0.5));
    context_.say("There it makes the plate worse: it goes to the other side.");
  }
}

Outcome Guided::work(BalanceAnswer& answer) {
  if (const auto ok = press_enter("RUN 1: the plate as it is, screw tight, lid shut."); !ok)
    return ok;
  const auto before = measure("as it is");
  if (!before)
    return before.fault();
  const Length radius = words_.radius.value_or(plate_.machine->tach.mark_radius);
  PlacedMass trial = words_.trial.value_or(proposed_trial(plate_, radius, speeds_.back()));
  const auto with_trial = try_trial(trial);
  if (!with_trial)
    return with_trial.fault();
  const auto found = find(*before, *with_trial, trial);
  if (!found)
    return found.fault();
  found_ = *found;
  const auto first = first_answer();
  if (!first)
    return first.fault();
  answer = *first;
  for (const std::string& line : words(answer))
    context_.say(line);
  if (!answer.found->correction.shown || keeps_already(answer))
    return Done{}; // no mass is needed, or none would better what cannot be seen
  return try_corrections(answer);
}

int Guided::go() {
  BalanceAnswer answer;
  const auto ok = work(answer);
  Json json = to_json(answer);
  if (after_) {
    const Length radius = answer.found->to_add.radius;
    const auto sum = balance::from_kg_m(on_kg_m());
    json["correction"] =
        to_json(PlacedMass{kilograms(sum.size.kg_m() / radius.m()), sum.at, radius});
    json["masses"] = Json::array();
    for (const PlacedMass& mass : on_)
      json["masses"].push_back(to_json(mass));
  }
  json["runs"] = coats_;
  json["measured_g_mm"] = after_ ? Json(after_->size.g_mm()) : Json(nullptr);
  json["measured_angle_deg"] = after_ ? Json(after_->at.deg()) : Json(nullptr);
  if (!ok) {
    json["fault"] = to_json(ok.fault());
    std::cerr << "whirler: " << to_text(ok.fault()) << '\n';
  }
  context_.answer(json);
  return ok ? kDone : exit_status(ok.fault().kind);
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
  if (const auto ok = check_tach(plate->machine->tach); !ok)
    return context.fail(ok.fault());
  const GuidedWishes wishes{words.speed, words.trial,  words.radius,
                            words.grade, words.places, words.limits};
  if (const auto ok = check_wishes(wishes, plate->machine->limits); !ok)
    return context.fail(ok.fault());
  const auto speeds = dwells_of(*plate->machine, words.speed);
  if (!speeds)
    return context.fail(speeds.fault());
  words.run.profile = "balancing";
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
  return Guided(words, context, *plate, **run, std::move(*notebook), *speeds).go();
}

} // namespace whirler::cli
