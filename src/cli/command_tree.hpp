// The commands and their options as plain data, read off the definitions that the parser itself
// works by: completions and manual pages made from it cannot drift from what is accepted.
#pragma once

#include <CLI/CLI.hpp>

#include <string>
#include <vector>

namespace whirler::cli {

struct OptionWords {
  std::vector<std::string> names; ///< "-h", "--help"; empty for a positional
  std::string place;              ///< a positional's name; empty for the others
  std::string value;              ///< "QUANTITY"; empty for a flag
  std::string help;
  std::vector<std::string> choices; ///< where only certain words are taken
  bool required = false;
  bool repeats = false;

  /// Whether its value may be the name of a file or folder.
  [[nodiscard]] bool takes_file() const;
};

struct CommandWords {
  std::string name;
  std::string help;
  std::string footer; ///< examples, and what else --help ends in
  std::vector<OptionWords> options;
};

/// The program itself, with the options that stand before any command.
[[nodiscard]] CommandWords words_of(const CLI::App& command);
/// Its commands, in the order of --help.
[[nodiscard]] std::vector<CommandWords> commands_of(const CLI::App& program);

} // namespace whirler::cli
