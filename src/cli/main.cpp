#include "commands.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace whirler::cli {
namespace {

/// In the order in which --help shows them.
constexpr auto kCommands = std::to_array<void (*)(CLI::App&, Context&)>({
    add_speed,  add_film,    add_calibrate, add_exposure, add_coat,       add_run,    add_jitter,
    add_blank,  add_balance, add_log,       add_show,     add_note,       add_export, add_import,
    add_report, add_check,   add_prove,     add_simulate, add_completion, add_manual,
});

void add_common_options(CLI::App& program, Context& context) {
  program.set_version_flag("--version", "whirler " WHIRLER_VERSION);
  program.require_subcommand(1);
  if (const char* named = std::getenv("WHIRLER_NOTEBOOK"))
    context.notebook = named;
  for (CLI::App* command : program.get_subcommands({})) {
    command->add_flag("--json", context.json, "One JSON document on stdout; text on stderr");
    command
        ->add_option("--notebook", context.notebook,
                     "The notebook's file, in a folder that is there (WHIRLER_NOTEBOOK; else "
                     "whirler/notebook.db in XDG_DATA_HOME or ~/.local/share)")
        ->check([](const std::string& name) { // else it would be the person's own, without a word
          return name.empty() ? "an empty name; name a file, or leave it out" : "";
        });
  }
}

/// CLI11's words in ours. "Could not convert: --marks = x" says what it tried to do, not what is
/// wrong; "--marks: Value 0 not in range 1 to 1024" is only of another voice.
std::string what_is_wrong(const CLI::ParseError& error) {
  std::string what = error.what();
  constexpr std::string_view kUnreadable = "Could not convert: ";
  if (what.starts_with(kUnreadable))
    what = "a value is not what it should be: " + what.substr(kUnreadable.size());
  constexpr std::string_view kOutside = ": Value ";
  if (const auto at = what.find(kOutside); at != std::string::npos)
    what.replace(at, kOutside.size(), ": ");
  return what;
}

/// The command that was named, for its own help; the program where none was.
std::string help_of(const CLI::App& program) {
  const auto named = program.get_subcommands();
  return "see whirler " + (named.empty() ? "" : named.front()->get_name() + " ") + "--help";
}

/// Words that make no command: what is wrong with them, and the JSON where it was asked for. The
/// words may be wrong before `--json` was reached: the caller has looked for it among all of them.
int refuse_words(const CLI::App& program, const CLI::ParseError& error, const Context& context) {
  if (error.get_exit_code() == 0) // --help and --version
    return program.exit(error);
  return context.fail(Fault{FaultKind::command_line, what_is_wrong(error), "", help_of(program)});
}

/// The first word, where it should be a command and is none.
std::optional<Fault> unknown_command(const CLI::App& program, std::span<char* const> words) {
  const auto is_option = [](std::string_view word) { return word.starts_with('-'); };
  const auto word = std::find_if_not(words.begin(), words.end(), is_option);
  if (word == words.end())
    return std::nullopt;
  std::string known;
  for (const CLI::App* command : program.get_subcommands({})) {
    if (command->check_name(*word))
      return std::nullopt;
    known += (known.empty() ? "" : ", ") + command->get_name();
  }
  return Fault{FaultKind::command_line, "'" + std::string(*word) + "' is no command", "",
               "there are " + known};
}

/// A descriptor that the caller closed would be given to the next file that is opened, and text for
/// people would then go into a notebook or down a serial line.
void hold_standard_streams() {
  for (const int stream : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
    if (fcntl(stream, F_GETFD) == -1 &&
        open("/dev/null", stream == STDIN_FILENO ? O_WRONLY : O_RDONLY) != stream)
      std::exit(kProgramFault);
}

/// What was said has to have arrived, or `done` would be a lie. A reader that went away early (a
/// closed pipe) has what it wanted.
int with_output_written(int status) {
  errno = 0;
  std::cout.flush();
  if (std::cout || errno == EPIPE || status != kDone)
    return status;
  std::cerr << "whirler: the answer could not be written; check the disk, or where it goes\n";
  return kProgramFault;
}

int run_program(int argc, char** argv) {
  const std::span<char* const> words(argv, static_cast<std::size_t>(argc));
  CLI::App program{"Runs a plate whirler, and says what film it leaves and why it shakes.",
                   "whirler"};
  Context context;
  for (const auto add : kCommands)
    add(program, context);
  add_common_options(program, context);
  context.json = std::find(words.begin(), words.end(), std::string_view("--json")) != words.end();
  if (const auto unknown = unknown_command(program, words.subspan(1)))
    return context.fail(*unknown);
  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return refuse_words(program, error, context);
  }
  return context.work();
}

} // namespace
} // namespace whirler::cli

int main(int argc, char** argv) {
  try {
    whirler::cli::hold_standard_streams();
    return whirler::cli::with_output_written(whirler::cli::run_program(argc, argv));
  } catch (const std::exception& error) {
    std::cerr << "whirler: a fault of the program: " << error.what()
              << "; please report it with the command that you gave\n";
    return whirler::cli::kProgramFault;
  }
}
