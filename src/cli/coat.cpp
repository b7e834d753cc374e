// whirler coat: both sides of a board, guided, from the bare plate to the lamp.
#include "commands.hpp"

#include "coat_job.hpp"
#include "parsed_option.hpp"

#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kCoatExamples = R"(Examples:
  whirler coat profiles/boards/soil_probe.json --speed-up 20
  whirler coat profiles/boards/soil_probe.json --speed-up 20 --yes --recoat "pad side"
  whirler coat --board "soil probe 8" --target 2.4um --resist profiles/resists/amber.json
        --blank profiles/blanks/soil_probe.json
        --machine profiles/machines/bench_simulated.json --speed-up 20 --yes --no-weighing

At every question: Enter for the usual answer, q or Ctrl-C ends the work; what was run is kept.
--yes answers with Enter; of a film that an earlier go left on a side, that says the side is bare.
Ctrl-C while it turns runs the stop ramp; it is not an emergency stop.)";

void add_board(CLI::App& command, CoatWords& words) {
  files::Board& given = words.board.given;
  command.add_option("BOARD", words.board.file, "The board's file; or name all of it by flags");
  command.add_option("--board", given.name, "The board's own mark or number");
  command.add_option("--resist", given.resist, "The resist's file");
  command.add_option("--blank", given.blank, "The plate's file");
  command.add_option("--machine", given.machine, "The machine's file");
  add_quantity<Length>(command, "--target", given.target, "Dry film wanted, as 2.4um");
  command.add_option("--profile", given.profile, "Or the spin itself");
  add_quantity<Duration>(command, "--dwell", given.dwell, "Time at speed (worked out)");
  add_quantity<Irradiance>(command, "--lamp", given.lamp, "At the plate, as 8mW/cm2");
  command
      .add_option_function<std::vector<std::string>>(
          "--side",
          [&words](const std::vector<std::string>& names) {
            words.board.given.sides = names;
            words.board.sides_given = true;
          },
          "A side's name; given twice for both")
      ->allow_extra_args(false);
}

/// Of films that an earlier go of the work left on the plate.
template <class AddSide>
void add_answers_of_films(const AddSide& side, CoatWords& words) {
  side("--keep-film", words.keep_film, "Leave this side's film from before as it is");
  side("--over-film", words.over_film, "Pour over this side's film from before");
  side("--washed-off", words.washed_off,
       "That film was washed off; or that of a side cancelled after its run");
  side("--weighed-with", words.weighed_with,
       "That film was on the plate when it was weighed before");
  side("--weighed-without", words.weighed_without, "It was not");
}

void add_answers(CLI::App& command, CoatWords& words) {
  command.add_flag("--yes", words.yes,
                   "Answer every question with its proposal; a side that ends early ends the work");
  const auto text = [&](const char* name, std::optional<std::string>& into, const char* help) {
    command.add_option_function<std::string>(
        name, [&into](const std::string& typed) { into = typed; }, help);
  };
  text("--weighed-before", words.weighed_before, "Mass of the bare plate, as 24.310g");
  text("--weighed-after", words.weighed_after, "Mass of the coated, dry plate");
  command.add_flag("--no-weighing", words.no_weighing, "Do not ask for masses");
  const auto side = [&](const char* name, std::vector<std::string>& into, const char* help) {
    command.add_option(name, into, help)->allow_extra_args(false);
  };
  side("--recoat", words.recoat, "Pour again over this side; once for each time");
  side("--repeat", words.repeat, "Wash this side off after its run and start over; likewise");
  side("--cancel", words.cancel, "Do not coat this side");
  text("--after-early-end", words.after_early_end,
       "Once, when a run ends early: repeat (washed off), recoat, leave, or cancel (the side)");
  command.get_option("--after-early-end")
      ->check(CLI::IsMember({"repeat", "recoat", "leave", "cancel"}));
  add_answers_of_films(side, words);
  command.add_flag("--sure", words.sure,
                   "Keep the film by weight although it is outside the estimate's interval");
  command.add_flag("--calibrate", words.calibrate, "Teach the resist the film by weight");
  command.add_flag("--lid-closed", words.board.run.lid_closed,
                   "You have seen that the lid is shut (machines without a lid switch)");
}

void add_machine_options(CLI::App& command, CoatWords& words) {
  RunWords& run = words.board.run;
  command.add_flag("--simulate", run.simulate, "On the simulated spinner, no hardware");
  command.add_option("--speed-up", run.speed_up, "How much faster than life the simulation goes")
      ->check(CLI::Range(1.0, 100.0))
      ->capture_default_str();
  command.add_option("--seed", run.seed, "Of the simulation's chance");
  command.add_option("--fault", words.faults,
                     "Of the simulation, in the first run: lid@12s; in the second: 2:lid@9s");
  add_quantity<Duration>(command, "--patience", run.patience,
                         "How long a silent driver is waited for (5s)");
  add_room_options(command, run.room);
}

} // namespace

void add_coat(CLI::App& program, Context& context) {
  auto words = std::make_shared<CoatWords>();
  words->board.given.sides.clear();
  CLI::App* command =
      program.add_subcommand("coat", "Both sides of a board, guided")->footer(kCoatExamples);
  add_board(*command, *words);
  add_answers(*command, *words);
  add_machine_options(*command, *words);
  command->callback([words, &context] {
    context.work = [words, &context] { return coat_board(*words, context); };
  });
}

} // namespace whirler::cli
