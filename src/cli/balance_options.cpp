// `whirler balance`: what a grade allows, and which mass goes where.
#include "balance_words.hpp"
#include "commands.hpp"

#include <memory>

namespace whirler::cli {
namespace {

void add_readings(CLI::App& command, BalanceWords& t) {
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

void add_places(CLI::App& command, BalanceWords& t) {
  add_quantity<Length>(command, "--radius", t.radius,
                       "Radius of the correction (else that of the trial mass)");
  command.add_option("--holes", t.holes, "Holes round the hub: share the correction out")
      ->type_name("COUNT[@ANGLE]@RADIUS");
  command.add_option("--without", t.without, "With --holes: a hole that is taken; may be repeated")
      ->type_name("ANGLE")
      ->allow_extra_args(false);
  add_quantity<Mass>(command, "--largest", t.largest, "With --holes: most mass that a hole takes");
  add_quantity<Mass>(command, "--step", t.step, "With --holes: masses come in multiples of this");
}

void add_guided(CLI::App& command, BalanceWords& t) {
  command.add_flag("--guided", t.guided, "Step by step on the machine, each run in the notebook");
  command.add_flag("--yes", t.guide.yes,
                   "Guided, on the simulated spinner: answer every question with its proposal");
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

constexpr auto kBalanceExamples =
    R"(Angles of masses and of phases: from the index mark, with the rotation.

Examples:
  whirler balance --grade 6.3 --speed 3000rpm --mass 320g
  whirler balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm --holes 12@25mm --step 0.1g
  whirler balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@30mm --holes 8@25mm --without 0deg
  whirler balance --amplitudes 8,11.05,3.82,15.09 --trial 4.5g@30mm
  whirler balance --guided --machine profiles/machines/bench_simulated.json --speed-up 20
        --blank profiles/blanks/rain_gauge_misdrilled.json --radius 25mm --speed 1500rpm --yes
Guided, it asks before every run; --yes answers each question with its proposal. Each run's coat
keeps which masses were on and what came of it: whirler show N.)";

} // namespace

void add_balance(CLI::App& program, Context& context) {
  CLI::App& command = *program.add_subcommand(
      "balance", "What a balance grade allows, and which mass to put where");
  const auto typed = std::make_shared<BalanceWords>();
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
  command.footer(kBalanceExamples);
  command.callback([typed, &context] {
    context.work = [typed, &context] { return balance_command(*typed, context); };
  });
}

} // namespace whirler::cli
