// One run on a machine or on its simulation, from an order to the record: what `run` does once and
// guided work does several times.
#pragma once

#include "run_order.hpp"
#include "run_view.hpp"
#include "whirler/notebook/notebook.hpp"
#include "whirler/plant/setup.hpp"

namespace whirler::cli {

/// The notebook that the command names, else the usual one. Faults: as Notebook::open.
[[nodiscard]] Result<notebook::Notebook> open_notebook(const Context& context);

/// Whether words and machine can go together; takes a simulated machine for `--simulate`.
/// Fault (command_line, input): else.
[[nodiscard]] Outcome settle(RunWords& words, const LoadedRun& run);

/// Whether the simulation has such faults. Fault (command_line): else.
[[nodiscard]] Outcome check_faults(const std::vector<std::string>& faults);

/// Where there is no lid switch, a person's word stands in for it: asked for at a terminal.
void ask_for_lid(LoadedRun& run);

/// Runs it, showing how it goes. Faults (input): a simulation that cannot be; all else is in the
/// result. `unknowns`: of the simulation, where it is one.
[[nodiscard]] Result<DoneRun> perform(const Context& context, const LoadedRun& run,
                                      const RunWords& words, notebook::Notebook& notebook,
                                      const plant::Unknowns& unknowns = {});

/// This computer's clock, for the notebook.
[[nodiscard]] notebook::Instant wall_clock();

/// Says how it ended.
void tell(const Context& context, const DoneRun& result);

} // namespace whirler::cli
