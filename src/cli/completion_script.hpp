// Completions of the command line, a script a shell. They stand alone: the shells' own means are
// enough, and no package of completions has to be there.
#pragma once

#include "command_tree.hpp"

#include <span>
#include <string>

namespace whirler::cli {

[[nodiscard]] std::string bash_completion(const CommandWords& program,
                                          std::span<const CommandWords> commands);
[[nodiscard]] std::string zsh_completion(const CommandWords& program,
                                         std::span<const CommandWords> commands);
[[nodiscard]] std::string fish_completion(const CommandWords& program,
                                          std::span<const CommandWords> commands);

} // namespace whirler::cli
