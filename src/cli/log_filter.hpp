// The words by which coats are chosen, the same for every command that goes through many.
#pragma once

#include "whirler/notebook/notebook.hpp"

#include <CLI/CLI.hpp>

#include <vector>

namespace whirler::cli {

/// Adds --resist --board --verdict --since --before --last; gives them back. `filter` has to live
/// as long as the command.
std::vector<CLI::Option*> add_filter_options(CLI::App& command, notebook::Filter& filter);

/// For an option that counts coats, or names one by its number.
CLI::Validator from_one();

} // namespace whirler::cli
