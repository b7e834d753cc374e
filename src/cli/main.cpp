#include "commands.hpp"

#include <array>
#include <cstdlib>
#include <exception>
#include <iostream>

namespace whirler::cli {
namespace {

/// In the order in which --help shows them.
constexpr auto kCommands = std::to_array<void (*)(CLI::App&, Context&)>({
    add_speed,
    add_calibrate,
    add_exposure,
    add_run,
    add_blank,
    add_balance,
    add_check,
    add_simulate,
});

void add_common_options(CLI::App& program, Context& context) {
  program.set_version_flag("--version", "whirler " WHIRLER_VERSION);
  program.require_subcommand(1);
  if (const char* named = std::getenv("WHIRLER_NOTEBOOK"))
    context.notebook = named;
  for (CLI::App* command : program.get_subcommands({})) {
    command->add_flag("--json", context.json, "One JSON document on stdout; text on stderr");
    command->add_option("--notebook", context.notebook, "The notebook file (WHIRLER_NOTEBOOK)");
  }
}

int run_program(int argc, char** argv) {
  CLI::App program{"Runs a plate whirler, and says what film it leaves and why it shakes.",
                   "whirler"};
  Context context;
  for (const auto add : kCommands)
    add(program, context);
  add_common_options(program, context);
  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return program.exit(error) == 0 ? kDone : kCommandLine;
  }
  return context.work();
}

} // namespace
} // namespace whirler::cli

int main(int argc, char** argv) {
  try {
    return whirler::cli::run_program(argc, argv);
  } catch (const std::exception& error) {
    std::cerr << "whirler: a fault of the program: " << error.what()
              << "; please report it with the command that you gave\n";
    return whirler::cli::kProgramFault;
  }
}
