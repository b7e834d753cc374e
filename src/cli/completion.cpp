// `whirler completion`: the shell's completion of this program, made from its own commands.
#include "completion_script.hpp"

#include "commands.hpp"

#include <iostream>
#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kCompletionExamples =
    "Installing the program puts these where the shells look. By hand:\n"
    "Examples:\n"
    "  whirler completion bash > ~/.local/share/bash-completion/completions/whirler\n"
    "  whirler completion zsh > ~/.zfunc/_whirler        (a folder of your fpath)\n"
    "  whirler completion fish > ~/.config/fish/completions/whirler.fish";

int print_completion(const Context& context, const CLI::App& program, const std::string& shell) {
  const CommandWords whole = words_of(program);
  const auto commands = commands_of(program);
  const std::string script = shell == "bash"  ? bash_completion(whole, commands)
                             : shell == "zsh" ? zsh_completion(whole, commands)
                                              : fish_completion(whole, commands);
  if (context.json)
    context.answer({{"shell", shell}, {"script", script}});
  else
    std::cout << script;
  return kDone;
}

} // namespace

void add_completion(CLI::App& program, Context& context) {
  auto shell = std::make_shared<std::string>();
  CLI::App* command =
      program.add_subcommand("completion", "The shell's completion of this program")
          ->footer(kCompletionExamples);
  command->add_option("SHELL", *shell, "bash, zsh or fish")
      ->required()
      ->check(CLI::IsMember({"bash", "zsh", "fish"}));
  command->callback([&context, &program, shell] {
    context.work = [&context, &program, shell] {
      return print_completion(context, program, *shell);
    };
  });
}

} // namespace whirler::cli
