#include "command_tree.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

/// "TEXT:{even,watch}" has its choices in braces.
std::vector<std::string> choices_in(const std::string& type) {
  const auto open = type.find('{');
  const auto close = type.find('}', open == std::string::npos ? 0 : open);
  std::vector<std::string> choices;
  if (open == std::string::npos || close == std::string::npos)
    return choices;
  for (std::size_t from = open + 1; from <= close;) {
    const std::size_t comma = std::min(type.find(',', from), close);
    choices.push_back(type.substr(from, comma - from));
    from = comma + 1;
  }
  return choices;
}

OptionWords option_words(const CLI::Option& option) {
  OptionWords words;
  for (const std::string& name : option.get_snames())
    words.names.push_back("-" + name);
  for (const std::string& name : option.get_lnames())
    words.names.push_back("--" + name);
  if (option.get_positional())
    words.place = option.get_name(true);
  words.help = option.get_description();
  words.required = option.get_required();
  if (option.get_type_size_max() > 0) {
    const std::string type = option.get_type_name();
    words.choices = choices_in(type);
    words.value = words.choices.empty() ? type.substr(0, type.find(':')) : "WORD";
    words.repeats = option.get_items_expected_max() > 1;
  }
  return words;
}

} // namespace

bool OptionWords::takes_file() const {
  return choices.empty() && (value == "TEXT" || value == "FILE" || value == "FOLDER");
}

CommandWords words_of(const CLI::App& command) {
  CommandWords words{command.get_name(), command.get_description(), command.get_footer(), {}};
  for (const CLI::Option* option : command.get_options({}))
    words.options.push_back(option_words(*option));
  return words;
}

std::vector<CommandWords> commands_of(const CLI::App& program) {
  std::vector<CommandWords> commands;
  for (const CLI::App* command : program.get_subcommands({}))
    commands.push_back(words_of(*command));
  return commands;
}

} // namespace whirler::cli
