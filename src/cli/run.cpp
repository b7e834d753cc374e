// whirler run: a profile on a machine, from the files to the record.
#include "commands.hpp"

#include "run_order.hpp"
#include "run_view.hpp"
#include "whirler/drive/simulated_drive.hpp"
#include "whirler/notebook/notebook.hpp"
#include "whirler/plant/setup.hpp"
#include "whirler/session/notebook_record.hpp"

#include <chrono>
#include <csignal>
#include <iostream>
#include <memory>
#include <random>
#include <unistd.h>

namespace whirler::cli {
namespace {

constexpr const char* kExamples = R"(Examples:
  whirler run profiles/thin.json --machine profiles/machines/bench_simulated.json --speed-up 10
  whirler run profiles/thin.json --machine my_bench.json --blank my_board.json
  whirler run profiles/thin.json --machine profiles/machines/no_lid.json --simulate --lid-closed

Ctrl-C runs the stop ramp; a second one commands the motor off. Neither is an emergency stop:
that is the hardware switch in the motor's supply.
A driver that says nothing is given up after 5 s (--patience).)";

/// Where there is no lid switch, a person's word stands in for it.
bool person_says_yes() {
  if (isatty(STDIN_FILENO) == 0)
    return false;
  std::cerr << "No lid switch. Stand clear, lid shut, then type yes: " << std::flush;
  std::string answer;
  return std::getline(std::cin, answer) && answer == "yes";
}

/// Tells one greeting, and one start, from those before it.
std::uint32_t fresh_number() { return std::random_device{}(); }

notebook::Instant wall_clock() {
  using namespace std::chrono;
  return {duration_cast<std::chrono::milliseconds>(system_clock::now().time_since_epoch()).count()};
}

/// What the notebook keeps of a run from before its start.
notebook::CoatStart coat_start(const LoadedRun& run, const RunWords& words,
                               const drive::Identity& identity) {
  notebook::CoatStart start;
  start.started = wall_clock();
  start.board = words.board;
  start.side = words.side;
  start.profile = run.order.plan.profile.name;
  start.machine = run.order.plan.machine.name;
  start.resist = run.resist_name;
  start.blank = run.blank_name;
  start.simulated = words.simulate;
  start.driver = identity.facts.name + " " + identity.version;
  start.tick = identity.tick;
  start.marks_per_turn = identity.facts.marks_per_turn;
  for (const auto& text : run.texts)
    start.files.push_back({text.kind, text.path, text.text});
  start.cautions = run.cautions;
  start.cautions.insert(start.cautions.end(), identity.cautions.begin(), identity.cautions.end());
  return start;
}

session::Closing closing(const session::Summary& summary) {
  session::RunResult result;
  result.summary = summary;
  return {summary.jitter ? std::string(tach::word(summary.jitter->verdict)) : "",
          run_json(result).dump()};
}

/// The whole of a run, from its words to its exit status.
class RunCommand {
 public:
  RunCommand(const Context& context, const RunWords& words) : context_(context), words_(words) {}

  int run() {
    // A reader that goes away must not end this program while the motor turns.
    std::signal(SIGPIPE, SIG_IGN);
    FileLoader files(context_);
    auto read = load_run(files, words_);
    if (!read)
      return files.fail();
    if (!*read)
      return context_.fail(read->fault());
    LoadedRun& run = **read;
    words_.simulate =
        words_.simulate || run.order.plan.machine.drive.type == machine::DriveType::simulated;
    if (const auto wrong = contradiction(run))
      return context_.fail(*wrong);
    for (const auto& caution : run.cautions)
      context_.say("caution: " + caution);
    if (run.order.plan.machine.lid == machine::Lid::none && !run.order.plan.lid_confirmed)
      run.order.plan.lid_confirmed = person_says_yes();
    auto notebook = open_notebook();
    if (!notebook)
      return context_.fail(notebook.fault());
    return words_.simulate ? on_simulation(run, *notebook)
                           : on_port(run, *notebook, run.order.plan.machine.drive.port);
  }

 private:
  [[nodiscard]] std::optional<Fault> contradiction(const LoadedRun& run) const {
    if (words_.patience <= seconds(0))
      return Fault{FaultKind::command_line, "--patience is not above 0", "", "give it as 5s"};
    if (!words_.simulate && (words_.speed_up != 1.0 || !words_.faults.empty()))
      return Fault{FaultKind::command_line, "--speed-up and --fault are for a simulation", "",
                   "add --simulate, or leave them out"};
    if (!words_.simulate && run.order.plan.machine.drive.type == machine::DriveType::modbus)
      return input_fault("this program does not run Modbus drives yet", words_.machine,
                         "use a driver of type \"link\", or --simulate");
    return std::nullopt;
  }

  [[nodiscard]] Result<notebook::Notebook> open_notebook() const {
    if (!context_.notebook.empty())
      return notebook::Notebook::open(context_.notebook);
    const auto path = notebook::default_path();
    if (!path)
      return path.fault();
    return notebook::Notebook::open(*path);
  }

  int on_simulation(LoadedRun& run, notebook::Notebook& notebook) {
    plant::Unknowns unknowns;
    unknowns.seed = words_.seed;
    auto setup = plant::make_setup(run.order.plan.machine, run.blank, unknowns);
    if (!setup)
      return context_.fail(setup.fault());
    for (const auto& text : words_.faults) {
      const auto fault = plant::parse_fault(text);
      if (!fault)
        return context_.fail(fault.fault());
      setup->faults.push_back(*fault);
    }
    drive::SimulationOptions options;
    options.setup = *setup;
    options.speed_up = words_.speed_up;
    auto spinner = drive::SimulatedDrive::start(std::move(options));
    if (!spinner)
      return context_.fail(spinner.fault());
    return on_port(run, notebook, spinner->port());
  }

  int on_port(const LoadedRun& run, notebook::Notebook& notebook, const std::string& path) {
    RunView view(context_);
    const auto result =
        session::execute_on_port(path, run.order.plan.machine.drive.baud, fresh_number(), run.order,
                                 open_record(run, notebook), view.observer());
    view.close();
    return finish(result);
  }

  session::OpenRecord open_record(const LoadedRun& run, notebook::Notebook& notebook) const {
    return [&run, &notebook,
            this](const drive::Identity& identity) -> Result<std::unique_ptr<session::Record>> {
      auto writer = notebook.begin_coat(coat_start(run, words_, identity));
      if (!writer)
        return writer.fault();
      return std::unique_ptr<session::Record>(
          std::make_unique<session::NotebookRecord>(std::move(*writer), closing));
    };
  }

  int finish(const session::RunResult& result) const {
    for (const auto& fault : result.faults)
      std::cerr << "whirler: " << to_text(fault) << '\n';
    for (const auto& line : run_lines(result))
      context_.say(line);
    context_.answer(run_json(result));
    return run_status(result);
  }

  const Context& context_;
  RunWords words_;
};

} // namespace

void add_run(CLI::App& program, Context& context) {
  auto words = std::make_shared<RunWords>();
  auto* command = program.add_subcommand("run", "Run a spin profile on a machine");
  command->add_option("profile", words->profile, "The spin profile's file")->required();
  command->add_option("--machine", words->machine, "The machine's file")->required();
  command->add_option("--resist", words->resist, "The resist's file, kept with the record");
  command->add_option("--blank", words->blank, "The plate's file: inertia, drag, grade");
  command->add_option("--board", words->board, "The board's own mark or number, for the record");
  command->add_option("--side", words->side, "Which side of the plate, for the record");
  command->add_flag("--simulate", words->simulate, "On the simulated spinner, no hardware");
  command->add_flag("--lid-closed", words->lid_closed,
                    "You have seen that the lid is shut (machines without a lid switch)");
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
  command->footer(kExamples);
  command->callback([words, &context] {
    context.work = [words, &context] { return RunCommand(context, *words).run(); };
  });
}

} // namespace whirler::cli
