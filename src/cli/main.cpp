#include "commands.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <span>
#include <string_view>

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

/// Words that make no command: what CLI11 says of them, and the JSON where it was asked for. The
/// words may be wrong before `--json` was reached, so it is looked for among all of them.
int refuse_words(const CLI::App& program, const CLI::ParseError& error,
                 std::span<char* const> words, Context& context) {
  const int status = program.exit(error);
  if (status == 0) // --help and --version
    return kDone;
  context.json = std::find(words.begin(), words.end(), std::string_view("--json")) != words.end();
  context.answer(
      {{"fault", to_json({FaultKind::command_line, error.what(), "", "see whirler --help"})}});
  return kCommandLine;
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
    return refuse_words(program, error, {argv, static_cast<std::size_t>(argc)}, context);
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
