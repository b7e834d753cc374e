// whirler run: a profile on a machine, from the files to the record.
#include "commands.hpp"

#include "jitter_input.hpp"
#include "kept_baseline.hpp"
#include "run_film.hpp"
#include "run_job.hpp"
#include "run_view.hpp"

#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kRunExamples = R"(Examples:
  whirler run profiles/thin.json --machine profiles/machines/bench_simulated.json --speed-up 10
  whirler run profiles/thin.json --machine my_bench.json --blank my_board.json
  whirler run profiles/thin.json --machine profiles/machines/no_lid.json --simulate --lid-closed

Ctrl-C runs the stop ramp; a second one commands the motor off. Neither is an emergency stop:
that is the hardware switch in the motor's supply.
A driver that says nothing is given up after 5 s (--patience).)";

int run_command(const Context& context, RunWords words) {
  FileLoader files(context);
  auto read = load_run(files, words);
  if (!read)
    return files.fail();
  if (!*read)
    return context.fail(read->fault());
  LoadedRun& run = **read;
  if (const auto settled = settle(words, run); !settled)
    return context.fail(settled.fault());
  if (const auto known = check_faults(words.faults); !known)
    return context.fail(known.fault());
  if (!words.baseline.empty()) {
    const auto bare = load_baseline(files, context.notebook, words.baseline, words.machine);
    if (!bare)
      return files.fail();
    if (!*bare)
      return context.fail(bare->fault());
    if ((**bare).numbered && run.order.plan.machine.tach.index)
      run.order.baseline = (**bare).figure;
    else
      run.cautions.push_back("Without an index mark, here and in the baseline, the running watch "
                             "cannot lay it onto the marks of this run and watches without it; "
                             "whirler jitter uses it afterwards.");
    run.texts.push_back({kBaselineRole, (**bare).source, (**bare).table});
  }
  for (const auto& caution : run.cautions)
    context.say("caution: " + caution);
  ask_for_lid(run);
  auto notebook = open_notebook(context);
  if (!notebook)
    return context.fail(notebook.fault());
  const auto result = perform(context, run, words, *notebook);
  if (!result)
    return context.fail(result.fault());
  tell(context, *result);
  Json document = run_json(*result);
  document["film"] = nullptr;
  if (const auto film = film_of(*notebook, result->coat)) {
    context.say("  film " + film_text(film->film, film->course.is_set));
    document["film"] = film_json(film);
  }
  context.answer(document);
  return run_status(*result);
}

} // namespace

void add_run(CLI::App& program, Context& context) {
  auto words = std::make_shared<RunWords>();
  auto* command = program.add_subcommand("run", "Run a spin profile on a machine");
  command->add_option("profile", words->profile, "The spin profile's file")->required();
  command->add_option("--machine", words->machine, "The machine's file")->required();
  command->add_option("--resist", words->resist, "The resist's file, kept with the record");
  command->add_option("--blank", words->blank, "The plate's file: inertia, drag, grade");
  command->add_option("--baseline", words->baseline,
                      "The bare hub: a coat's number, or a table of its pulses");
  command->add_option("--board", words->board, "The board's own mark or number, for the record");
  command->add_option("--side", words->side, "Which side of the plate, for the record");
  command->add_flag("--simulate", words->simulate, "On the simulated spinner, no hardware");
  command->add_flag("--lid-closed", words->lid_closed,
                    "You have seen that the lid is shut (machines without a lid switch)");
  command->add_flag("--no-drive-timeout", words->no_drive_timeout,
                    "A Modbus drive without a time-out of its own: asks for a typed yes");
  command
      ->add_option("--speed-up", words->speed_up, "How much faster than life the simulation goes")
      ->check(CLI::Range(1.0, 100.0))
      ->capture_default_str();
  command->add_option("--seed", words->seed, "Of the simulation's chance");
  command->add_option("--fault", words->faults,
                      "A fault of the simulation, such as lid@12s (whirler simulate --help)");
  add_quantity<Duration>(*command, "--patience", words->patience,
                         "How long a silent driver is waited for (5s)");
  add_room_options(*command, words->room);
  command->footer(kRunExamples);
  command->callback([words, &context] {
    context.work = [words, &context] { return run_command(context, *words); };
  });
}

} // namespace whirler::cli
