// Manual pages in the language of man(7), read by every `man` there is.
#pragma once

#include "command_tree.hpp"

#include <span>
#include <string>

namespace whirler::cli {

/// The page of the program: whirler(1).
[[nodiscard]] std::string program_page(const CommandWords& program,
                                       std::span<const CommandWords> commands);
/// The page of one command: whirler-run(1).
[[nodiscard]] std::string command_page(const CommandWords& command);

} // namespace whirler::cli
