// The commands, each in a file of its own. `add_x` declares the command's options on the program
// and, when the command is the one given, puts its work into the context.
#pragma once

#include "context.hpp"

namespace whirler::cli {

// Kept in alphabetical order; main.cpp lists them in the order in which --help shows them.
void add_balance(CLI::App& program, Context& context);
void add_blank(CLI::App& program, Context& context);
void add_calibrate(CLI::App& program, Context& context);
void add_check(CLI::App& program, Context& context);
void add_coat(CLI::App& program, Context& context);
void add_completion(CLI::App& program, Context& context);
void add_export(CLI::App& program, Context& context);
void add_exposure(CLI::App& program, Context& context);
void add_film(CLI::App& program, Context& context);
void add_import(CLI::App& program, Context& context);
void add_jitter(CLI::App& program, Context& context);
void add_log(CLI::App& program, Context& context);
void add_manual(CLI::App& program, Context& context);
void add_note(CLI::App& program, Context& context);
void add_prove(CLI::App& program, Context& context);
void add_report(CLI::App& program, Context& context);
void add_run(CLI::App& program, Context& context);
void add_show(CLI::App& program, Context& context);
void add_simulate(CLI::App& program, Context& context);
void add_speed(CLI::App& program, Context& context);

} // namespace whirler::cli
