#include "commands.hpp"
#include "load.hpp"
#include "whirler/drive/simulated_drive.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <ctime>
#include <iostream>
#include <memory>
#include <mutex>
#include <variant>

namespace whirler::cli {
namespace {

struct SimulateOptions {
  std::string machine;
  std::string blank;
  std::vector<std::string> faults;
  double speed_up = 1.0;
  std::uint64_t seed = 1;
  int tick_bits = 24;
  std::string link;
  std::optional<Duration> serves_for;
  bool resets_on_open = false;
};

std::string footer() {
  std::string text =
      "Examples:\n"
      "  whirler simulate                          a plain spinner; prints its port\n"
      "  whirler simulate --machine bench.json --blank board.json --link /tmp/spin\n"
      "  whirler simulate --fault lid@12s --fault corrupt=1e-3@0s --speed-up 20\n\n"
      "Faults are WORD[=VALUE]@TIME[+DURATION]. Times count from the first start of "
      "a\nprogram, in the spinner's time; @0s counts from switching on. The words:\n";
  for (const auto& fault : plant::fault_descriptions()) {
    std::string name(fault.name);
    if (!fault.value.empty())
      name += "=" + number_text(fault.usual);
    name.resize(std::max<std::size_t>(name.size() + 1, 16), ' ');
    text += "  " + name + std::string(fault.what) +
            (fault.value.empty() ? "" : " (" + std::string(fault.value) + ")") + "\n";
  }
  return text +
         "\nWith --speed-up S the spinner and its driver live S times as fast. Its dead-man still\n"
         "gives a host 250 ms of the wall's time: until then the spinner waits for a late one.";
}

/// The setup that the files and faults ask for; or the exit status of what was wrong, which has
/// been said.
std::variant<plant::Setup, int> set_up(const Context& context, const SimulateOptions& options) {
  FileLoader files(context);
  machine::Machine machine = plant::plain_machine();
  std::optional<blank::Blank> blank;
  if (!options.machine.empty())
    if (auto file = files.load<machine::Machine>(options.machine))
      machine = std::move(file->value);
  if (!options.blank.empty())
    if (auto file = files.load<blank::Blank>(options.blank))
      blank = std::move(file->value);
  if (!files.ok())
    return files.fail();
  plant::Unknowns unknowns;
  unknowns.seed = options.seed;
  unknowns.tick_bits = static_cast<std::uint8_t>(options.tick_bits);
  auto setup = plant::make_setup(machine, blank, unknowns);
  if (!setup)
    return context.fail(setup.fault());
  for (const std::string& text : options.faults) {
    const auto fault = plant::parse_fault(text);
    if (!fault)
      return context.fail(fault.fault());
    setup->faults.push_back(*fault);
  }
  return std::move(setup).value();
}

/// Signals that end the command. Blocked before any thread is made, so that all threads leave them
/// to `serve`.
sigset_t ending_signals() {
  sigset_t signals;
  sigemptyset(&signals);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP})
    sigaddset(&signals, signal);
  return signals;
}

/// Until a signal, or the time that was given.
void serve(const sigset_t& signals, const std::optional<Duration>& time) {
  int ended_by = 0;
  if (!time) {
    sigwait(&signals, &ended_by);
    return;
  }
  using WallClock = std::chrono::steady_clock;
  const auto end = WallClock::now() + std::chrono::duration<double>(time->s());
  while (WallClock::now() < end) {
    const std::chrono::duration<double> left = end - WallClock::now();
    const double whole = std::clamp(std::floor(left.count()), 0.0, 3600.0);
    const double rest = std::clamp(left.count() - whole, 0.001, 0.999);
    const timespec wait{static_cast<time_t>(whole), static_cast<long>(rest * 1e9)};
    if (sigtimedwait(&signals, nullptr, &wait) > 0)
      return;
  }
}

int simulate(const Context& context, const SimulateOptions& options) {
  if (options.serves_for && *options.serves_for <= seconds(0))
    return context.fail({FaultKind::command_line, "--for is not above 0", "", "give it as 60s"});
  auto set = set_up(context, options);
  if (const int* status = std::get_if<int>(&set))
    return *status;
  const sigset_t signals = ending_signals();
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  std::mutex one_line;
  drive::SimulationOptions simulation;
  simulation.setup = std::get<plant::Setup>(std::move(set));
  simulation.speed_up = options.speed_up;
  simulation.link = options.link;
  simulation.resets_on_open = options.resets_on_open;
  simulation.on_event = [&](const std::string& line) {
    const std::lock_guard lock(one_line);
    context.say(line);
    std::cout.flush();
  };
  const auto spinner = drive::SimulatedDrive::start(std::move(simulation));
  if (!spinner)
    return context.fail(spinner.fault());
  {
    const std::lock_guard lock(one_line);
    context.say("A simulated spinner listens at " + spinner->port());
    context.answer({{"port", spinner->port()}, {"link", options.link}});
    std::cout.flush();
  }
  serve(signals, options.serves_for);
  return kDone;
}

} // namespace

void add_simulate(CLI::App& program, Context& context) {
  auto options = std::make_shared<SimulateOptions>();
  CLI::App* command =
      program
          .add_subcommand("simulate", "A simulated spinner on a pseudo-terminal, faults on request")
          ->footer(footer());
  command->add_option("--machine", options->machine, "The machine to be (else a plain one)");
  command->add_option("--blank", options->blank, "The plate bolted on (else the bare hub)");
  command->add_option("--fault", options->faults, "What goes wrong, and when; may be repeated");
  command->add_option("--speed-up", options->speed_up, "How many times as fast as real, 1 to 100");
  command->add_option("--seed", options->seed, "Another seed: other marks, noise and wander");
  command
      ->add_option("--tick-bits", options->tick_bits, "Width of its 0.5 us pulse timer, 16 to 32")
      ->check(CLI::Range(16, 32));
  command->add_option("--link", options->link, "A symbolic link to make to the port");
  add_quantity<Duration>(*command, "--for", options->serves_for, "End after this time");
  command->add_flag("--resets-on-open", options->resets_on_open,
                    "Opening the port resets the driver, as on many boards");
  command->callback([&context, options] {
    context.work = [&context, options] { return simulate(context, *options); };
  });
}

} // namespace whirler::cli
