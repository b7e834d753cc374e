// `whirler manual`: manual pages made from the commands' own definitions.
#include "manual_page.hpp"

#include "commands.hpp"
#include "write_file.hpp"

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kManualExamples =
    "Examples:\n"
    "  whirler manual run > whirler-run.1\n"
    "  whirler manual --folder man1      every page, a file each\n"
    "Installing the program installs the pages: man whirler-run";

struct ManualWords {
  std::string command;
  std::string folder;
};

int write_pages(const Context& context, const CLI::App& program, const std::string& folder) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (error)
    return context.fail(input_fault("the folder cannot be made (" + error.message() + ")", folder,
                                    "check its permissions, or name another"));
  const auto commands = commands_of(program);
  Json pages = Json::array();
  const auto write = [&](const std::string& name, const std::string& text) -> Outcome {
    const std::string path = (std::filesystem::path(folder) / (name + ".1")).string();
    pages.push_back(path);
    return write_text_file(path, text);
  };
  if (const Outcome wrote = write("whirler", program_page(words_of(program), commands)); !wrote)
    return context.fail(wrote.fault());
  for (const CommandWords& command : commands)
    if (const Outcome wrote = write("whirler-" + command.name, command_page(command)); !wrote)
      return context.fail(wrote.fault());
  context.say(std::to_string(pages.size()) + " pages written to " + folder);
  context.answer({{"pages", pages}});
  return kDone;
}

int print_page(const Context& context, const CLI::App& program, const ManualWords& words) {
  if (!words.folder.empty())
    return write_pages(context, program, words.folder);
  const auto commands = commands_of(program);
  std::string page;
  if (words.command.empty()) {
    page = program_page(words_of(program), commands);
  } else {
    const auto command =
        std::find_if(commands.begin(), commands.end(),
                     [&](const CommandWords& known) { return known.name == words.command; });
    if (command == commands.end())
      return context.fail({FaultKind::command_line, "'" + words.command + "' is no command", "",
                           "see whirler --help"});
    page = command_page(*command);
  }
  if (context.json)
    context.answer({{"page", page}});
  else
    std::cout << page;
  return kDone;
}

} // namespace

void add_manual(CLI::App& program, Context& context) {
  auto words = std::make_shared<ManualWords>();
  CLI::App* command =
      program.add_subcommand("manual", "Manual pages of this program")->footer(kManualExamples);
  CLI::Option* one =
      command->add_option("COMMAND", words->command, "Whose page; none: the program's")
          ->type_name("WORD");
  command->add_option("--folder", words->folder, "Every page, a file each, into this folder")
      ->type_name("FOLDER")
      ->excludes(one);
  command->callback([&context, &program, words] {
    context.work = [&context, &program, words] { return print_page(context, program, *words); };
  });
}

} // namespace whirler::cli
